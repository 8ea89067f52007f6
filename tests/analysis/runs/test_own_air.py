"""How an engine goes with the air, learnt of its own runs: planted engines, and runs that tell nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.runs.change import compare_groups
from passband.analysis.runs.digest import RunDigest, digest_run
from passband.analysis.runs.own_air import learn_of_digests
from passband.analysis.runs.season_sheet import make_season_sheet
from tests.analysis.runs.planted_engine import WARM, engine_run

SCATTER = 0.003
"""Of a run's power as a whole, one sigma: what wind and day do to a clean run. [-]"""


def season(rng, exponent, *, meetings=4, of_each=6, span_k=12.0):
    """Runs over several meetings, warm and cool within each; each meeting has a level of its own."""
    runs, beside = [], []
    for meeting in range(meetings):
        level, mid_k = rng.normal(0.0, 0.02), rng.uniform(285.0, 305.0)
        for number in range(of_each):
            warm_k = mid_k + rng.uniform(-span_k / 2, span_k / 2)
            share = np.exp(level + rng.normal(0.0, SCATTER)) * (warm_k / 293.15) ** exponent
            runs.append(digest(f"{meeting}.{number}", rng, share, warm_k))
            beside.append(meeting)
    return runs, beside


def digest(label, rng, share, warm_k) -> RunDigest:
    # the planted engine goes with a power of the temperature by itself
    fair = share * (warm_k / 293.15) ** -WARM
    return digest_run(engine_run(label, rng, gain=lambda _: float(fair), temperature_k=warm_k, wind=0.0, noise=0.002))


@pytest.mark.parametrize("exponent", [-0.6, -0.4, -0.25, 0.0])
def test_a_planted_exponent_is_found_and_its_plus_minus_holds_and_is_narrower(exponent):
    # Planted: 40 seasons each; at 95 %, 33 or fewer of 40 come once in 300
    rng = np.random.default_rng(int(100 - 100 * exponent))
    found = [learn_of_digests(*season(rng, exponent)) for _ in range(40)]
    learnt = [one for one in found if one is not None]
    assert len(learnt) >= 30
    assert sum(abs(one.temperature - exponent) <= one.temperature_plus_minus for one in learnt) >= 0.83 * len(learnt)
    assert np.median([one.temperature_plus_minus for one in learnt]) < 0.3 < 0.35


def test_a_narrow_span_of_temperature_leaves_the_published_rules():
    rng = np.random.default_rng(7)
    assert learn_of_digests(*season(rng, -0.5, span_k=1.0)) is None


def test_few_runs_teach_nothing():
    rng = np.random.default_rng(7)
    assert learn_of_digests(*season(rng, -0.5, meetings=2, of_each=2)) is None
    assert learn_of_digests([], []) is None


def test_copies_of_one_log_teach_nothing():
    # Regression: rounding was taken for scatter, so that 12 copies taught an exponent of 4, or an event had no sheet
    one = season(np.random.default_rng(7), -0.5, meetings=1, of_each=1)[0][0]
    assert all(learn_of_digests([one] * count, [0] * count) is None for count in range(5, 40))


def test_levels_of_meetings_teach_nothing():
    # Planted: within a meeting all runs have one air, between them power follows no air at all
    rng = np.random.default_rng(8)
    runs = [
        digest(f"{m}.{n}", rng, np.exp(0.05 * m + rng.normal(0.0, SCATTER)), 290.0 + 5 * m)
        for m in range(4)
        for n in range(5)
    ]
    assert learn_of_digests(runs, [one.label[0] for one in runs]) is None


def test_runs_of_unknown_air_are_left_out():
    rng = np.random.default_rng(9)
    runs, beside = season(rng, -0.5)
    alone = replace(runs[0], air=None)
    assert learn_of_digests([alone, *runs[1:]], beside) == learn_of_digests(runs[1:], beside[1:])


def test_a_sheet_says_that_it_went_by_the_engines_own_runs():
    rng = np.random.default_rng(10)
    runs, _ = season(rng, -0.5, meetings=1, of_each=24, span_k=20.0)
    (rule,) = make_season_sheet(runs).air_rules
    assert "as this engine's own 24 clean runs in different air show it" in rule
    assert "all that the published rules have" in make_season_sheet(runs[:3]).air_rules[0]


def test_two_cars_on_one_sheet_are_each_brought_into_their_own_air():
    rng = np.random.default_rng(11)
    runs, _ = season(rng, -0.25, meetings=1)
    other = [replace(one, before_shifts={**one.before_shifts, "car": "Bittern"}) for one in runs]
    rows = make_season_sheet([*runs, *other]).runs
    alone = make_season_sheet(runs).runs
    assert [row["elapsed_same_air_s"] for row in rows[: len(runs)]] == [row["elapsed_same_air_s"] for row in alone]


def test_a_change_between_groups_in_different_air_goes_by_the_engines_own_runs():
    # Planted: the engine goes with nothing of the temperature; after the change it is 12 K warmer, and no change
    rng = np.random.default_rng(12)

    def some(name, mid_k):
        warm = mid_k + np.linspace(-8.0, 8.0, 12)
        shares = np.exp(rng.normal(0.0, 0.002, 12)) * (warm / 293.15) ** -WARM
        return [
            engine_run(f"{name}{n}", rng, gain=lambda _, s=s: float(s), temperature_k=float(k), wind=0.0, noise=0.002)
            for n, (s, k) in enumerate(zip(shares, warm, strict=True))
        ]

    got = compare_groups(some("b", 288.0), some("a", 300.0))
    assert any("this engine's own 24 clean runs" in one.text for one in got.findings)
    ratios = [one.ratio for one in got.power_ratio]
    assert all(abs(one.value - 1.0) <= one.plus_minus for one in ratios)
    opened = max(abs(part.effect) for one in ratios for part in one.shared if "temperature" in part.cause)
    assert opened < 0.35 * np.log(300.0 / 288.0)
