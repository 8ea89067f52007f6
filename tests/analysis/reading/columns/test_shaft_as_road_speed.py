"""A shaft behind the gears told as a road speed."""

import pytest

from tests.analysis.reading.columns.test_plausibility import RISE, read

ENGINE = {"RPM": 2000 + 5000 * RISE, "TPS [%]": 100 * RISE, "MAP [kPa]": 33 + 200 * RISE}


@pytest.mark.parametrize("name", ["Gearbox Speed", "Transmission Speed", "Tailshaft Speed", "Speedometer"])
@pytest.mark.parametrize(("unit", "mps"), [("km/h", 1 / 3.6), ("mph", 0.44704)])
def test_its_road_speed_is_the_driven_wheels(name, unit, mps):
    log = read(**ENGINE, **{f"{name} [{unit}]": 100 * RISE})
    speed = log.get("wheel_speed_driven")
    assert speed.unit == "m/s"
    assert speed.values[-1] == pytest.approx(100 * RISE[-1] * mps)
    assert [finding.code for finding in log.findings] == ["speed-of-which-wheel"]


def test_turns_at_the_gearbox_may_be_of_the_shaft_before_the_gears():
    log = read(**ENGINE, **{"Gearbox Speed [rpm]": 5000 * RISE})
    assert {channel.name for channel in log.channels}.isdisjoint({"driveshaft_speed", "wheel_speed_driven"})
