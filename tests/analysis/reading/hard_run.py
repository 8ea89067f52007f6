"""A short run down a strip with every quantity a log may hold, consistent with each other: what hard logs are made of.

Gearing, tire and road are those of no car: chosen by hand so that the run is plausible (2.9 s to 47 m/s, four shifts).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from passband.analysis.given.car import Car

RATIOS = (3.2, 2.2, 1.65, 1.3, 1.08)
FINAL_DRIVE, AROUND_M = 4.1, 2.1
IDLE_RPM, SHIFT_RPM = 1150.0, 8200.0
EARTH_M_PER_DEG = 111_195.0
"""A degree of latitude on a sphere of 6371 km."""
CAR = Car(name="hard logs", gear_ratios=RATIOS, final_drive=FINAL_DRIVE, tire_circumference=AROUND_M)

Cells = list[str]


@dataclass(frozen=True)
class HardRun:
    """The truth, one value a row, in SI (engine speed in rev/min)."""

    time_s: np.ndarray
    engine_speed: np.ndarray
    throttle: np.ndarray
    manifold_pressure: np.ndarray
    ground_speed: np.ndarray
    oil_pressure: np.ndarray
    fuel_pressure: np.ndarray
    coolant_temperature: np.ndarray
    oil_temperature: np.ndarray
    intake_temperature: np.ndarray
    exhaust_temperature: np.ndarray
    lambda_: np.ndarray
    gear: np.ndarray
    acceleration: np.ndarray
    distance_m: np.ndarray
    latitude: np.ndarray
    longitude: np.ndarray

    def of(self, channel: str) -> np.ndarray:
        """The truth of a channel of the catalogue."""
        held = {"lambda": self.lambda_, "gps_speed": self.ground_speed, "wheel_speed_driven": self.ground_speed}
        if channel == "boost":
            return self.manifold_pressure - 101.3e3
        return held[channel] if channel in held else np.asarray(getattr(self, channel))


def hard_run(*, rate_hz: float = 100.0, lasts_s: float = 12.0, seed: int = 3) -> HardRun:
    """Staged at idle for 2 s, then five gears at full throttle, then off the throttle for the last 1.5 s."""
    fine = 1000.0
    t = np.arange(int(lasts_s * fine)) / fine
    speed, rpm, gear = np.zeros(t.size), np.full(t.size, IDLE_RPM), np.zeros(t.size)
    at_gear, v, lift = 1, 0.0, lasts_s - 1.5
    for at in range(t.size):
        if t[at] < 2.0:
            continue
        going = t[at] < lift
        turns = v / AROUND_M * 60.0 * RATIOS[at_gear - 1] * FINAL_DRIVE
        if turns > SHIFT_RPM and at_gear < len(RATIOS) and going:
            at_gear += 1
        v += (min(11.0, 640.0 / max(v, 1.0)) - 0.0012 * v * v if going else -1.5 - 0.0012 * v * v) / fine
        speed[at], gear[at] = v, at_gear
        rpm[at] = max(turns, 5200.0 if going and at_gear == 1 else IDLE_RPM)
    full = ((t >= 2.0) & (t < lift)).astype(float)
    every = round(fine / rate_hz)
    smooth = np.convolve(np.pad(rpm, 20, mode="edge"), np.ones(41) / 41.0, mode="valid")[::every]
    noise = np.random.default_rng(seed)
    t, speed, gear, full = t[::every], speed[::every], gear[::every], full[::every]
    build = np.clip((t - 2.0) / 1.2, 0.0, 1.0) * full
    distance = np.cumsum(speed) / rate_hz
    n = t.size
    return HardRun(
        time_s=t,
        engine_speed=smooth + noise.normal(0.0, 6.0, n),
        throttle=0.012 + 0.98 * full,
        manifold_pressure=34e3 + (66e3 * full + 110e3 * build) + noise.normal(0.0, 400.0, n),
        ground_speed=speed,
        oil_pressure=180e3 + 45.0 * (smooth - IDLE_RPM) + noise.normal(0.0, 2e3, n),
        fuel_pressure=300e3 + 110e3 * build + noise.normal(0.0, 2e3, n),
        coolant_temperature=273.15 + 82.0 + 0.4 * np.maximum(t - 2.0, 0.0),
        oil_temperature=273.15 + 94.0 + 0.3 * np.maximum(t - 2.0, 0.0),
        intake_temperature=273.15 + 29.0 + 14.0 * build,
        exhaust_temperature=273.15 + 420.0 + 440.0 * np.clip((t - 2.0) / 6.0, 0.0, 1.0),
        lambda_=1.0 - 0.18 * full + noise.normal(0.0, 0.006, n),
        gear=gear,
        acceleration=np.gradient(speed, 1.0 / rate_hz),
        distance_m=distance,
        latitude=52.07 + distance / EARTH_M_PER_DEG,
        longitude=np.full(n, 13.4),
    )


def printed(values: np.ndarray, digits: int = 2, *, decimal: str = ".", grouped: str = "") -> Cells:
    """Numbers as a logger prints them."""
    cells = [f"{value:,.{digits}f}" if grouped else f"{value:.{digits}f}" for value in values]
    if grouped:
        return [cell.replace(",", "\0").replace(".", decimal).replace("\0", grouped) for cell in cells]
    return [cell.replace(".", decimal) for cell in cells] if decimal != "." else cells


def table(columns: Mapping[str, Cells], *, delimiter: str = ",") -> bytes:
    """A header and its rows."""
    rows = [delimiter.join(columns), *map(delimiter.join, zip(*columns.values(), strict=True))]
    return ("\n".join(rows) + "\n").encode()


def usual(run: HardRun, **others: Cells) -> dict[str, Cells]:
    """Columns that nothing is wrong with: engine speed, throttle, manifold pressure."""
    return {
        "Engine Speed [rpm]": printed(run.engine_speed, 0),
        "Throttle [%]": printed(100.0 * run.throttle, 1),
        "MAP [kPa]": printed(run.manifold_pressure / 1e3, 1),
        **others,
    }


Make = Callable[[HardRun], dict[str, Cells]]
