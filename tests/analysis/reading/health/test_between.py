"""Plausibility between channels, all checks in one call."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.given.car import Car
from passband.analysis.reading import check_between_channels
from tests.analysis.reading.health.test_speed_scale import CAR, RPM, SPEED, TIME, a_log


def afr_log(afr, written="AFR"):
    lam = Channel("lambda_1", "AFR 1", "", written, TIME, np.full(TIME.size, afr / 14.7), 100.0, 0.9)
    log = a_log(engine_speed=RPM)
    return replace(log, channels=(*log.channels, lam))


def test_sound_logs_come_back_unchanged():
    log = a_log(engine_speed=RPM, wheel_speed_driven=SPEED)
    assert check_between_channels([log], CAR) == (log,)


def test_the_fuels_own_ratio_is_used_where_petrols_cannot_be():
    methanol = Car(name="x", fuel_stoichiometric_afr=6.45)
    (log,) = check_between_channels([afr_log(5.2)], methanol)
    (finding,) = log.findings
    assert log.get("lambda_1").values[0] == pytest.approx(5.2 / 6.45)
    assert finding.level == "note"


@pytest.mark.parametrize(("ratio", "own"), [(5.2, 6.45), (8.1, 9.0)])
def test_an_not_given_alcohol_is_guessed_by_its_ratios_with_a_caution(ratio, own):
    (log,) = check_between_channels([afr_log(ratio)], Car(name="x"))
    (finding,) = log.findings
    assert log.get("lambda_1").values[0] == pytest.approx(ratio / own)
    assert finding.level == "caution"


def test_a_gauge_on_petrols_scale_stays_for_any_fuel():
    methanol = Car(name="x", fuel_stoichiometric_afr=6.45)
    (log,) = check_between_channels([afr_log(12.5)], methanol)
    assert log.get("lambda_1").values[0] == pytest.approx(12.5 / 14.7) and log.findings == ()


def test_lambda_logged_as_lambda_is_never_rescaled():
    (log,) = check_between_channels([afr_log(5.2, written="lambda")], Car(name="x", fuel_stoichiometric_afr=6.45))
    assert log.get("lambda_1").values[0] == pytest.approx(5.2 / 14.7)


def test_a_speed_at_zero_while_another_log_moves_is_dead():
    ecu = a_log(engine_speed=RPM, wheel_speed_driven=0 * SPEED)
    log, _ = check_between_channels([ecu, a_log("dash.csv", gps_speed=SPEED)], CAR)
    assert np.isnan(log.get("wheel_speed_driven").values).all()
    assert [finding.code for finding in log.findings] == ["flat-channel"]


def test_a_bare_car_is_enough():
    log = a_log(engine_speed=RPM, gps_speed=SPEED)
    assert check_between_channels([log], Car(name="x")) == (log,)


def test_of_two_alcohols_that_fit_the_one_nearer_to_full_load_is_taken_and_both_are_told():
    # Hand: 7.8 / 9.0 = 0.87 is a run at full load, 7.8 / 6.45 = 1.21 a lean one
    (log,) = check_between_channels([afr_log(7.8)], Car(name="x"))
    assert log.get("lambda_1").values[0] == pytest.approx(7.8 / 9.0)
    assert "methanol (6.45) could be meant" in log.findings[0].text
