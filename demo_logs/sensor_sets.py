"""Which sensors a car carries, what its logs call them, and how good they are.

Public: `ecu_sensors`, `dash_sensors`, `gps_sensors`, `HEADERS`.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from passband.demo_logs.loggers import Sensor

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

# quantity: latency s (low, high), lag s (low, high), noise SI, {unit: (step, digits)}
_KINDS: dict[str, tuple[tuple[float, float], tuple[float, float], float, dict[str, tuple[float, int]]]] = {
    "rpm": ((0.004, 0.009), (0.004, 0.010), 6.0, {"rpm": (1, 0), "1/min": (1, 0)}),
    "tps": ((0.001, 0.004), (0.002, 0.007), 0.0013, {"%": (0.1, 1)}),
    "map": ((0.001, 0.004), (0.004, 0.009), 600.0, {"kPa": (0.1, 1), "bar": (0.001, 3), "psi": (0.01, 2)}),
    "boost": ((0.001, 0.004), (0.004, 0.009), 600.0, {"kPa": (0.1, 1), "bar": (0.002, 3), "psi": (0.01, 2)}),
    "lam": ((0.02, 0.08), (0.02, 0.08), 0.005, {"lambda": (0.001, 3), "": (0.001, 3), "-": (0.001, 3)}),
    "fuelp": ((0.004, 0.007), (0.010, 0.022), 2500.0, {"kPa": (0.5, 1), "bar": (0.01, 2), "psi": (0.1, 1)}),
    "oilp": ((0.002, 0.008), (0.012, 0.032), 3000.0, {"kPa": (0.5, 1), "bar": (0.01, 2), "psi": (0.1, 1)}),
    "oilt": ((0.0, 0.0), (1.0, 3.0), 0.2, {"C": (0.1, 1), "°C": (0.1, 1), "degC": (0.1, 1)}),
    "clt": ((0.0, 0.0), (0.8, 2.4), 0.2, {"C": (0.1, 1), "°C": (0.1, 1), "degC": (0.1, 1)}),
    "iat": ((0.0, 0.0), (0.4, 0.9), 0.15, {"C": (0.1, 1), "°C": (0.1, 1), "degC": (0.1, 1)}),
    "egt": ((0.005, 0.04), (0.6, 1.4), 1.5, {"C": (1, 0), "°C": (1, 0), "degC": (1, 0)}),
    "ign": ((0.0, 0.0), (0.002, 0.006), 0.1, {"deg": (0.1, 1), "°": (0.1, 1)}),
    "duty": ((0.0, 0.0), (0.004, 0.008), 0.003, {"%": (0.1, 1)}),
    "batt": ((0.0, 0.0), (0.004, 0.01), 0.03, {"V": (0.01, 2)}),
    "cut": ((0.001, 0.004), (0.0, 0.0), 0.0, {"": (1, 0)}),
    "strain": ((0.001, 0.003), (0.002, 0.004), 0.012, {"V": (0.01, 2), "": (0.01, 2)}),
    "gear": ((0.02, 0.06), (0.0, 0.0), 0.0, {"": (1, 0)}),
    "dws": ((0.004, 0.02), (0.006, 0.016), 0.05, {"km/h": (0.01, 2), "mph": (0.01, 2), "m/s": (0.01, 2)}),
    "dsh": ((0.002, 0.006), (0.004, 0.008), 4.0, {"rpm": (1, 0), "1/min": (1, 0)}),
    "gps": ((0.08, 0.22), (0.015, 0.04), 0.022, {"km/h": (0.01, 2), "mph": (0.01, 2), "m/s": (0.01, 2)}),
    "rpm2": ((0.025, 0.05), (0.010, 0.018), 3.0, {"rpm": (10, 0), "1/min": (10, 0)}),
    "accx": ((0.004, 0.012), (0.006, 0.020), 0.06, {"g": (0.001, 3), "m/s2": (0.01, 2)}),
    "accy": ((0.004, 0.012), (0.006, 0.022), 0.03, {"g": (0.001, 3), "m/s2": (0.01, 2)}),
    "accz": ((0.004, 0.012), (0.006, 0.020), 0.12, {"g": (0.001, 3), "m/s2": (0.01, 2)}),
    "crank": ((0.004, 0.008), (0.01, 0.02), 250.0, {"kPa": (0.1, 1), "mbar": (1, 0), "psi": (0.01, 2)}),
    "backp": ((0.004, 0.008), (0.01, 0.02), 1500.0, {"kPa": (0.5, 1), "bar": (0.01, 2), "psi": (0.1, 1)}),
    "clp": ((0.004, 0.008), (0.01, 0.02), 800.0, {"kPa": (0.5, 1), "bar": (0.01, 2), "psi": (0.1, 1)}),
    "turbo": ((0.002, 0.004), (0.01, 0.02), 120.0, {"rpm": (100, 0), "1/min": (100, 0)}),
    "fuelf": ((0.002, 0.004), (0.02, 0.04), 0.0003, {"kg/h": (0.1, 1)}),
    "baro": ((0.0, 0.0), (0.05, 0.1), 20.0, {"kPa": (0.1, 1), "bar": (0.001, 3)}),
    "knock": ((0.002, 0.004), (0.01, 0.02), 0.03, {"V": (0.01, 2)}),
    "uws": ((0.007, 0.02), (0.006, 0.018), 0.03, {"km/h": (0.01, 2), "mph": (0.01, 2), "m/s": (0.01, 2)}),
}

TASTES: dict[str, tuple[str, ...]] = {
    "metric": ("rpm", "kPa", "km/h", "C", "g", "lambda", "deg"),
    "bar": ("1/min", "bar", "km/h", "°C", "g", "-", "°"),
    "imperial": ("rpm", "psi", "mph", "C", "g", "", "deg"),
    "strict": ("rpm", "kPa", "m/s", "degC", "m/s2", "lambda", "deg"),
}
"""Units a team likes."""


def _unit(kind: str, taste: str) -> str:
    units = _KINDS[kind][3]
    return next((unit for unit in TASTES[taste] if unit in units), next(iter(units)))


def make_sensor(quantity: str, taste: str, rng: np.random.Generator, **changes: object) -> Sensor:
    """A sensor of a kind with delays, lags and a header drawn at random."""
    kind = "uws" if quantity.startswith("uws") else "egt" if quantity.startswith("egt") else quantity
    latency, lag, noise, units = _KINDS[kind]
    unit = _unit(kind, taste)
    step, digits = units[unit]
    names = HEADERS.get(kind, (quantity,))
    values: dict[str, object] = {
        "signal": _SIGNAL.get(quantity, quantity),
        "quantity": quantity,
        "unit": unit,
        "header": names[int(rng.integers(len(names)))],
        "latency_s": float(rng.uniform(*latency)),
        "lag_s": float(rng.uniform(*lag)),
        "noise": noise,
        "step": float(step),
        "digits": digits,
    }
    values |= changes
    return Sensor(**values)  # type: ignore[arg-type]


def ecu_sensors(quantities: Iterable[str], taste: str, rng: np.random.Generator) -> list[Sensor]:
    """The ECU's channels; exhaust temperatures come at 50 Hz."""
    out = []
    for quantity in quantities:
        if quantity.startswith("egt"):
            name = f"EGT {quantity[3:]}"
            out.append(
                make_sensor(
                    quantity, taste, rng, signal=f"exhaust_temperature_{quantity[3:]}", header=name, rate_hz=50.0
                )
            )
        else:
            out.append(make_sensor(quantity, taste, rng))
    return out


def dash_sensors(
    rng: np.random.Generator,
    *,
    taste: str,
    gps_hz: float = 10.0,
    undriven: str = "front",
    rpm_copy: bool = True,
    accelerometer: bool = True,
    wheels: bool = True,
) -> list[Sensor]:
    """The dash's channels: GPS, undriven wheels, accelerometer, a late copy of engine speed."""
    out = [make_sensor("gps", taste, rng, rate_hz=gps_hz, hold=True)]
    if wheels and undriven in ("front", "rear"):
        for side in "lr":
            name = f"Wheel Speed {undriven[0].upper()}{side.upper()}"
            out.append(
                make_sensor(
                    f"uws_{side}", taste, rng, signal="undriven_mps", header=name, floor=float(rng.uniform(0.4, 1.1))
                )
            )
    if accelerometer:
        out.append(make_sensor("accx", taste, rng, bias=float(rng.normal(0, 0.15)), scale=float(rng.normal(1, 0.006))))
        out.append(make_sensor("accy", taste, rng, bias=float(rng.normal(0, 0.1))))
    if rpm_copy:
        out.append(make_sensor("rpm2", taste, rng, rate_hz=20.0, hold=True))
    if rng.random() < 0.5:
        out.append(Sensor("satellites", "sats", "GPS Satellites", "", digits=0, step=1.0))
    return out


def gps_sensors(rng: np.random.Generator, *, taste: str, gps_hz: float = 25.0) -> list[Sensor]:
    """A third box: GPS speed and its own accelerometer."""
    return [
        make_sensor("gps", taste, rng, rate_hz=gps_hz, hold=False),
        make_sensor("accx", taste, rng, header="Acc Long", bias=float(rng.normal(0, 0.2)), noise=0.12),
    ]
