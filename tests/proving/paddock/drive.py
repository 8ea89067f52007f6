"""One run: staged and held, let go, gear after gear, the finish or the lift, some seconds more.

Public: `Driven`, `Shifted`, `drive`, `COLUMNS`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

from tests.proving.paddock.changing import Wish, change_gear, is_done
from tests.proving.paddock.couplings import STUCK, through_clutch, through_converter, through_packs
from tests.proving.paddock.driver import WANDERS, Hands
from tests.proving.paddock.engine import STEP_S
from tests.proving.paddock.moving_car import Books, MovingCar
from tests.proving.paddock.specs import CarSpec, Day

FloatArray = npt.NDArray[np.float64]
COLUMNS = (
    "time_s", "way_m", "speed_mps", "accel_mps2", "engine_rads", "input_rads", "output_rads", "wheel_rads", "free_rads",
    "gear", "throttle", "spark", "manifold", "engine_nm", "gear_nm", "gear_rads", "pull_nm", "shaft_nm", "tire_n",
    "radius_m", "felt_mps2", "drag_n", "cut",
)  # fmt: skip
"""Time from the release; way from the start line; manifold pressure over the air's."""
LASTS_S = 60.0
"""No run is longer."""
PACKS_LAUNCH_S = 12.0
"""No pack slips at a launch later than this."""


@dataclass(frozen=True, slots=True)
class Shifted:
    """A change of gear as it went; times from the release."""

    gear: int
    """That was left."""
    begins_s: float
    """Foot, hand or box begin."""
    locked_s: float
    """The engine turns as the new gear has it."""
    missed: bool
    """Not found at once."""


@dataclass(frozen=True, slots=True)
class Driven:
    """A run as it was; times from the release."""

    spec: CarSpec
    day: Day
    of: dict[str, FloatArray]
    """By name of `COLUMNS`, each of shape (n,), every millisecond."""
    shifts: tuple[Shifted, ...]
    """In order."""
    lifted_s: float | None
    """A lift for good before the finish."""
    lifted_m: float
    """Where."""
    books: Books | None
    """Energy to the finish; None where it was not reached."""


def _gusts(day_sd: float, rng: np.random.Generator) -> list[float]:
    """Wind's wander about its mean every 10 ms, with a memory of 1.5 s."""
    kept = 1 - 0.01 / 1.5
    return lfilter([math.sqrt(2 * 0.01 / 1.5)], [1, -kept], rng.normal(0, day_sd, WANDERS)).tolist()


def drive(spec: CarSpec, day: Day, rng: np.random.Generator) -> Driven:
    """Drive a car once.

    Parameters
    ----------
    spec : CarSpec
        The car and its driver.
    day : Day
        The air.
    rng : numpy Generator
        Gusts, the foot's wander, where gears are changed and how quickly.

    Returns
    -------
    Driven
        From the hold on until some seconds past finish or lift.
    """
    gusts = _gusts(spec.strip.gust_mps, rng)
    car = MovingCar(spec, day)
    hands = Hands(car, rng)
    rows: list[tuple[float, ...]] = []
    shifts: list[Shifted] = []
    waits_s, goes_on_s, finish_m = spec.driver.waits_s, spec.driver.goes_on_s, spec.strip.finish_m
    now_s, finished_s, books = -waits_s, None, None
    for step in range(int(LASTS_S / STEP_S)):
        wish = _step(car, hands, now_s, gusts[min(WANDERS - 1, int((now_s + waits_s) * 100))])
        if finished_s is None and now_s >= 0 and car.way >= finish_m:
            finished_s, hands.finished, books = now_s, True, car.books
            books.kinetic = car.turning_j()
        _maybe_next_gear(car, hands, wish, now_s, shifts)
        if step % 2 == 0:
            rows.append(_row(car, hands, wish, now_s))
        now_s += STEP_S
        ends_s = finished_s if finished_s is not None else hands.lifted_s if spec.driver.shuts_off else None
        if ends_s is not None and now_s > ends_s + goes_on_s:
            break
    made = np.array(rows)
    of = {name: made[:, place] for place, name in enumerate(COLUMNS)}
    return Driven(spec, day, of, tuple(shifts), hands.lifted_s, hands.lifted_way, books)


def _step(car: MovingCar, hands: Hands, now_s: float, gust_mps: float) -> Wish:
    """One step of everything."""
    held, kind, before = now_s < 0, car.spec.take_up.kind, car.engine_rads
    wish = hands.ask(now_s)
    if hands.change is not None:
        change_gear(car, hands.change, wish, now_s)
        hands.shown = wish.shown
    car.engine.breathe(before, wish.throttle, 0.0 if hands.cut else wish.spark, held=held)
    nm = car.engine.turn(before, wish.throttle)
    car.feel_ground(now_s, gust_mps)
    car.wind_shafts()
    if kind == "clutch":
        through_clutch(car, nm, wish.grip, held=held)
    elif kind == "converter":
        through_converter(car, nm, since_s=now_s, shifting=hands.change is not None)
    else:
        if hands.change is None:
            launches = now_s < PACKS_LAUNCH_S and hands.shown == 1 and not car.spec.electric
            car.holds_old, car.holds_new = (car.pack_nm(wish.grip) if launches else STUCK), 0.0
        through_packs(car, nm)
    car.roll(held=held)
    if held:
        car.books.at_release = car.turning_j()
    elif not hands.finished:
        car.book(before)
    car.warm_clutch()
    car.turn_free_wheels()
    return wish


def _maybe_next_gear(car: MovingCar, hands: Hands, wish: Wish, now_s: float, shifts: list[Shifted]) -> None:
    change = hands.change
    if change is None or not is_done(car, change, now_s):
        return
    shifts.append(Shifted(car.gear, change.begins_s, change.locked_s or now_s, change.misses))
    car.gear, car.old_ratio = car.gear + 1, car.new_ratio
    car.holds_old, car.holds_new, car.new_ratio, car.new_nm = STUCK, 0.0, 0.0, 0.0
    hands.change, hands.shown, wish.shown = None, car.gear, car.gear


def _row(car: MovingCar, hands: Hands, wish: Wish, now_s: float) -> tuple[float, ...]:
    engine = car.engine
    return (
        now_s, car.way, car.speed, car.accel, car.engine_rads, car.input_rads, car.output_rads, car.wheel_rads,
        car.free_rads, car.gear if hands.change is None else hands.shown, engine.throttle, engine.spark,
        engine.manifold, engine.nm, car.gear_nm, car.gear_rads, car.pull_nm, car.shaft_nm, car.tire_n, car.radius,
        car.felt, car.drag_n, wish.flag,
    )  # fmt: skip
