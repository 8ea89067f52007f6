"""A motion bent to marks that its sensors contradict has no peak power."""

from dataclasses import replace

from passband.analysis.results.unknown import Unknown
from tests.analysis.power.test_measure import PULL, power_of


def test_a_bent_motion_has_averages_and_neither_peak_nor_curve():
    # Planted: the same pull with and without the mark of a bent motion
    straight, _ = power_of()
    bent, _ = power_of(replace(PULL, motion=replace(PULL.motion, bent=True)))
    assert isinstance(bent.peak_w, Unknown)
    assert bent.peak_w.reason.code == "peak-power-not-known"
    assert bent.average_w == straight.average_w
    assert bent.curves == ()
