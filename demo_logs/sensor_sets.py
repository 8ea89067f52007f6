"""Which sensors a car carries and what its logs call them; how good they are is drawn from `sensor_ranges`.

Public: `make_sensor`, `ecu_sensors`, `dash_sensors`, `gps_sensors`, `HEADERS`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from passband.demo_logs.loggers import Sensor
from passband.demo_logs.sensor_ranges import USUAL, SensorRange, range_of

COPY_HZ = 20.0
"""A held copy of engine speed comes so often, where its range says nothing. [Hz]"""

HEADERS: dict[str, tuple[str, ...]] = {
    "rpm": ("Engine Speed", "RPM", "Engine RPM", "Eng Speed"),
    "tps": ("Throttle", "TPS", "Throttle Position", "Throttle Pos"),
    "map": ("MAP", "Manifold Pressure", "Intake Manifold Pressure", "Manifold Press"),
    "boost": ("Boost", "Boost Pressure"),
    "lam": ("Lambda 1", "Lambda", "Lambda Bank 1"),
    "fuelp": ("Fuel Pressure", "Fuel Press"),
    "oilp": ("Oil Pressure", "Oil Press", "Engine Oil Pressure"),
    "oilt": ("Oil Temp", "Oil Temperature"),
    "clt": ("Coolant Temp", "Coolant Temperature", "Water Temp", "Engine Coolant Temp"),
    "iat": ("Intake Air Temp", "Air Temp", "IAT"),
    "egt": ("EGT", "Exhaust Temp"),
    "ign": ("Ignition Timing", "Ign Advance", "Ignition Angle"),
    "duty": ("Injector Duty", "Inj Duty Cycle"),
    "batt": ("Battery", "Battery Voltage"),
    "cut": ("Shift Cut", "Shift Cut Active"),
    "strain": ("Shift Lever Force", "Lever Strain"),
    "gear": ("Gear", "Gear Position"),
    "dws": ("Driven Wheel Speed", "Drive Wheel Speed"),
    "dsh": ("Driveshaft Speed", "Driveshaft RPM"),
    "gps": ("GPS Speed",),
    "rpm2": ("Engine Speed", "RPM"),
    "crank": ("Crankcase Pressure",),
    "backp": ("Exhaust Back Pressure",),
    "clp": ("Coolant Pressure",),
    "turbo": ("Turbo Speed",),
    "fuelf": ("Fuel Flow",),
    "baro": ("Barometer",),
    "knock": ("Knock Level",),
    "accz": ("Accel Z",),
    "accx": ("Accel X", "Longitudinal Accel", "Acc Long"),
    "accy": ("Accel Y", "Lateral Accel", "Acc Lat"),
}
"""Quantity: what it goes by in our logs."""

_SIGNAL = {
    "rpm": "engine_speed",
    "rpm2": "engine_speed",
    "tps": "throttle",
    "map": "manifold_pressure",
    "boost": "boost",
    "lam": "lambda",
    "fuelp": "fuel_pressure",
    "oilp": "oil_pressure",
    "oilt": "oil_temperature",
    "clt": "coolant_temperature",
    "iat": "intake_temperature",
    "ign": "ignition_advance",
    "duty": "injector_duty",
    "batt": "battery",
    "cut": "shift_cut",
    "strain": "shift_lever",
    "gear": "gear",
    "dws": "driven_wheel_mps",
    "dsh": "driveshaft_rpm",
    "gps": "ground_mps",
    "accx": "accel_x",
    "accy": "accel_y",
    "accz": "accel_z",
    "crank": "crankcase_pressure",
    "backp": "back_pressure",
    "clp": "coolant_pressure",
    "turbo": "turbo_speed",
    "fuelf": "fuel_flow",
    "baro": "barometer",
    "knock": "knock",
}

_PRINTED: dict[str, dict[str, tuple[float, int]]] = {
    "rpm": {"rpm": (1, 0), "1/min": (1, 0)},
    "tps": {"%": (0.1, 1)},
    "map": {"kPa": (0.1, 1), "bar": (0.001, 3), "psi": (0.01, 2)},
    "boost": {"kPa": (0.1, 1), "bar": (0.002, 3), "psi": (0.01, 2)},
    "lam": {"lambda": (0.001, 3), "": (0.001, 3), "-": (0.001, 3)},
    "fuelp": {"kPa": (0.5, 1), "bar": (0.01, 2), "psi": (0.1, 1)},
    "oilp": {"kPa": (0.5, 1), "bar": (0.01, 2), "psi": (0.1, 1)},
    "oilt": {"C": (0.1, 1), "°C": (0.1, 1), "degC": (0.1, 1)},
    "clt": {"C": (0.1, 1), "°C": (0.1, 1), "degC": (0.1, 1)},
    "iat": {"C": (0.1, 1), "°C": (0.1, 1), "degC": (0.1, 1)},
    "egt": {"C": (1, 0), "°C": (1, 0), "degC": (1, 0)},
    "ign": {"deg": (0.1, 1), "°": (0.1, 1)},
    "duty": {"%": (0.1, 1)},
    "batt": {"V": (0.01, 2)},
    "cut": {"": (1, 0)},
    "strain": {"V": (0.01, 2), "": (0.01, 2)},
    "gear": {"": (1, 0)},
    "dws": {"km/h": (0.01, 2), "mph": (0.01, 2), "m/s": (0.01, 2)},
    "dsh": {"rpm": (1, 0), "1/min": (1, 0)},
    "gps": {"km/h": (0.01, 2), "mph": (0.01, 2), "m/s": (0.01, 2)},
    "rpm2": {"rpm": (10, 0), "1/min": (10, 0)},
    "accx": {"g": (0.001, 3), "m/s2": (0.01, 2)},
    "accy": {"g": (0.001, 3), "m/s2": (0.01, 2)},
    "accz": {"g": (0.001, 3), "m/s2": (0.01, 2)},
    "crank": {"kPa": (0.1, 1), "mbar": (1, 0), "psi": (0.01, 2)},
    "backp": {"kPa": (0.5, 1), "bar": (0.01, 2), "psi": (0.1, 1)},
    "clp": {"kPa": (0.5, 1), "bar": (0.01, 2), "psi": (0.1, 1)},
    "turbo": {"rpm": (100, 0), "1/min": (100, 0)},
    "fuelf": {"kg/h": (0.1, 1)},
    "baro": {"kPa": (0.1, 1), "bar": (0.001, 3)},
    "knock": {"V": (0.01, 2)},
    "uws": {"km/h": (0.01, 2), "mph": (0.01, 2), "m/s": (0.01, 2)},
}
"""Quantity: units it is written in, with step and digits."""

TASTES: dict[str, tuple[str, ...]] = {
    "metric": ("rpm", "kPa", "km/h", "C", "g", "lambda", "deg"),
    "bar": ("1/min", "bar", "km/h", "°C", "g", "-", "°"),
    "imperial": ("rpm", "psi", "mph", "C", "g", "", "deg"),
    "strict": ("rpm", "kPa", "m/s", "degC", "m/s2", "lambda", "deg"),
}
"""Units a team likes."""


def _unit(kind: str, taste: str) -> str:
    units = _PRINTED[kind]
    return next((unit for unit in TASTES[taste] if unit in units), next(iter(units)))


def make_sensor(
    quantity: str,
    taste: str,
    rng: np.random.Generator,
    ranges: Mapping[str, SensorRange] = USUAL,
    **changes: object,
) -> Sensor:
    """A sensor of a kind with delays, lags, teeth and a header drawn at random."""
    kind = "uws" if quantity.startswith("uws") else "egt" if quantity.startswith("egt") else quantity
    drawn = range_of(quantity, ranges)
    unit = _unit(kind, taste)
    step, digits = _PRINTED[kind][unit]
    names = HEADERS.get(kind, (quantity,))
    values: dict[str, object] = {
        "signal": _SIGNAL.get(quantity, quantity),
        "quantity": quantity,
        "unit": unit,
        "header": names[int(rng.integers(len(names)))],
        "latency_s": float(rng.uniform(*drawn.latency_s)),
        "lag_s": float(rng.uniform(*drawn.lag_s)),
        "noise": drawn.noise,
        "step": float(step),
        "digits": digits,
    }
    values |= changes
    if drawn.teeth:
        # What is counted needs no gate: it reads zero where no tooth comes.
        values |= {"tooth": drawn.turn / int(rng.choice(drawn.teeth)), "floor": 0.0}
    return Sensor(**values)  # type: ignore[arg-type]


def ecu_sensors(
    quantities: Iterable[str], taste: str, rng: np.random.Generator, ranges: Mapping[str, SensorRange] = USUAL
) -> list[Sensor]:
    """The ECU's channels; exhaust temperatures come at 50 Hz."""
    out = []
    for quantity in quantities:
        if quantity.startswith("egt"):
            name = f"EGT {quantity[3:]}"
            out.append(
                make_sensor(
                    quantity,
                    taste,
                    rng,
                    ranges,
                    signal=f"exhaust_temperature_{quantity[3:]}",
                    header=name,
                    rate_hz=50.0,
                )
            )
        else:
            out.append(make_sensor(quantity, taste, rng, ranges))
    return out


def dash_sensors(
    rng: np.random.Generator,
    ranges: Mapping[str, SensorRange] = USUAL,
    *,
    taste: str,
    gps_hz: float = 10.0,
    undriven: str = "front",
    rpm_copy: bool = True,
    accelerometer: bool = True,
) -> list[Sensor]:
    """The dash's channels: GPS, wheels of the undriven axle (``none``: no wheels), accelerometer, late engine speed."""
    out = [make_sensor("gps", taste, rng, ranges, rate_hz=gps_hz, hold=True)]
    if undriven in ("front", "rear"):
        for side in "lr":
            name = f"Wheel Speed {undriven[0].upper()}{side.upper()}"
            out.append(
                make_sensor(
                    f"uws_{side}",
                    taste,
                    rng,
                    ranges,
                    signal="undriven_mps",
                    header=name,
                    floor=float(rng.uniform(0.4, 1.1)),
                )
            )
    if accelerometer:
        out.append(
            make_sensor("accx", taste, rng, ranges, bias=float(rng.normal(0, 0.15)), scale=float(rng.normal(1, 0.006)))
        )
        out.append(make_sensor("accy", taste, rng, ranges, bias=float(rng.normal(0, 0.1))))
    if rpm_copy:
        rates = range_of("rpm2", ranges).rate_hz
        rate_hz = float(rng.choice(rates)) if rates else COPY_HZ
        out.append(make_sensor("rpm2", taste, rng, ranges, rate_hz=rate_hz, hold=True))
    if rng.random() < 0.5:
        out.append(Sensor("satellites", "sats", "GPS Satellites", "", digits=0, step=1.0))
    return out


def gps_sensors(
    rng: np.random.Generator, ranges: Mapping[str, SensorRange] = USUAL, *, taste: str, gps_hz: float = 25.0
) -> list[Sensor]:
    """A third box: GPS speed and its own accelerometer."""
    return [
        make_sensor("gps", taste, rng, ranges, rate_hz=gps_hz, hold=False),
        make_sensor("accx", taste, rng, ranges, header="Acc Long", bias=float(rng.normal(0, 0.2)), noise=0.12),
    ]
