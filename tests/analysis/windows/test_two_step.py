"""Where a two-step's ripple ends."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.quantities import FloatArray
from passband.analysis.windows.two_step import ripple_end

STEP_S, PERIOD_S, ENDS_S = 0.01, 0.2, 4.0


def _engine(rpm: FloatArray) -> Channel:
    return Channel("engine_speed", "rpm", "rpm", "", STEP_S * np.arange(rpm.size), rpm, 1 / STEP_S, 1.0, 0)


def _rippling() -> FloatArray:
    """Planted: 100 rpm to either side every 0.2 s, until at 4 s the engine sinks."""
    time_s = np.arange(0.0, 5.0, STEP_S)
    ripple = 4000.0 + 100.0 * np.cos(2 * np.pi * time_s / PERIOD_S)
    return np.where(time_s < ENDS_S, ripple, 4100.0 - 800.0 * (time_s - ENDS_S))


def test_the_end_of_a_ripple_is_found() -> None:
    found = ripple_end(_engine(_rippling()), first_s=0.0, last_s=5.0)
    assert found is not None
    assert found.time_s == pytest.approx(ENDS_S, abs=PERIOD_S)


def test_a_peak_that_is_hidden_does_not_end_it() -> None:
    # Planted: one peak of twenty is missing, as noise hides it.
    rpm = _rippling()
    time_s = STEP_S * np.arange(rpm.size)
    rpm[(time_s > 1.9) & (time_s < 2.1)] = 3900.0
    found = ripple_end(_engine(rpm), first_s=0.0, last_s=5.0)
    assert found is not None
    assert found.time_s == pytest.approx(ENDS_S, abs=PERIOD_S)
