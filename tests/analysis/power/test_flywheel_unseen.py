"""A drive without a fixed ratio: power to the ground stands, nothing is said of the flywheel."""

from dataclasses import replace

from passband.analysis.power.flywheel_unseen import without_flywheel
from passband.analysis.results.gears import GearBasis, Gears
from passband.analysis.results.unknown import Unknown
from tests.analysis.power.test_measure import PULL, codes, power_of

FLYWHEEL = (
    "average_w average_pulling_w average_over_distance_w peak_w corrected_average_w clutch_heat_j bmep_pa".split()
)


def test_only_the_ground_is_left():
    power, _ = power_of()
    left = without_flywheel(power)
    assert all(isinstance(getattr(left, name), Unknown) for name in FLYWHEEL)
    assert left.average_wheel_w == power.average_wheel_w and left.work_j == power.work_j
    assert left.curves == () and left.shares == ()


def test_a_run_without_a_fixed_ratio_has_no_flywheel_power_and_says_so():
    power, findings = power_of(replace(PULL, gears=Gears(GearBasis.GLIDES, (), ()), shifts=()))
    assert isinstance(power.average_w, Unknown) and "flywheel-power-not-known" in codes(findings)
    assert power.average_wheel_w.value > 0.0
