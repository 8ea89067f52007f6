"""A header that says seconds over a count of milliseconds is refuted by the engine; whole seconds are not."""

import numpy as np
import pytest

from passband.analysis.reading import read_log


def engine(time_s):
    """By hand: idle, then three gears from 5000 to 8500 rpm."""
    corners = [0.0, 8.0, 8.3, 10.5, 10.55, 13.0, 13.05, 16.0, 17.0, 22.0]
    return np.interp(time_s, corners, [1000, 1000, 5000, 8500, 5600, 8500, 6200, 8500, 2500, 1200])


def log(times, rpm, unit):
    rows = "\n".join(f"{t:g},{r:.0f}" for t, r in zip(times, rpm, strict=True))
    return read_log(f"Time [{unit}],RPM\n{rows}\n".encode(), name="ecu.csv")[0]


def channel(found):
    return next(one for one in found.channels if one.name == "engine_speed")


@pytest.mark.parametrize("step_ms", [1, 2, 4, 5, 10, 20])
def test_milliseconds_called_seconds_are_read_as_what_they_are(step_ms):
    time_ms = np.arange(0, 22000, step_ms)
    found = log(time_ms, engine(time_ms / 1e3), "s")
    assert channel(found).time_s[-1] == pytest.approx(22.0, abs=0.05)
    assert any(one.code == "time-unit-assumed" and one.level == "caution" for one in found.findings)


def test_an_hour_at_one_row_a_second_stays_an_hour():
    # Planted: a drive; each second the engine turns at another speed
    time_s = np.arange(0.0, 3600.0)
    rpm = engine((time_s * 7.3) % 22.0)
    assert channel(log(time_s, rpm, "s")).time_s[-1] == pytest.approx(3599.0)


def test_idling_for_an_hour_tells_nothing():
    time_s = np.arange(0.0, 3600.0)
    assert channel(log(time_s, 1000.0 + 20.0 * np.sin(time_s / 9.0), "s")).time_s[-1] == pytest.approx(3599.0)
