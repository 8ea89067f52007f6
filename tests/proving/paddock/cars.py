"""Cars of the paddock, before each is drawn a little off.

Public: `CARS`, `changed`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from tests.proving.paddock.specs import Body, CarSpec, Converter, Driver, Engine, Gearbox, TakeUp, Tire, Turbo


def changed(car: CarSpec, **parts: Mapping[str, Any]) -> CarSpec:
    """A car some of whose parts are other: of each part what is named."""
    return replace(car, **{name: replace(getattr(car, name), **values) for name, values in parts.items()})


V8 = CarSpec(
    Engine(640, 4600, limiter_rpm=6900, inertia_kgm2=0.26),
    TakeUp(most_nm=1000),
    box=Gearbox((2.66, 1.78, 1.30, 1.0, 0.8), 3.9),
    tire=Tire(0.345, grip=1.8, peak_slip=0.12, inertia_kgm2=3.2),
    body=Body(1580, free_m=0.335),
    driver=Driver(launch_rpm=4600, shift_rpm=6500, band_rpm=(4700, 6600)),
)
TURBO_FOUR = CarSpec(
    Engine(195, 5200, limiter_rpm=8200, inertia_kgm2=0.12, turbo=Turbo(150, 90, (1900, 4600))),
    TakeUp(most_nm=800),
    box=Gearbox((2.9, 2.05, 1.52, 1.17, 0.95), 4.1),
    tire=Tire(0.31, grip=1.85, inertia_kgm2=1.7),
    body=Body(1240, free_m=0.29, free_kgm2=1.1),
    driver=Driver(launch_rpm=5600, shift_rpm=7700, band_rpm=(5600, 7800)),
)
FRONT_DRIVEN = CarSpec(
    Engine(195, 5300, limiter_rpm=7900, inertia_kgm2=0.14, turbo=Turbo(110, 70)),
    TakeUp(most_nm=600),
    box=Gearbox((3.2, 2.05, 1.45, 1.1, 0.88), 3.95),
    tire=Tire(0.305, grip=1.75, inertia_kgm2=1.8),
    body=Body(1180, "front", 0.62, free_m=0.295, free_kgm2=1.0),
    driver=Driver(launch_rpm=5200, shift_rpm=7400, band_rpm=(5000, 7500)),
)
STREET = CarSpec(
    Engine(190, 4300, limiter_rpm=6700, inertia_kgm2=0.2, turbo=Turbo(60, 35)),
    TakeUp(most_nm=480),
    box=Gearbox((3.45, 1.95, 1.30, 0.97, 0.77, 0.64), 3.65),
    tire=Tire(0.318, 0.002, 1.08),
    body=Body(1420, "front", 0.61, drag_area_m2=0.70, free_m=0.318),
    driver=Driver("foot", 3000, first_open=0.45, shift_rpm=6300, band_rpm=(4000, 6400)),
)
FREE_BREATHING = CarSpec(
    Engine(245, 6200, friction=(10.0, 0.002, 0.22), inertia_kgm2=0.11, limiter_rpm=8700),
    TakeUp(most_nm=420),
    box=Gearbox((2.7, 1.95, 1.50, 1.2, 1.0, 0.85), 4.4),
    tire=Tire(0.305, grip=1.7, inertia_kgm2=1.7),
    body=Body(1120, free_m=0.30, free_kgm2=1.1),
    driver=Driver(launch_rpm=6000, shift_rpm=8300, band_rpm=(6200, 8500)),
)
DIESEL = CarSpec(
    Engine(235, 2400, (0.4, 0.30), (16.0, 0.0022, 0.22), 0.38, 4400, 780, manifold_s=0.05,
           turbo=Turbo(190, 110, (1300, 2500), 0.6)),
    TakeUp(most_nm=1350),
    box=Gearbox((3.4, 2.0, 1.35, 1.0, 0.76), 3.3),
    tire=Tire(0.37, grip=1.15, inertia_kgm2=4.5),
    body=Body(2250, drag_area_m2=1.1, rolling=(0.012, 0.01), free_m=0.37, free_kgm2=3.4),
    driver=Driver("foot", 2300, shift_rpm=3900, band_rpm=(2600, 4000)),
)  # fmt: skip
ALL_DRIVEN = CarSpec(
    Engine(230, 4500, inertia_kgm2=0.17, limiter_rpm=7600, turbo=Turbo(120, 80)),
    TakeUp(most_nm=850),
    box=Gearbox((3.0, 1.9, 1.38, 1.06, 0.84), 3.9, mesh=0.93, output_kgm2=0.9),
    tire=Tire(0.32, grip=1.32, inertia_kgm2=4.2),
    body=Body(1530, "all", free_m=0.32, free_kgm2=0.02),
    driver=Driver(launch_rpm=5200, shift_rpm=7100, band_rpm=(4800, 7200)),
)
RACE_CAR = CarSpec(
    Engine(640, 7200, friction=(10.0, 0.0035, 0.22), inertia_kgm2=0.13, limiter_rpm=9800),
    TakeUp(most_nm=1000, feed_s=1.7),
    box=Gearbox((2.3, 1.75, 1.40, 1.15, 1.0), 4.5, "cut", drags=(9, 0.04), shafts=(14000, 45, 0.006)),
    tire=Tire(0.40, 0.035, 2.25, 0.16, inertia_kgm2=4.6),
    body=Body(1080, front_share=0.47, wheelbase_m=2.7, free_m=0.30, free_kgm2=0.7),
    driver=Driver(launch_rpm=7000, shift_rpm=9300, band_rpm=(7600, 9500)),
)
MOTORCYCLE = CarSpec(
    Engine(118, 9500, (0.35, 0.45), (3, 0.0009, 0.03), 0.018, 12000, 1300),
    TakeUp(most_nm=210),
    box=Gearbox((2.5, 1.9, 1.55, 1.33, 1.2, 1.1), 4.45, "cut", sync_nm=25, dog_nm=700, drags=(1.0, 0.01),
                input_kgm2=0.004, output_kgm2=0.05, shafts=(3500, 6, 0.012)),
    tire=Tire(0.315, 0.006, 1.9, relaxation_m=0.15, damping=120, inertia_kgm2=0.75),
    body=Body(290, front_share=0.48, wheelbase_m=1.65, height_m=0.50, drag_area_m2=0.36, rolling=(0.014, 0.01),
              pitch_rad=0.03, free_m=0.295, free_kgm2=0.45, two_wheels=True),
    driver=Driver(launch_rpm=7200, shift_rpm=11400, eases_from_mps2=9.6, band_rpm=(9000, 11600)),
)  # fmt: skip
AUTOMATIC = CarSpec(
    Engine(560, 4300, limiter_rpm=6600, inertia_kgm2=0.30),
    TakeUp("converter", bite_s=0.0, feed_s=0.1),
    Converter(0.0034, 1.95),
    Gearbox((2.48, 1.48, 1.0), 3.73, "auto", mesh=0.94, input_kgm2=0.10, output_kgm2=0.7),
    Tire(0.345, grip=1.65),
    Body(1650, free_m=0.34),
    Driver("foot", 2300, shift_rpm=6100, band_rpm=(4300, 6300)),
)
DUAL_CLUTCH = CarSpec(
    Engine(520, 5000, inertia_kgm2=0.15, limiter_rpm=7600),
    TakeUp("packs", 900, feed_s=1.0),
    box=Gearbox((3.6, 2.4, 1.72, 1.3, 1.03, 0.84), 3.5, "packs", input_kgm2=0.03, output_kgm2=0.6),
    tire=Tire(0.34, grip=1.6),
    body=Body(1520, free_m=0.33),
    driver=Driver(launch_rpm=3800, shift_rpm=7200, band_rpm=(5000, 7300)),
)
ELECTRIC = CarSpec(
    Engine(430, inertia_kgm2=0.05, limiter_rpm=15500, idle_rpm=0, motor_w=260e3),
    TakeUp("packs", share=1),
    box=Gearbox((1.0,), 9.0, mesh=0.96, drags=(4, 0.04), input_kgm2=0.0, output_kgm2=0.4),
    tire=Tire(0.34, grip=1.2),
    body=Body(1850, drag_area_m2=0.6, free_m=0.34),
    driver=Driver(launch_rpm=0, shift_rpm=99999, band_rpm=(6000, 13000)),
)
CARS: Mapping[str, CarSpec] = {
    "v8": V8, "turbo four": TURBO_FOUR, "front driven": FRONT_DRIVEN, "street": STREET,
    "free breathing": FREE_BREATHING, "diesel": DIESEL, "all driven": ALL_DRIVEN, "race car": RACE_CAR,
    "motorcycle": MOTORCYCLE, "automatic": AUTOMATIC, "dual clutch": DUAL_CLUTCH, "electric": ELECTRIC,
}  # fmt: skip
"""By what they are."""
