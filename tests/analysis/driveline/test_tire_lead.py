"""Slip told from a wrong circumference: each planted, alone and where a run cannot tell."""

import numpy as np
import pytest

from passband.analysis.driveline.tire_lead import Lead, LeadCause, effort_of, explain_lead, tell_lead

TIME = np.arange(0.0, 8.0, 0.01)
SPEED = 15.0 + 50.0 * (1.0 - np.exp(-TIME / 4.0)) / (1.0 - np.exp(-2.0))
PULL = 1.0 * np.exp(-TIME / 6.0)
GROWTH = 0.015 * (SPEED / 70.0) ** 2


def explain(lead, pull=PULL, speed=SPEED, told=True):
    return explain_lead(Lead(lead, pull, speed), axle="rear", given=told, each=0.04)


def with_roll_out(lead, scale=0.0):
    """A second of rolling after the pull: growth and scale alone are left of the lead."""
    rolls = np.full(100, 60.0)
    after = scale - 0.015 * (rolls / 70.0) ** 2
    return np.append(lead, after), np.append(PULL, np.full(100, -0.02)), np.append(SPEED, rolls)


def codes(found, pull=PULL):
    return [finding.code for finding in tell_lead(found, pull[pull > 0])]


def test_the_usual_slip_is_as_told():
    # Planted: 0.03 per g
    found = explain(0.03 * PULL - GROWTH)
    assert found.cause is LeadCause.AS_GIVEN and found.cause_odds > 0.9
    assert found.slip(PULL) == pytest.approx(0.03 * PULL, abs=0.002)
    assert codes(found) == []


@pytest.mark.parametrize("scale", [-0.05, -0.03, 0.04, 0.06])
def test_a_wrong_circumference_stays_at_every_pull(scale):
    # Planted
    found = explain(*with_roll_out(0.03 * PULL - GROWTH + scale, scale))
    assert found.cause is LeadCause.CIRCUMFERENCE and found.scale == pytest.approx(scale, abs=0.004)
    assert found.slip(PULL) == pytest.approx(0.03 * PULL, abs=0.005)
    assert codes(found) == ["circumference-disagrees"]


@pytest.mark.parametrize("slip", [0.06, 0.1, 0.16])
def test_steady_slip_is_none_once_the_car_rolls(slip):
    # Planted: a sixth of the work goes into the tires at most
    found = explain(*with_roll_out(slip - GROWTH))
    assert found.cause is LeadCause.STEADY_SLIP
    assert found.slip(PULL) == pytest.approx(np.full(PULL.size, slip), abs=0.005)
    assert found.slip(np.array([-0.05])) == pytest.approx([0.0])


@pytest.mark.parametrize("per_g", [0.12, 0.2])
def test_much_slip_falls_with_pull(per_g):
    found = explain(*with_roll_out(per_g * PULL - GROWTH))
    assert (found.cause is LeadCause.SLIP) == (per_g > 0.15)  # the lesser is a soft road tire's too
    assert found.slip(PULL) == pytest.approx(per_g * PULL, abs=0.01)
    assert codes(found) == ["tires-slip-throughout"]


@pytest.mark.parametrize("per_g", [0.06, 0.08, 0.1])
@pytest.mark.parametrize("growth", [0.0, 0.3])
def test_a_road_tires_slip_is_no_wrong_circumference(per_g, growth):
    # Planted: 6 to 10 % per g and next to no growth, over a pull that falls from 0.5 to 0.13 g: 0.8 to 5 % of lead
    pull = 0.5 * PULL
    found = explain(per_g * pull - growth * GROWTH, pull)
    assert found.cause is LeadCause.AS_GIVEN
    assert np.abs(found.slip(pull) - per_g * pull).max() < found.slip_plus_minus(pull).max() + 0.004
    assert codes(found, pull) == []


@pytest.mark.parametrize("scale", [-0.04, 0.04])
def test_a_wrong_circumference_on_road_tires_is_told(scale):
    pull = 0.5 * PULL
    found = explain(0.08 * pull - 0.3 * GROWTH + scale, pull)
    assert codes(found, pull) in (["circumference-disagrees"], ["slip-or-circumference"])


def test_at_one_pull_without_a_roll_out_it_may_be_either():
    # Limit: a lead of 7 % at one pull and a narrow range of speeds shows nothing of its cause
    pull, speed = np.full(200, 0.5), np.linspace(40.0, 45.0, 200)
    found = explain(np.full(200, 0.07), pull, speed)
    half = found.slip_plus_minus(pull)[0]
    assert abs(found.slip(pull)[0] - 0.04) <= half and abs(found.slip(pull)[0] - 0.075) <= half
    assert codes(found, pull) == ["slip-or-circumference"]


def test_without_a_circumference_told_none_is_wrong():
    found = explain(0.03 * PULL - GROWTH + 0.05, told=False)
    assert found.cause is LeadCause.AS_GIVEN and codes(found) == []


def test_nothing_measured_tells_nothing():
    assert tell_lead(None, PULL) == []


def test_effort_grows_as_grip_runs_out():
    # Hand: 0.8 / (1 - 0.65 x 0.8) = 1.667; no further than at three tenths of grip left
    assert effort_of(np.array([0.8, 5.0]), 0.65) == pytest.approx([1.6667, 5.0 / 0.3], rel=1e-3)
