"""The cars of the independent simulator: 23 kinds, each drawn anew by its seed. All are invented.

Public: `KINDS`, `TROUBLES`, `draw_car`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from tests.proving.independent.specs import Body, Box, CarSpec, Clutch, Drive, Engine, Points, Tire


class Draw:
    """Evenly drawn numbers."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng

    def __call__(self, least: float, most: float) -> float:
        return float(self.rng.uniform(least, most))


def _stronger(points: Points, share: float) -> Points:
    return tuple((rpm, nm * share) for rpm, nm in points)


def lever_saloon(u: Draw) -> CarSpec:
    """Breathes freely; five gears by hand, with a lift."""
    torque = ((0, 90), (2000, 190), (4200, 246), (5600, 240), (7000, 212), (8000, 150))
    return CarSpec(
        Body(u(1080, 1250), u(0.58, 0.68)),
        Engine(torque, u(0.16, 0.22), 7300),
        Box((3.27, 1.99, 1.42, 1.08, 0.86), 4.1),
        Clutch(most_nm=470),
        Tire(grip=1.4),
        Drive(4600, shift_rpm=6950),
    )


def flat_foot(u: Draw) -> CarSpec:
    """Turbo and front drive; by hand with the foot flat."""
    torque = ((0, 80), (2500, 170), (4500, 210), (6800, 200), (8000, 165))
    return CarSpec(
        Body(u(1180, 1300), u(0.62, 0.7), "front", (2.6, 0.5, 1.0), undriven_m=0.29),
        Engine(torque, limiter_rpm=7900, boost_kpa=u(80, 105), spools=(3700, 700, 0.4), launch_boost=0.45,
               threshold_kpa=60),
        Box((3.1, 1.95, 1.41, 1.09, 0.89), 3.9, lever=(0.035, 0.05, 260, 0.06), lifts=False),
        Clutch(most_nm=800, bite=(0.3, 0.7, 1.0)),
        Tire(0.31, grip=2.1),
        Drive(5200, shift_rpm=7500, burnout=(2.5, 4.5, 20)),
    )  # fmt: skip


def high_revving(u: Draw) -> CarSpec:
    """Six gears changed by a cut of the spark."""
    torque = ((0, 60), (4000, 215), (6500, 262), (8200, 255), (9300, 225), (10000, 150))
    return CarSpec(
        Body(u(820, 960), u(0.5, 0.6), geometry_m=(2.6, 0.5, 1.4)),
        Engine(torque, u(0.07, 0.1), 9400),
        Box((2.62, 2.0, 1.62, 1.35, 1.16, 1.02), 4.4, "sequential", cut=(u(0.055, 0.075), 0.02, u(0.034, 0.045))),
        Clutch(most_nm=560),
        Tire(grip=1.9),
        Drive(6400, shift_rpm=9100, burnout=(2.5, 5.0, 26)),
    )


def wheels_up(u: Draw) -> CarSpec:
    """Turbo on soft tires that lifts its front wheels."""
    torque = ((0, 150), (4000, 390), (6500, 470), (8400, 430), (9500, 330))
    return CarSpec(
        Body(u(1150, 1280), u(0.66, 0.78), geometry_m=(2.6, 0.75, 1.62), undriven_m=0.31),
        Engine(torque, u(0.2, 0.26), 8900, boost_kpa=u(130, 180), spools=(4300, 700, 0.5), threshold_kpa=120),
        Box((2.1, 1.55, 1.22, 1.0), 3.7, "sequential", cut=(0.07, 0.022, 0.042)),
        Clutch(most_nm=1900, bite=(0.25, 0.6, 1.0), feel=2.2, slipper=True),
        Tire(0.37, u(0.02, 0.045), 2.5, 0.13, relaxation_m=0.6, inertia_kgm2=6, shafts=(22000, 200, 0.02)),
        Drive(6300, shift_rpm=8500, burnout=(2.5, 6.0, 32), hop_s=10.5),
    )


def dual_clutch(u: Draw) -> CarSpec:
    """All wheels driven, turbo, seven gears that take over from each other; no wheel runs free."""
    torque = ((0, 180), (2500, 300), (4500, 325), (6500, 300), (7400, 250))
    return CarSpec(
        Body(u(1580, 1720), u(0.66, 0.74), "all"),
        Engine(torque, u(0.18, 0.25), 7300, boost_kpa=u(90, 120), spools=(2600, 700, 0.3), launch_boost=0.6,
               threshold_kpa=70),
        Box((3.3, 2.3, 1.7, 1.32, 1.06, 0.88, 0.72), 3.6, "overlap",
            overlap=(0.0, u(0.03, 0.05), 0.2, 1.55, 0.1, 0.35)),
        Clutch("direct", 900, (0.35, 0.45, 1.0)),
        Tire(0.335, grip=1.5, inertia_kgm2=5),
        Drive(3800, "throttle", shift_rpm=6900),
    )  # fmt: skip


def eight_cylinders(u: Draw) -> CarSpec:
    """Five gears behind a converter that locks from the third."""
    torque = ((0, 250), (2000, 440), (4400, 530), (5800, 500), (6800, 410))
    return CarSpec(
        Body(u(1650, 1820), u(0.7, 0.8)),
        Engine(torque, u(0.26, 0.34), 6700),
        Box((4.02, 2.36, 1.53, 1.15, 0.85), 3.15, "overlap",
            overlap=(0.12, 0.09, 0.1, 1.28, 0.05, 0.18), inertias_kgm2=(0.05, 0.9)),
        Clutch("converter", 900, converter=(11.5, 1.9, 0.86), locks_from_gear=3),
        Tire(0.345, grip=1.75),
        Drive(1900, "throttle", shift_rpm=6300),
    )  # fmt: skip


def three_gears(u: Draw) -> CarSpec:
    """Boost and a loose converter, let go by a brake within the box."""
    torque = ((0, 200), (3000, 520), (5200, 640), (6800, 600), (7800, 480))
    return CarSpec(
        Body(u(1380, 1500), u(0.7, 0.8), geometry_m=(2.6, 0.55, 1.25)),
        Engine(torque, u(0.24, 0.32), 7900, boost_kpa=u(60, 85), spools=(3900, 700, 0.4), launch_boost=0.5,
               threshold_kpa=45),
        Box((2.1, 1.4, 1.0), 3.5, "overlap", overlap=(0.05, 0.05, 0.3, 1.6, 0.05, 0.0), inertias_kgm2=(0.06, 0.9)),
        Clutch("converter", converter=(17.5, 2.1, 0.86)),
        Tire(0.36, u(0.015, 0.035), 2.7, inertia_kgm2=6, shafts=(22000, 200, 0.02)),
        Drive(4100, shift_rpm=7400, burnout=(2.5, 5.5, 20)),
    )  # fmt: skip


def two_gears_eighth(u: Draw) -> CarSpec:
    """The same with two gears over half the way."""
    car = three_gears(u)
    drive = replace(car.drive, shift_rpm=7500, finish_m=201.168)
    return replace(car, box=replace(car.box, ratios=(1.8, 1.0), final=3.4), drive=drive)


def diesel_automatic(u: Draw) -> CarSpec:
    """A diesel estate with seven gears behind a converter."""
    torque = ((0, 90), (1500, 175), (2600, 230), (3800, 200), (4600, 140), (5200, 60))
    ratios = (4.7, 3.1, 2.1, 1.67, 1.29, 1.0, 0.84)
    return CarSpec(
        Body(u(1700, 1900), u(0.68, 0.76)),
        Engine(torque, u(0.28, 0.36), 4900, boost_kpa=u(120, 160), spools=(1900, 350, 0.4), threshold_kpa=90,
               by_fuel=True),
        Box(ratios, 2.9, "overlap", overlap=(0.15, 0.08, 0.1, 1.35, 0.1, 0.15), inertias_kgm2=(0.05, 0.9)),
        Clutch("converter", 900, converter=(11.0, 1.8, 0.86), locks_from_gear=3),
        Tire(0.33, grip=1.1),
        Drive(1750, "throttle", shift_rpm=4350),
    )  # fmt: skip


def belt_drive(u: Draw) -> CarSpec:
    """A belt and a centrifugal clutch: there are no gears."""
    torque = ((0, 20), (3000, 70), (6500, 118), (8200, 122), (9200, 95))
    return CarSpec(
        Body(u(330, 420), u(0.5, 0.6), geometry_m=(1.8, 0.42, 0.95)),
        Engine(torque, u(0.03, 0.05), 9400, 1600),
        Box((1.0,), 2.6, "belt", belt=(0.75, 3.6, u(7900, 8300), 1.6), inertias_kgm2=(0.009, 0.3)),
        Clutch("centrifugal", centrifugal=(0.0012, 380, 0)),
        Tire(0.3, grip=1.5, inertia_kgm2=1.6, shafts=(5000, 40, 0.02)),
        Drive(4200, "idle", shift_rpm=9900),
        (7600, 8700),
    )


def one_ratio(u: Draw) -> CarSpec:
    """One ratio, weights and a timed cylinder on the clutch, to 1000 ft."""
    torque = ((0, 900), (4000, 2300), (6500, 2600), (8200, 2350), (9000, 1900))
    return CarSpec(
        Body(u(950, 1050), u(0.8, 1.0), geometry_m=(7.0, 0.45, 5.0), lift_area_m2=1.2),
        Engine(torque, u(0.35, 0.45), 8700, 2300),
        Box((1.0,), 4.2, "single", churning=2.0),
        Clutch("centrifugal", centrifugal=(0.0016, 420, 350), timed=(1500, 0.8)),
        Tire(0.44, u(0.03, 0.05), 3.6, relaxation_m=0.8, inertia_kgm2=12, shafts=(60000, 700, 0.02)),
        Drive(4200, "idle", shift_rpm=9900, burnout=(2.5, 5.5, 35), finish_m=304.8),
        (6500, 8600),
    )


def motorcycle(u: Draw) -> CarSpec:
    """Six gears by a cut; its front wheel is light."""
    torque = ((0, 20), (4000, 78), (8000, 108), (10500, 112), (12300, 98), (13500, 60))
    return CarSpec(
        Body(u(275, 310), u(0.36, 0.44), geometry_m=(1.6, 0.6, 0.93), undriven_inertia_kgm2=0.5),
        Engine(torque, u(0.018, 0.024), 13000, 1350, (4, 0.0012)),
        Box((2.6, 2.05, 1.72, 1.49, 1.33, 1.22), 4.0, "sequential", cut=(0.055, 0.016, 0.03),
            inertias_kgm2=(0.003, 0.12)),
        Clutch(most_nm=210, bite=(0.22, 1.1, 1.0)),
        Tire(0.315, grip=1.7, relaxation_m=0.2, inertia_kgm2=0.75, shafts=(3600, 25, 0.02)),
        Drive(7600, shift_rpm=12500),
    )  # fmt: skip


def motor_on_the_crank(u: Draw) -> CarSpec:
    """An electric motor helps; six gears that take over from each other."""
    torque = ((0, 150), (2500, 330), (5000, 420), (7200, 395), (8200, 330))
    return CarSpec(
        Body(u(1420, 1540), u(0.58, 0.66)),
        Engine(torque, u(0.2, 0.26), 8200, motor=(u(160, 220), u(55000, 75000))),
        Box((3.1, 2.15, 1.63, 1.3, 1.07, 0.9), 3.9, "overlap", overlap=(0.0, 0.035, 0.2, 1.6, 0.05, 0.3)),
        Clutch("direct", 750, (0.4, 0.5, 1.0)),
        Tire(0.34, grip=2.1),
        Drive(4300, "throttle", shift_rpm=7900),
    )


def diesel_pickup(u: Draw) -> CarSpec:
    """Slow shifts by hand within a small range of engine speed."""
    torque = ((0, 110), (1500, 260), (2600, 330), (3800, 290), (4500, 210), (5200, 80))
    return CarSpec(
        Body(u(1950, 2150), u(0.95, 1.1)),
        Engine(torque, u(0.4, 0.5), 4900, 800, boost_kpa=u(130, 180), spools=(2000, 350, 0.35), by_fuel=True),
        Box((4.1, 2.4, 1.55, 1.15, 0.9, 0.73), 3.5, lever=(0.07, 0.16, 180, 0.16)),
        Clutch(most_nm=1250, bite=(0.3, 0.8, 1.0)),
        Tire(0.36, grip=1.1, inertia_kgm2=6),
        Drive(2700, "throttle", shift_rpm=4400),
    )


def ecu_alone(u: Draw) -> CarSpec:
    """Four gears by a cut; there is no dash."""
    car = high_revving(u)
    box = replace(car.box, ratios=(2.5, 1.8, 1.39, 1.12), final=4.3)
    body = replace(car.body, mass_kg=car.body.mass_kg + 150)
    return replace(car, body=body, box=box, engine=replace(car.engine, torque=_stronger(car.engine.torque, 1.1)))


def slow_receiver(u: Draw) -> CarSpec:
    """By hand; the ECU knows engine speed alone, the dash a slow GPS."""
    car = lever_saloon(u)
    engine = replace(car.engine, torque=_stronger(car.engine.torque, 1.4))
    return replace(car, engine=engine, clutch=replace(car.clutch, most_nm=650), tire=replace(car.tire, grip=1.7))


def bands_behind_clutch(u: Draw) -> CarSpec:
    """A slipping, chattering clutch before planetary gears that air shifts without a cut."""
    torque = ((0, 300), (4500, 780), (7000, 900), (8800, 840), (9600, 700))
    return CarSpec(
        Body(u(1050, 1180), u(0.55, 0.66), geometry_m=(2.6, 0.5, 1.5), undriven_m=0.31),
        Engine(torque, u(0.22, 0.3), 9500),
        Box((2.45, 1.75, 1.3, 1.0), 4.1, "overlap", overlap=(0.0, 0.02, 0.4, 2.2, 0.1, 0.0)),
        Clutch(most_nm=1350, bite=(0.42, 1.1, 0.8), judder=0.12),
        Tire(0.41, u(0.02, 0.04), 2.7, relaxation_m=0.6, inertia_kgm2=8, shafts=(30000, 300, 0.02)),
        Drive(6300, shift_rpm=9000, burnout=(2.5, 5.0, 30)),
    )


def missed_gear(u: Draw) -> CarSpec:
    """A gear by hand that is not found at first."""
    car = lever_saloon(u)
    box = replace(car.box, misses=(2 + int(u(0, 1) < 0.5), u(0.45, 0.65)))
    engine = replace(car.engine, torque=_stronger(car.engine.torque, 1.3))
    drive = replace(car.drive, shift_rpm=6700)
    return replace(car, box=box, engine=engine, clutch=replace(car.clutch, most_nm=600), drive=drive, says=("miss",))


def driver_pedals(u: Draw) -> CarSpec:
    """Too much power: the tires spin, and the driver lifts."""
    car = wheels_up(u)
    return replace(
        car,
        body=replace(car.body, geometry_m=(2.6, 0.5, 1.35)),
        engine=replace(car.engine, boost_kpa=120, threshold_kpa=60),
        clutch=replace(car.clutch, bite=(0.35, 0.6, 1.0), feel=3.5),
        tire=replace(car.tire, grip=1.6),
        drive=replace(car.drive, launch_rpm=6000, pedals=2, hop_s=0.0, burnout=(2.5, 5.0, 32)),
        says=("lift", "pedal"),
    )


def early_lift(u: Draw) -> CarSpec:
    """The driver lifts before the finish."""
    car = high_revving(u)
    return replace(car, drive=replace(car.drive, lifts_at_m=u(225, 330)))


def slips_on_top(u: Draw) -> CarSpec:
    """The clutch gives way in the last gear."""
    car = high_revving(u)
    clutch = replace(car.clutch, gives_way=238 * u(0.9, 0.95))
    return replace(car, box=replace(car.box, ratios=(2.5, 1.8, 1.4, 1.15)), clutch=clutch, says=("clutch slip",))


def tire_shakes(u: Draw) -> CarSpec:
    """The tires shake in first gear."""
    car = bands_behind_clutch(u)
    drive = replace(car.drive, shake=(0.75, 1.35, u(9, 13), 0.75))
    return replace(car, clutch=replace(car.clutch, judder=0.0), drive=drive, says=("shake", "vibrat", "oscill"))


def four_by_hand(u: Draw) -> CarSpec:
    """Eight cylinders with four gears by hand."""
    car = eight_cylinders(u)
    box = Box((2.66, 1.78, 1.3, 1.0), 4.1, lever=(0.045, 0.08, 260, 0.09))
    drive = replace(car.drive, launch_rpm=4200, held_by="two-step")
    return replace(car, box=box, clutch=Clutch(most_nm=1000), tire=replace(car.tire, grip=1.6), drive=drive)


_ALL = (
    lever_saloon, flat_foot, high_revving, wheels_up, dual_clutch, eight_cylinders, three_gears, diesel_automatic,
    belt_drive, one_ratio, motorcycle, motor_on_the_crank, diesel_pickup, ecu_alone, slow_receiver,
    bands_behind_clutch, two_gears_eighth, four_by_hand, missed_gear, driver_pedals, early_lift, slips_on_top,
    tire_shakes,
)  # fmt: skip
KINDS: Mapping[str, Callable[[Draw], CarSpec]] = {kind.__name__: kind for kind in _ALL}
"""By name."""
TROUBLES = ("missed_gear", "driver_pedals", "slips_on_top", "tire_shakes")
"""Kinds with a trouble that their logs show."""


def draw_car(kind: str, rng: np.random.Generator) -> CarSpec:
    """One car of a kind: what is common to all is drawn first, then what is its own, then a little off each."""
    u = Draw(rng)
    car = KINDS[kind](u)
    tire, body, box, engine = car.tire, car.body, car.box, car.engine
    shafts = (tire.shafts[0] * u(0.8, 1.25), tire.shafts[1], u(0.01, 0.03))
    if tire.growth == Tire.growth:
        tire = replace(tire, growth=u(0.002, 0.012))
    tire = replace(
        tire, radius_m=tire.radius_m * u(0.98, 1.02), peak_slip=u(0.09, 0.16), sliding=u(0.72, 0.86),
        load_loss=u(0.02, 0.1), rubber=u(-0.04, 0.03), relaxation_m=tire.relaxation_m * u(0.7, 1.3), shafts=shafts,
    )  # fmt: skip
    body = replace(
        body, mass_kg=round(body.mass_kg, 1), undriven_m=body.undriven_m * u(0.97, 1.03),
        lift_area_m2=body.lift_area_m2 or u(-0.05, 0.08), rolling=(u(0.01, 0.015), u(0, 0.002), u(0.0008, 0.003)),
        pitch=(u(0.05, 0.12), u(1.5, 2.4), u(0.0008, 0.0022)),
    )  # fmt: skip
    box = replace(
        box, ratios=tuple(round(ratio * u(0.985, 1.015), 3) for ratio in box.ratios),
        final=round(box.final * u(0.98, 1.02), 3), efficiency=u(0.93, 0.97),
        churning=max(u(0.08, 0.35), box.churning if box.churning > 1.0 else 0.0),
    )  # fmt: skip
    drive = replace(car.drive, two_step_band_rpm=u(60, 260))
    band = car.band_rpm if car.band_rpm[1] else (round(0.74 * drive.shift_rpm, -2), round(drive.shift_rpm, -2))
    return replace(car, body=body, engine=engine, box=box, tire=tire, drive=drive, band_rpm=band)
