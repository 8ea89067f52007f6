"""A receiver that repeats its last speed is told, with what is open there. Truth is planted."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.motion.repeated_speed import tell_repeats
from passband.analysis.results.distance import SpeedBasis

TIME_S = np.arange(-1.0, 10.0, 0.005)
BETWEEN = (TIME_S > 3.0) & (TIME_S < 4.0)
MOTION = Motion(
    TIME_S,
    8.0 * TIME_S,
    np.where(BETWEEN, 0.7, 0.1),
    np.full(TIME_S.size, 8.0),
    np.full(TIME_S.size, 0.5),
    4.0 * TIME_S**2,
    np.full(TIME_S.size, 0.1),
    np.full(TIME_S.size, np.nan),
    np.zeros(TIME_S.size, dtype=bool),
    SpeedBasis.GPS,
    None,
    (),
)


def receiver(*, misses_s):
    time_s = np.arange(-2.0, 12.0, 0.1)
    values = np.round(np.maximum(8.0 * time_s, 0.0), 3)
    first_s, back_s = misses_s
    values[(time_s > first_s + 0.01) & (time_s < back_s - 0.01)] = round(8.0 * first_s, 3)
    return Traces((Channel("gps_speed", "GPS", "m/s", "m/s", time_s, values, 10.0),))


@pytest.mark.parametrize(("back_s", "level"), [(3.8, "caution"), (3.3, "note")])
def test_repeats_are_told_with_what_they_leave_open(back_s, level):
    (told,) = tell_repeats(receiver(misses_s=(3.0, back_s)), MOTION, ("gps_speed",))
    assert (told.code, told.level) == ("speed-repeated", level)
    assert f"from 3.00 to {back_s:.2f} s by {8 * (back_s - 3.0):.1f} m/s" in told.text
    assert "+- 0.70 m/s (elsewhere 0.10 m/s)" in told.text


def test_a_speed_that_the_run_does_not_rest_on_or_that_repeats_nothing_within_it_is_not():
    assert tell_repeats(receiver(misses_s=(3.0, 3.8)), MOTION, ("wheel_speed_fl",)) == []
    assert tell_repeats(receiver(misses_s=(3.0, 3.1)), MOTION, ("gps_speed",)) == []
    assert tell_repeats(receiver(misses_s=(10.5, 11.2)), MOTION, ("gps_speed",)) == []
