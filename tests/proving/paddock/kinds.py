"""Thirty-four cars with their owners: what each drives, what each has fitted, and what goes wrong.

Two thirds are ordinary; the rest carries a trouble or lacks a sensor.

Public: `Kind`, `KINDS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tests.proving.paddock.cars import CARS, changed
from tests.proving.paddock.devices import Dash, Devices, Ecu, Form, Receiver, Wheel
from tests.proving.paddock.specs import CarSpec, Turbo


@dataclass(frozen=True, slots=True)
class Kind:
    """A car, its owner's devices, and what is to be said of the run."""

    told: str
    """In plain words."""
    car: CarSpec
    """Before it is drawn."""
    devices: Devices
    """What is fitted."""
    burnout: bool = False
    """Before the run."""
    trouble: tuple[str, ...] = ()
    """What goes wrong."""
    says: tuple[str, ...] = ()
    """Words one of which must be said of it."""
    wind_told: bool = False
    """The owner writes down the wind."""


def _kind(told: str, car: str, devices: Devices, *, more: Mapping[str, Any] | None = None, **parts: Any) -> Kind:
    return Kind(told, changed(CARS[car], **parts), devices, **(more or {}))


def _both(ecu: Ecu, dash: Dash, speeds_in: str = "km/h") -> Devices:
    return Devices(ecu, dash, speeds_in)


_EIGHT = (4.7, 3.13, 2.1, 1.67, 1.29, 1.0, 0.84, 0.67)
_TEN = (4.7, 2.99, 2.15, 1.77, 1.52, 1.28, 1.0, 0.85, 0.69, 0.64)
BY_HAND: Mapping[str, Kind] = {
    "turbo_fed_in_long": _kind(
        "turbo four, foot clutch fed in long, lifts between gears", "turbo four",
        _both(Ecu(), Dash(receiver=Receiver(10, 0.15), free=Wheel(24), felt_s=0.02, copy_late_s=0.04)),
        take_up={"feed_s": 2.0},
    ),
    "two_stage_clutch": _kind(
        "V8, two-stage clutch, no lift", "v8",
        _both(Ecu(shaft=Wheel(6), flag_late_s=0.0),
              Dash(100, free=Wheel(40, True, 0.5), felt_s=0.03, copy_late_s=0.012, copy_hz=100)),
        more={"burnout": True}, take_up={"profile": "two"}, box={"shift": "flat", "sync_nm": 180}, tire={"grip": 1.75},
    ),
    "street_tires": _kind(
        "front-driven street car on road tires, GPS ten times a second", "street",
        _both(Ecu(25, 50, 360, 10), Dash(receiver=Receiver(10, 0.2), copy_late_s=0.08)), box={"pace": 1.5},
    ),
    "no_lift_slow_gps": _kind(
        "front-driven, no lift, GPS five times a second", "front driven",
        _both(Ecu(50, form=Form(units="parens")), Dash(receiver=Receiver(5, 0.3), copy_late_s=0.06)),
        box={"shift": "flat", "sync_nm": 160},
    ),
    "slow_hand_gps_1_hz": _kind(
        "diesel pickup, slow hand, GPS once a second", "diesel",
        _both(Ecu(20, 20, 720, 5), Dash(10, Receiver(1, 0.25), copy_late_s=0.1)), box={"pace": 1.5, "sync_nm": 160},
    ),
    "engine_speed_alone": _kind(
        "ECU log with engine speed alone", "free breathing", Devices(Ecu(50, gauges=False)),
    ),
    "lone_driven_wheel": _kind(
        "ECU log alone with a driven wheel", "front driven", Devices(Ecu(driven=Wheel(44, forgets_s=0.3))),
        box={"shift": "flat", "sync_nm": 160},
    ),
    "lone_driveshaft": _kind(
        "ECU log alone with a driveshaft of two pulses", "v8",
        Devices(Ecu(shaft=Wheel(2, forgets_s=0.5), gear_late_s=0.05)), box={"pace": 0.8}, tire={"grip": 1.9},
    ),
    "third_missed": _kind(
        "third missed, needle runs up", "v8", _both(Ecu(), Dash(free=Wheel(30), felt_s=0.02, copy_late_s=0.05)),
        more={"says": ("miss",)}, box={"misses": (2, 0.45)},
    ),
    "lifted_late": _kind(
        "lifts before the finish and rolls through", "free breathing",
        _both(Ecu(), Dash(free=Wheel(24), copy_late_s=0.03)),
        more={"trouble": ("lifted before the finish",), "says": ("lift", "throttle", "closed", "coast")},
        driver={"lifts_at_m": 350.0},
    ),
    "gusts_and_grade": _kind(
        "naturally aspirated, gusts, wind told, slight grade", "free breathing",
        _both(Ecu(), Dash(receiver=Receiver(10, 0.1), free=Wheel(24), felt_s=0.03, copy_late_s=0.12, copy_hz=10)),
        more={"wind_told": True}, strip={"gust_mps": 0.9, "grade": 0.004, "wind_mps": 3.0},
    ),
    "ten_rows_a_second": _kind(
        "cheap log at ten rows a second, prompt dash", "v8",
        _both(Ecu(10, 50, step_rpm=25), Dash(free=Wheel(24), copy_late_s=0.005, copy_hz=50)), box={"pace": 1.1},
    ),
    "jittering_stamps": _kind(
        "stamps that jitter, a clock that gains, GPS with a hold", "all driven",
        _both(Ecu(50, form=Form(true_stamps=True, jitter=0.5)),
              Dash(receiver=Receiver(10, 0.15, holds_s=0.5), felt_s=0.02, copy_late_s=0.05, ppm=120,
                   form=Form(true_stamps=True, jitter=0.6))),
        box={"pace": 0.8},
    ),
    "shut_off_early": _kind(
        "shuts off before half track and brakes", "turbo four", _both(Ecu(), Dash(free=Wheel(24), copy_late_s=0.03)),
        more={"trouble": ("aborted",), "says": ("lift", "abort", "short", "throttle")},
        driver={"lifts_at_m": 170.0, "shuts_off": True, "goes_on_s": 3.5},
    ),
    "bike_by_foot": _kind(
        "motorcycle shifted by foot, GPS ten times a second", "motorcycle",
        _both(Ecu(50), Dash(receiver=Receiver(10, 0.15), copy_late_s=0.03)),
        box={"shift": "lift", "pace": 0.6, "sync_nm": 40},
    ),
}  # fmt: skip
"""Shifted by hand or foot."""
BY_CUT: Mapping[str, Kind] = {
    "sequential_flagged": _kind(
        "sequential with ignition cut, flag", "turbo four",
        _both(Ecu(shaft=Wheel(12, forgets_s=0.3), flag_late_s=0.0),
              Dash(100, free=Wheel(48, forgets_s=0.3), felt_s=0.015, copy_late_s=0.05), "mph"),
        box={"shift": "cut"},
    ),
    "torque_cut_front": _kind(
        "front-driven sequential with a torque cut not to nought", "front driven",
        _both(Ecu(50), Dash(receiver=Receiver(25, 0.08), free=Wheel(20), copy_late_s=0.03)),
        box={"shift": "cut", "cut_depth": 0.12, "pace": 1.4},
    ),
    "sequential_all_driven": _kind(
        "all-wheel drive sequential, GPS and accelerometer, no flag", "all driven",
        _both(Ecu(driven=Wheel(44, forgets_s=0.3)), Dash(receiver=Receiver(25, 0.06), felt_s=0.02, copy_late_s=0.02)),
        box={"shift": "cut", "pace": 1.2}, take_up={"profile": "dump"}, tire={"grip": 1.35},
    ),
    "bike_air_shifter": _kind(
        "motorcycle, air shifter, front wheel and GPS", "motorcycle",
        _both(Ecu(flag_late_s=0.0),
              Dash(receiver=Receiver(10, 0.1), free=Wheel(6, forgets_s=0.5), copy_late_s=0.01, copy_hz=50)),
        box={"pace": 0.9},
    ),
    "bike_wheel_up": _kind(
        "motorcycle whose front wheel leaves the ground", "motorcycle",
        _both(Ecu(driven=Wheel(5, forgets_s=0.3)), Dash(free=Wheel(12, forgets_s=0.5), felt_s=0.02, copy_late_s=0.04)),
        tire={"grip": 1.8}, body={"wheelbase_m": 1.5, "height_m": 0.58, "front_share": 0.49},
        driver={"eases_from_mps2": 10.6, "eases_in_the_air": True},
    ),
    "race_car_without_copy": _kind(
        "race car, sequential, dash without engine speed", "race car",
        _both(Ecu(200, shaft=Wheel(8, forgets_s=0.3)), Dash(100, free=Wheel(24, True, 0.5), felt_s=0.02)),
        more={"burnout": True},
    ),
    "long_wheelspin": _kind(
        "spins long in first and second", "turbo four",
        _both(Ecu(driven=Wheel(24, forgets_s=0.3)), Dash(free=Wheel(24), felt_s=0.02, copy_late_s=0.04)),
        more={"trouble": ("long wheelspin",)}, box={"shift": "cut"}, tire={"grip": 1.5}, driver={"feather": 0.35},
        strip={"patch": (1.5, 50, 0.62)}, engine={"turbo": Turbo(140, 90, (1900, 4600))},
    ),
    "pedalled_once": _kind(
        "pedalled once at half track", "race car",
        _both(Ecu(), Dash(100, Receiver(10, 0.1), Wheel(24, True), copy_late_s=0.04)),
        more={"trouble": ("pedalled",), "says": ("pedal", "lift", "throttle")},
        driver={"pedals_at_m": 60.0, "feather": 0.0}, strip={"patch": (40, 75, 0.6)},
    ),
    "shaking_tires": _kind(
        "tire shake in first gear", "race car",
        _both(Ecu(shaft=Wheel(8, forgets_s=0.3)), Dash(100, free=Wheel(24, True), felt_s=0.01, copy_late_s=0.05)),
        more={"trouble": ("tire shake",), "says": ("shake",)}, strip={"shake": (1.35, 2.0, 12.0)},
    ),
    "smoothed_gps_semicolons": _kind(
        "sequential, GPS with much smoothing, semicolons", "free breathing",
        _both(Ecu(form=Form(";", ",", "row")), Dash(receiver=Receiver(10, 0.4, 0.12), copy_late_s=0.07)),
        box={"shift": "cut"},
    ),
}  # fmt: skip
"""Sequential gearboxes."""
UNDER_POWER: Mapping[str, Kind] = {
    "packs_late_gear": _kind(
        "dual clutch, gear channel late", "dual clutch",
        _both(Ecu(50, gear_late_s=0.09), Dash(free=Wheel(48, forgets_s=0.3), felt_s=0.02, copy_late_s=0.03)),
    ),
    "packs_all_driven": _kind(
        "dual clutch, all-wheel drive, GPS ten times a second", "dual clutch",
        _both(Ecu(25, 100, gear_late_s=0.02),
              Dash(receiver=Receiver(10, 0.12), felt_s=0.03, copy_late_s=0.09, copy_hz=20)),
        engine={"peak_nm": 420, "turbo": Turbo(60, 35)}, box={"mesh": 0.93}, tire={"inertia_kgm2": 4.4},
        body={"driven": "all", "free_kgm2": 0.02, "free_m": 0.34},
    ),
    "three_speed_old": _kind(
        "three-speed automatic without lock-up, brake in the gearbox", "automatic",
        _both(Ecu(shaft=Wheel(4, forgets_s=0.5)), Dash(free=Wheel(16, forgets_s=0.5), copy_late_s=0.05)),
        converter={"brake": True, "capacity": 0.0024}, box={"firm": 0.8, "eased": 1.0},
        tire={"grip": 1.9, "radius_m": 0.36, "growth": 0.02}, driver={"launch": "two-step", "launch_rpm": 3300},
    ),
    "flaring_diesel": _kind(
        "diesel, four-speed automatic that flares", "diesel",
        _both(Ecu(20, 20, 720), Dash(receiver=Receiver(10, 0.2), copy_late_s=0.06)),
        take_up={"kind": "converter"}, converter={"capacity": 0.0075, "stall_ratio": 1.8},
        box={"shift": "auto", "ratios": (2.84, 1.55, 1.0, 0.70), "final": 3.6, "flare_s": 0.05, "eased": 0.9,
             "input_kgm2": 0.14},
        driver={"launch_rpm": 1700},
    ),
    "six_speed_all_driven": _kind(
        "six-speed automatic, all-wheel drive, lock-up", "all driven",
        _both(Ecu(50, gear_late_s=0.05), Dash(receiver=Receiver(25, 0.1), felt_s=0.02, copy_late_s=0.02)),
        take_up={"kind": "converter"}, converter={"capacity": 0.0026, "locks_from_gear": 2},
        box={"shift": "auto", "ratios": (4.17, 2.34, 1.52, 1.14, 0.87, 0.69), "final": 3.1, "hand_over_s": 0.10,
             "eased": 0.6, "firm": 0.5, "input_kgm2": 0.08},
        driver={"launch": "foot", "launch_rpm": 2300, "shift_rpm": 6500},
    ),
    "eight_speed_without_copy": _kind(
        "eight-speed automatic, lock-up, dash without engine speed", "automatic",
        _both(Ecu(50, driven=Wheel(48, forgets_s=0.3), gear_late_s=0.02),
              Dash(100, free=Wheel(48, forgets_s=0.3), felt_s=0.02)),
        converter={"locks_from_gear": 2, "lock_nm": 1100},
        box={"ratios": _EIGHT, "final": 3.09, "hand_over_s": 0.07, "eased": 0.6, "firm": 0.5},
    ),
    "ten_speed_gps": _kind(
        "ten-speed automatic, lock-up, GPS ten times a second alone", "automatic",
        _both(Ecu(25, 50), Dash(receiver=Receiver(10, 0.15), felt_s=0.05, copy_late_s=0.05)),
        converter={"locks_from_gear": 2, "lock_nm": 1100},
        box={"ratios": _TEN, "final": 3.55, "hand_over_s": 0.06, "eased": 0.65, "firm": 0.5},
    ),
    "electric": _kind(
        "electric car, one gear", "electric",
        _both(Ecu(50), Dash(receiver=Receiver(25, 0.08), free=Wheel(48, forgets_s=0.3), felt_s=0.02, copy_late_s=0.02)),
    ),
    "two_speed_slicks": _kind(
        "two-speed, brake in the gearbox, big slicks that grow", "automatic",
        _both(Ecu(200, shaft=Wheel(6)), Dash(100, free=Wheel(8, True, 0.6), felt_s=0.015, copy_late_s=0.02)),
        engine={"peak_nm": 900, "peak_rpm": 5800, "limiter_rpm": 7900},
        converter={"brake": True, "capacity": 0.0021},
        box={"ratios": (1.76, 1.0), "final": 4.3, "firm": 1.3, "eased": 1.0, "hand_over_s": 0.04,
             "shafts": (14000, 45, 0.012)},
        tire={"grip": 2.3, "radius_m": 0.41, "growth": 0.035, "inertia_kgm2": 4.8},
        body={"mass_kg": 1150, "free_m": 0.30, "free_kgm2": 0.7},
        driver={"launch": "two-step", "launch_rpm": 4300, "shift_rpm": 7300, "band_rpm": (5200, 7500)},
    ),
}  # fmt: skip
"""Packs, converters, one fixed gear."""
KINDS: Mapping[str, Kind] = {**BY_HAND, **BY_CUT, **UNDER_POWER}
"""By name."""
