"""Heat into the clutch against what the simulator's own clutch turned to heat: planted, on both models of the car."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.unknown import Unknown
from passband.demo_logs import proving
from tests.proving.cases import make_case, review_case

BEFORE_S = 1.0


@dataclass(frozen=True)
class Heat:
    """What the review found, and what happened."""

    found: Estimate | Unknown
    true_j: float


def heat_of(tmp_path, monkeypatch, kind: str, seed: int, model: str = "first") -> Heat:
    """A case reviewed, its drive kept."""
    drives = []

    def simulate(*given, **more):
        drives.append(proving_simulate(*given, **more))
        return drives[-1]

    proving_simulate = proving.simulate
    monkeypatch.setattr(proving, "simulate", simulate)
    case = make_case(tmp_path, kind, seed, model=model)
    answer = review_case(case)
    monkeypatch.setattr(proving, "simulate", proving_simulate)
    return Heat(answer.reviews[0].power.clutch_heat_j, true_heat(drives[0]))


def true_heat(drive) -> float:
    """Clutch torque times slip, over the drive's own steps, from its release to the end of the run but for shifts."""
    (facts,) = [event for event in drive.story.events if "clutch_release" in event]
    trace = drive.trace
    time_s = trace["time_s"]
    burns_w = np.abs(trace["clutch_torque_nm"] * (trace["engine_rads"] - trace["input_rads"]))
    use = (time_s >= facts["clutch_release"] - 0.6) & (time_s <= facts.get("abort", facts["end"]))
    for shift in facts["shifts"]:
        use &= (time_s < shift["time_start"]) | (time_s > shift["time_end"])
    return float(np.sum((burns_w * use)[:-1] * np.diff(time_s)))


@pytest.mark.parametrize("model", ["first", "second"])
@pytest.mark.parametrize("kind", ["plain_rear_lever", "plain_all_foot"])
def test_heat_is_what_the_clutch_burnt_within_its_plus_minus(tmp_path, monkeypatch, kind, model):
    heat = heat_of(tmp_path, monkeypatch, kind, 1, model)
    assert isinstance(heat.found, Estimate)
    assert abs(heat.found.value - heat.true_j) < heat.found.plus_minus


def test_behind_a_converter_there_is_no_clutch(tmp_path, monkeypatch):
    heat = heat_of(tmp_path, monkeypatch, "plain_converter", 1)
    assert isinstance(heat.found, Unknown) and "converter" in heat.found.reason.text
