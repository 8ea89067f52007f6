"""A review and its traces made by hand, so that the page can be tried without any log.

The figures are those of one invented run down a quarter mile; the traces are drawn to fit them.
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import polars as pl
import pytest

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.window import Outcome
from passband.analysis.runs.summary import FindingCounts, LimitCounts, RunSummary
from passband.web.shown.run import CarOfRun, RunShown

FT = 0.3048


def est(value: float, plus_minus: float) -> dict[str, float]:
    return {"value": value, "plus_minus": plus_minus}


SPLITS = [  # feet, ET, speed
    (60, 1.8468, 18.9), (330, 4.8681, 37.9), (660, 7.2428, 48.3), (1000, 9.2067, 57.9), (1320, 10.8132, 62.7),
]  # fmt: skip
SHIFTS = [  # gears, ET, end, metres, before, after, expected, boost before, recovery
    (1, 2, 3.031, 3.308, 44.07, 8505.0, 6205.0, 6433.0, 84200.0, 0.61),
    (2, 3, 4.901, 5.174, 101.79, 8470.0, 6424.0, 6556.0, 130300.0, 0.43),
    (3, 4, 7.155, 7.422, 196.88, 8475.0, 6659.0, 6765.0, 184000.0, 0.28),
    (4, 5, 10.160, 10.416, 361.74, 8442.0, 6921.0, 7024.0, 204200.0, None),
]


def shift(row: tuple[Any, ...]) -> dict[str, Any]:
    from_gear, to_gear, start, end, metres, before, after, expected, boost, recovery = row
    return {
        "from_gear": from_gear, "to_gear": to_gear, "time_s": start, "time_plus_minus_s": 0.006, "end_s": end,
        "duration_s": end - start, "distance_m": metres, "kind": "normal", "rpm_before": est(before, 12.0),
        "rpm_after": est(after, 45.0), "rpm_drop": est(before - after, 47.0), "expected_rpm_after": expected,
        "margin_to_band_low_rpm": after - 6400.0, "margin_to_band_high_rpm": 8600.0 - before,
        "boost_before_pa": boost, "boost_lowest_pa": -67040.0, "boost_recovery_s": recovery,
        "time_lost_s": 0.041, "speed_lost_mps": 0.92,
    }  # fmt: skip


def limit(
    name: str, channel: str, verdict: str, worst: float | None, unit: str, bound: float | None, side: str
) -> dict[str, Any]:
    known = worst is not None and bound is not None
    margin = None if not known else (worst - bound if side == "at_least" else bound - worst)  # type: ignore[operator]
    return {
        "name": name, "channel": channel, "verdict": verdict,
        "worst": worst, "unit": unit, "limit": bound, "side": side,
        "margin": margin, "margin_share": margin / abs(bound) if known and margin is not None and bound else None,
        "at_s": 7.31 if known else None, "at_distance_m": 204.2 if known else None, "gear": 3 if known else None,
        "time_outside_s": 0.18 if verdict == "outside" else (0.0 if known else None),
        "times_outside": 2 if verdict == "outside" else (0 if known else None),
        "outside": [[7.25, 7.34], [7.29, 7.38]] if verdict == "outside" else [],
        "margins": [[0.5 * n, 1.0 - 2.0 * (n == 15)] for n in range(22)] if known else [],
        "note": "" if known else "No log holds coolant_pressure.",
    }  # fmt: skip


def curve(gear: int, rpm: list[float], power_w: list[float]) -> dict[str, Any]:
    return {"gear": gear, "rpm": rpm, "power_w": power_w, "plus_minus_w": [9e3] * len(rpm)}


def finding(code: str, level: str, text: str, where: str) -> dict[str, str]:
    return {"code": code, "level": level, "text": text, "where": where}


REVIEW: dict[str, Any] = {
    "run": {"log_names": ["ecu.csv", "dash.csv"], "label": "Q2 left lane", "event": "Harvest Meet", "round": "Q2"},
    "window": {
        "log_launch_s": 9.039, "log_clock_start_s": 9.261, "clock_start_plus_minus_s": 0.009, "log_finish_s": 20.074,
        "distance_m": 402.336, "outcome": "quarter",
        "decoys": [{"kind": "burnout", "log_start_s": 2.1, "log_end_s": 5.4}],
    },
    "clocks": [
        {"log": "dash.csv", "offset_s": est(-0.4312, 0.006),
         "rate_ppm": est(38.0, 60.0), "matched_on": ["engine_speed"]},
    ],
    "distance": {
        "basis": "undriven wheel", "rollout_m": est(0.26, 0.03), "scale": None,
        "splits": [{"at_ft": ft, "time_s": est(t, 0.009), "speed_mps": est(v, 0.05)} for ft, t, v in SPLITS],
        "traps": [{"at_ft": 660, "speed_mps": est(48.102, 0.02)}, {"at_ft": 1320, "speed_mps": est(62.451, 0.02)}],
        "wheelspin": [
            {"start_s": -0.138, "end_s": -0.008, "peak_slip": 0.51}, {"start_s": 0.62, "end_s": 0.91, "peak_slip": 0.23}
        ],
    },
    "gears": {
        "basis": "ratios given", "overall_ratios": [est(r * 4.06, 0.02) for r in (2.55, 1.8, 1.36, 1.08, 0.9)],
        "intervals": [{"gear": 1, "start_s": -0.26, "end_s": 3.1}, {"gear": 2, "start_s": 3.2, "end_s": 4.97}],
    },
    "launch": {
        "rpm_at_launch": est(6492.0, 18.0), "rpm_lowest": est(5382.0, 35.0), "rpm_drop": 1110.0, "back_in_band_s": 1.71,
        "boost_at_launch_pa": 31200.0, "peak_acceleration_mps2": 10.4, "clutch_locked_s": 1.665,
    },
    "shifts": [shift(row) for row in SHIFTS],
    "boost": {
        "threshold_pa": 150000.0, "time_above_s": 4.201, "share_above": 0.3885, "longest_above_s": 2.484,
        "first_reached_s": 5.578, "lowest_after_pa": -67038.0, "highest_pa": 205600.0, "at_clock_start_pa": 31000.0,
        "deficit_pa_s": 214000.0,
        "dips": [
            {"start_s": 7.181, "end_s": 7.707, "lowest_pa": -67038.0, "shift": 2, "cause": "shift"},
            {"start_s": 10.191, "end_s": 10.700, "lowest_pa": -67034.0, "shift": 3, "cause": "shift"},
        ],
        "basis": "absolute less air pressure given",
    },
    "power": {
        "average_w": est(289258.8, 3729.0), "average_pulling_w": est(311760.0, 4100.0),
        "average_over_distance_w": est(331200.0, 4400.0), "average_wheel_w": est(237404.0, 1900.0),
        "peak_w": est(449518.0, 9200.0), "work_j": 2567000.0, "corrected_average_w": None, "correction_factor": None,
        "correction_rule": None, "from_trap_speed_w": est(246000.0, 16000.0), "balance_error": 0.0042,
        "shares": [
            {"source": "driveline efficiency", "plus_minus_w": 3100.0}, {"source": "mass", "plus_minus_w": 1500.0}
        ],
        "curves": [
            curve(2, [6400.0, 6900.0, 7400.0, 7900.0, 8400.0], [231e3, 262e3, 288e3, 301e3, 296e3]),
            curve(3, [6600.0, 7100.0, 7600.0, 8100.0, 8500.0], [318e3, 352e3, 381e3, 396e3, 388e3]),
            curve(4, [6800.0, 7300.0, 7800.0, 8300.0], [402e3, 431e3, 447e3, 443e3]),
        ],
        "mean_piston_speed_mps": 21.4, "bmep_pa": 2210000.0,
    },
    "band": {
        "low_rpm": 6400.0, "high_rpm": 8600.0, "time_in_s": 8.420, "time_below_s": 2.295, "time_above_s": 0.099,
        "share_in": 0.7787, "distance_in_m": 371.0,
        "by_gear": [
            {"gear": 1, "time_in_s": 1.32, "time_below_s": 1.70, "time_above_s": 0.0, "distance_in_m": 28.0},
            {"gear": 2, "time_in_s": 1.65, "time_below_s": 0.12, "time_above_s": 0.02, "distance_in_m": 52.0},
            {"gear": 3, "time_in_s": 2.15, "time_below_s": 0.0, "time_above_s": 0.04, "distance_in_m": 94.0},
            {"gear": 4, "time_in_s": 2.9, "time_below_s": 0.0, "time_above_s": 0.04, "distance_in_m": 160.0},
            {"gear": 5, "time_in_s": 0.4, "time_below_s": 0.0, "time_above_s": 0.0, "distance_in_m": 37.0},
        ],
        "dwell": [{"from_rpm": 5000.0 + 500 * i, "to_rpm": 5500.0 + 500 * i, "time_s": t}
                  for i, t in enumerate([0.61, 0.74, 0.62, 1.18, 1.61, 1.83, 2.21, 2.01])],
        "shown_by_data": [6900.0, 8500.0],
        "would_have_kept": ["Shift 1 to 2 fell to 6,205 rpm; shifting at 8,770 rpm would have kept it at 6,400 rpm."],
    },
    "limits": [
        limit("Engine speed over", "engine_speed", "inside", 8611.0, "rpm", 9100.0, "at_most"),
        limit("Oil pressure under power", "oil_pressure", "outside", 231000.0, "Pa", 250000.0, "at_least"),
        limit("Coolant at the finish", "coolant_temperature", "inside", 363.15, "K", 378.15, "at_most"),
        limit("Head lifting", "coolant_pressure", "no data", None, "Pa", None, "at_most"),
    ],
    "air": {
        "temperature_k": 297.15, "pressure_pa": 101100.0, "vapour_pressure_pa": 1430.0,
        "density_kgpm3": est(1.179, 0.004), "density_altitude_m": 402.0, "wind_mps": None,
        "basis": "temperature, pressure and humidity as given",
    },
    "findings": [
        finding("limit-not-read", "caution", "No log holds coolant_pressure, so there is no verdict.", "limits"),
        finding("power-not-corrected", "caution", "No published correction holds for a boosted engine.", "power"),
        finding("burnout-found", "note", "A burnout from 2.1 to 5.4 s was set aside.", "ecu.csv, 2.1 s"),
    ],
    "car": {"name": "Kestrel"},
    "version": "0.1.0",
}  # fmt: skip


RUN = RunShown(
    id="abc", label="Q2 left lane", event="Harvest Meet", round="Q2", title="Q2 left lane",
    car=CarOfRun("kestrel", 3, "Kestrel"), finish_ft=1320, added_at="2024-05-01T10:11:12Z",
    summary=RunSummary(
        log_names=("ecu.csv", "dash.csv"), car_name="Kestrel", outcome=Outcome.QUARTER, at_ft=1320,
        elapsed_time_s=Estimate(10.8132, 0.009), trap_speed_mps=Estimate(62.451, 0.02),
        sixty_ft_s=Estimate(1.8468, 0.009), average_w=Estimate(289258.8, 3729.0), share_in_band=0.7787,
        share_on_boost=0.3885, shifts=4, limits=LimitCounts(2, 1, 1), findings=FindingCounts(0, 2, 1),
    ),
)  # fmt: skip
CAR: dict[str, Any] = {
    "name": "Kestrel", "mass": 1080.0, "driven_axle": "front", "transmission": "clutch",
    "gear_ratios": [2.55, 1.8, 1.36, 1.08, 0.9], "final_drive": 4.06, "rpm_band": [6400.0, 8600.0],
    "boost_threshold": "150 kPa", "channels": {"Aux 3": "oil_pressure"},
    "limits": [
        {"name": "Engine speed over", "channel": "engine_speed", "at_most": 9100},
        {"name": "Oil pressure under power", "channel": "oil_pressure", "at_least": "250 kPa", "during": "run",
         "when": [{"channel": "throttle", "at_least": "90 %"}], "longer_than": 0.05},
    ],
}  # fmt: skip


def _traces() -> pl.DataFrame:
    time = np.arange(-0.5, 10.9, 0.01)
    known_t = [-0.5, -0.22, 0.0, *(t for _, t, _ in SPLITS), 10.9]
    known_d = [-0.26, -0.26, 0.0, *(ft * FT for ft, _, _ in SPLITS), 407.8]
    distance = np.interp(time, known_t, known_d)
    turns = [(-0.5, 6492.0), (0.2, 5382.0), (3.031, 8505.0)]
    pressure = [(-0.5, 31000.0), (3.031, 84200.0)]
    for index, (_, _, start, end, _, _, after, _, _, _) in enumerate(SHIFTS):
        ahead = SHIFTS[index + 1] if index + 1 < len(SHIFTS) else None
        turns += [(start + 0.06, 8610.0), (end, after), (ahead[2] if ahead else 10.9, ahead[5] if ahead else 7350.0)]
        top = ahead[8] if ahead else 160000.0
        pressure += [
            (start + 0.06, -67000.0),
            (end, -60000.0),
            (end + 0.35, 0.75 * top),
            (ahead[2] if ahead else 10.9, top),
        ]
    return pl.DataFrame(
        {
            "time_s": time,
            "distance_m": distance,
            "speed_mps": np.gradient(distance, time),
            "engine_speed": np.interp(time, *zip(*turns, strict=True)),
            "boost": np.interp(time, *zip(*pressure, strict=True)),
        }
    )


@pytest.fixture
def review() -> dict[str, Any]:
    """A review of one run, all parts known; a fresh copy for each test."""
    return copy.deepcopy(REVIEW)


@pytest.fixture
def spread_review(review: dict[str, Any]) -> dict[str, Any]:
    """The same with one limit, on the spread of the exhaust temperatures, passed by 12.4 K."""
    spread = limit("EGT spread", "exhaust_temperature_spread", "outside", 92.4, "delta_K", 80.0, "at_most")
    review["limits"] = [spread | {"note": "hottest exhaust temperature 3, coldest exhaust temperature 1"}]
    return review


@pytest.fixture
def car() -> dict[str, Any]:
    """The car as the store keeps it, SI, bounds as its owner wrote them."""
    return copy.deepcopy(CAR)


@pytest.fixture
def run() -> RunShown:
    """The run as lists show it."""
    return RUN


@pytest.fixture
def table() -> pl.DataFrame:
    """The run's channels, SI, by ET."""
    return _traces()
