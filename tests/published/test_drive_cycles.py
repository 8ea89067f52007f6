"""Speed to distance on published drive cycles: the lengths that the agency states.

Source: US EPA dynamometer drive schedules, stated lengths 7.45 mi (UDDS) and 10.26 mi (HWFET); public domain, the
1 Hz speed traces as carried by the package fastsim 3.1.0.
"""

from pathlib import Path

import numpy as np
import pytest

from passband.analysis.motion.fusion import SpeedSensor, fuse_speed

DATA = Path(__file__).parent / "data"
MILE_M = 1609.344


def cycle(name):
    rows = np.genfromtxt(DATA / f"{name}.csv", delimiter=",", skip_header=1)
    return rows[:, 0], rows[:, 1]


@pytest.mark.parametrize(("name", "miles"), [("udds", 7.45), ("hwfet", 10.26)])
def test_the_stated_length_comes_out_of_the_smoother(name, miles):
    # published (EPA): stated to two decimals of a mile
    time, speed = cycle(name)
    sensor = SpeedSensor(name, time, speed, 0.02, 0.0, 1e-5, 0.0)
    posterior = fuse_speed([sensor], None, span_s=(float(time[0]), float(time[-1]) - 0.1), rest_until_s=time[0])
    assert posterior.distance[-1] / MILE_M == pytest.approx(miles, rel=0.002)
