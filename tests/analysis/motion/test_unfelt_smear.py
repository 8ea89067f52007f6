"""Without an accelerometer a receiver's smear is what its lateness makes likely, and the rest stays open."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.motion.fusion import SpeedSensor, fuse_speed
from passband.analysis.motion.posterior import Posterior
from passband.analysis.motion.unfelt_smear import more_smeared, take_smear_in
from passband.analysis.quantities import FloatArray

LAUNCH_S = 1.0
KEPT_S2 = 0.003


def _speed(time_s: FloatArray) -> FloatArray:
    """Planted: pulls at 9 m/s2, falling off with speed, from a standing start."""
    return np.asarray(45.0 * (1.0 - np.exp(-np.maximum(time_s - LAUNCH_S, 0.0) / 5.0)))


def _fit(late_s: float, *, driveline: bool = True) -> tuple[Posterior, Posterior, SpeedSensor]:
    rng = np.random.default_rng(4)
    gps_s, engine_s = np.arange(1.7, 10.0, 0.1), np.arange(2.2, 10.0, 0.04)
    shown = _speed(gps_s - late_s) + rng.normal(0.0, 0.03, gps_s.size)
    awake = shown > 1.5
    gps = SpeedSensor("gps", gps_s[awake], shown[awake], 0.03, 0.2, 0.13, 0.0, smear_s2=KEPT_S2)
    tires = 1.02 * _speed(engine_s) + rng.normal(0.0, 0.1, engine_s.size)
    beside = SpeedSensor("driveline", engine_s, tires, 0.15, 0.0, 0.008, 0.02)
    extra = {"smeared start": (0.0, 1.0)}
    first, second = (
        fuse_speed([beside, one] if driveline else [one], None, span_s=(0.0, 10.0), rest_until_s=LAUNCH_S, extra=extra)
        for one in (gps, more_smeared(gps))
    )
    return first, second, gps


def _open_m(late_s: float, **how: bool) -> float:
    """What is open of the way gone after a second and a half, a deviation."""
    posterior, smeared, gps = _fit(late_s, **how)
    take_smear_in(posterior, smeared, gps)
    step_s = float(posterior.time_s[1] - posterior.time_s[0])
    return abs(float(posterior.modes["smeared start"][posterior.time_s < LAUNCH_S + 1.5].sum()) * step_s)


def test_a_prompt_receiver_leaves_less_open_than_a_late_one() -> None:
    # By arithmetic: what is open goes with the lateness squared, nine times from 0.1 to 0.3 s
    prompt, late = _open_m(0.1), _open_m(0.3)
    assert late > 4.0 * prompt


def test_a_lateness_that_nothing_shows_tells_of_no_smear() -> None:
    # The lone receiver sets the clock itself: a usual smear, whatever its lateness
    posterior, smeared, gps = _fit(0.3, driveline=False)
    before = posterior.mean.copy()
    take_smear_in(posterior, smeared, gps)
    assert posterior.mean == pytest.approx(before)
    assert np.any(posterior.modes["smeared start"])


def test_a_smear_more_is_less_way_at_the_start() -> None:
    # Planted: the more a receiver smooths, the later the car truly was where its first values show it
    posterior, smeared, _ = _fit(0.2)
    count = posterior.time_s.size
    early = (posterior.time_s > LAUNCH_S) & (posterior.time_s < LAUNCH_S + 0.5)
    assert (smeared.mean[:count] - posterior.mean[:count])[early].sum() < 0.0
