"""When a limit's time is, and where the car was then. By hand."""

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.engine.run_times import RunTimes, Whereabouts
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.gears import GearBasis, GearInterval, Gears
from passband.analysis.results.window import OtherEvent, OtherEventKind
from passband.analysis.windows.window import RunWindow

EVENTS = (OtherEvent(OtherEventKind.BURNOUT, 5.0, 9.0), OtherEvent(OtherEventKind.DRY_HOP, 11.0, 12.0))
WINDOW = RunWindow(19.7, 0.05, 40.0, 31.0, EVENTS, ("engine_speed",))


@dataclass
class Way:
    time_s = np.array([0.0, 1.0, 2.0])
    distance_m = np.array([0.0, 10.0, 30.0])


def test_a_logs_own_times_become_elapsed_times():
    times = RunTimes.of(WINDOW, start_s=20.0, end_s=10.0)
    assert times.spans("run") == ((0.0, 10.0),) and times.spans("burnout") == ((-15.0, -11.0),)
    assert math.isclose(times.launch_s, -0.3) and times.spans("after") == ((10.0, math.inf),)


def test_staging_begins_after_a_burnout_that_is_near():
    near = RunTimes(launch_s=-0.3, end_s=10.0, burnouts=((-9.0, -4.0),))
    assert near.spans("staging") == ((-4.0, -0.3),)
    assert RunTimes(launch_s=0.0, end_s=10.0).spans("staging") == ((-8.0, 0.0),)


def test_a_moment_has_its_place_and_its_gear_as_far_as_they_are_known():
    gears = Gears(GearBasis.GIVEN, (Estimate(9.0, 0.1),), (GearInterval(1, 0.0, 1.5),))
    where = Whereabouts(Way(), gears)
    assert where.distance_m(1.5) == 20.0 and where.gear(1.0) == 1
    assert where.distance_m(2.5) is None and where.gear(1.9) is None
    assert Whereabouts(None, None).distance_m(1.0) is None and Whereabouts(None, None).gear(1.0) is None
