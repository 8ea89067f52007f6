"""A run in few numbers: all that the sheet of a season and the engine's comparison with itself need of it.

Kept beside a stored run, it spares reading its whole review wherever many runs are looked at together. How it is kept:
`kept_digest`.

Public: `RunDigest`, `digest_run`, `digest_again`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.results.distance import MARKS_FT
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.analysis.runs.cells import CellTable, cells_of
from passband.analysis.runs.companions import lifted_s
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.runs.engine_use import EngineUse
from passband.analysis.runs.faults import faults_named, faults_of, one_line
from passband.analysis.runs.same_air import AirSeen, air_seen, elapsed_by_power

Value = float | int | str | None

GUESSED_AIR = 0.03
"""Air whose density is open by more is nobody's day, as where its temperature was taken (20 degC give or take 15, 5 %):
no density altitude stands for it on a sheet; the demo weekend's, told by temperature and station pressure, is open by
0.4 %. [-]"""


@dataclass(frozen=True, slots=True)
class RunDigest:
    """One run."""

    label: str
    """What it is called."""
    event: str
    """The meeting; may be empty."""
    round: str
    """Which run of it; may be empty."""
    before_shifts: Mapping[str, Value]
    """Columns of the sheet that stand before the shifts'."""
    shifts: Mapping[tuple[int, int], tuple[float | None, float | None]]
    """By gears: engine speed before and after. [rpm]"""
    after_shifts: Mapping[str, Value]
    """Columns that stand behind them."""
    elapsed_by_power_s: float
    """Seconds for one unit of ln power. [s]"""
    air: AirSeen | None
    """None where unknown."""
    cells: CellTable
    """Power by gear and class of engine speed, and where the engine came to each."""
    use: EngineUse | None
    """How much the engine turned; None where its speed is not logged."""

    @property
    def finish_ft(self) -> Value:
        """Where the run ended; None where it reached no finish."""
        return self.before_shifts["finish_ft"]

    @property
    def clean(self) -> bool:
        """Whether it reached its finish without a fault found."""
        return self.finish_ft is not None and not self.faults

    @property
    def faults(self) -> tuple[str, ...]:
        """What went wrong in it, as `faults_of` names it."""
        return faults_named(self.after_shifts["faults"])


def digest_run(run: ComparedRun) -> RunDigest:
    """Put a run into few numbers.

    Parameters
    ----------
    run : ComparedRun
        Any.

    Returns
    -------
    RunDigest
        Its figures are the review's own; elapsed times are the slip's where it has them.
    """
    facts, finish_ft = run.review.run, run.review.window.outcome.finish_ft
    first: dict[str, Value] = {
        "car": run.review.car.name, "outcome": run.review.window.outcome.value, "finish_ft": finish_ft,
        **_times(run, finish_ft), **_launch(run),
    }  # fmt: skip
    last: dict[str, Value] = {
        **_least_margin(run.review), **_engine(run.review), **_air(run), **_worst_limit(run.review),
        "wheelspin_s": _spun_s(run), "lift_s": lifted_s(run, 0.0, run.under_power_to_m),
        "faults": one_line(faults_of(run.review)),
    }  # fmt: skip
    shifts = {
        (one.from_gear, one.to_gear): (_value(known(one.rpm_before)), _value(known(one.rpm_after)))
        for one in run.review.shifts
    }
    cells = cells_of(known(run.review.power), lambda gear, low_rpm: _entered_m(run, gear, low_rpm))
    return RunDigest(
        label=run.label,
        event=facts.event,
        round=facts.round,
        before_shifts=first,
        shifts=shifts,
        after_shifts=last,
        elapsed_by_power_s=elapsed_by_power(run),
        air=air_seen(run),
        cells=cells,
        use=run.use,
    )


def digest_again(digest: RunDigest, review: Review, *, label: str) -> RunDigest:
    """A digest of a run that was held against other bounds, or is called otherwise.

    Parameters
    ----------
    digest : RunDigest
        As `digest_run` made it.
    review : Review
        The run's review as it is now: motion, power and air are those it had.
    label : str
        What the run is called now.

    Returns
    -------
    RunDigest
        As `digest_run` would make it.
    """
    last = {
        **_least_margin(review), **_engine(review), **_worst_limit(review), "faults": one_line(faults_of(review)),
    }  # fmt: skip
    return replace(
        digest,
        label=label,
        event=review.run.event,
        round=review.run.round,
        before_shifts={**digest.before_shifts, "car": review.car.name},
        after_shifts={**digest.after_shifts, **last},
    )


def _entered_m(run: ComparedRun, gear: int, low_rpm: float) -> float | None:
    """Where the pull in a gear came to an engine speed."""
    speed = run.channels.get("engine_speed")
    if speed is None:
        return None
    from_s = max((one.end_s for one in run.review.shifts if one.to_gear == gear), default=0.0)
    to_s = min((one.time_s for one in run.review.shifts if one.from_gear == gear), default=np.inf)
    rows = np.flatnonzero((run.time_s >= from_s) & (run.time_s <= to_s) & (speed >= low_rpm))
    return float(run.distance_m[rows[0]]) if rows.size else None


def _value(estimate: Estimate | None) -> float | None:
    return estimate.value if estimate is not None else None


def _times(run: ComparedRun, finish_ft: int | None) -> dict[str, Value]:
    splits, distance = run.track.splits, known(run.review.distance)
    total = splits.get(finish_ft) if finish_ft is not None else None
    speeds = {one.at_ft: one.speed_mps.value for one in (distance.splits if distance is not None else ())}
    traps = {one.at_ft: one.speed_mps.value for one in (distance.traps if distance is not None else ())}
    return {
        "elapsed_time_s": _value(total),
        "elapsed_time_plus_minus_s": total.plus_minus if total is not None else None,
        "elapsed_time_run_plus_minus_s": total.own if total is not None else None,
        "elapsed_same_air_s": None,
        "to_best_s": None,
        "to_run_before_s": None,
        "slip_over_log": _value(distance.scale) if distance is not None else None,
        "slip_less_computed_s": _slip_less_computed(run, finish_ft),
        **{f"t{ft}_s": _value(splits.get(ft)) for ft in MARKS_FT},
        **{f"v{ft}_mps": speeds.get(ft) for ft in MARKS_FT},
        **{f"trap_{ft}_mps": traps.get(ft) for ft in (660, 1320)},
    }


def _slip_less_computed(run: ComparedRun, finish_ft: int | None) -> float | None:
    """What the strip printed less what the logs, fitted to it, make of it; None without a slip."""
    printed, computed = run.slip_s.get(finish_ft or 0), run.splits.get(finish_ft or 0)
    return printed - computed.value if printed is not None and computed is not None else None


def _launch(run: ComparedRun) -> dict[str, Value]:
    launch, power = known(run.review.launch), known(run.review.power)
    heat = known(power.clutch_heat_j) if power is not None else None
    return {
        "rpm_at_launch": _value(known(launch.rpm_at_launch)) if launch is not None else None,
        "rpm_lowest": _value(known(launch.rpm_lowest)) if launch is not None else None,
        "clutch_locked_s": known(launch.clutch_locked_s) if launch is not None else None,
        "clutch_heat_j": _value(heat),
        "clutch_heat_plus_minus_j": heat.plus_minus if heat is not None else None,
    }


def _least_margin(review: Review) -> dict[str, Value]:
    margins = [margin for one in review.shifts if (margin := known(one.margin_to_band_low_rpm)) is not None]
    return {"least_margin_to_band_low_rpm": min(margins, default=None)}


def _engine(review: Review) -> dict[str, Value]:
    band, boost, power = known(review.band), known(review.boost), known(review.power)
    average = known(power.average_w) if power is not None else None
    return {
        "time_in_band_s": band.time_in_s if band is not None else None,
        "share_in_band": band.share_in if band is not None else None,
        "time_on_boost_s": known(boost.time_above_s) if boost is not None else None,
        "share_on_boost": known(boost.share_above) if boost is not None else None,
        "average_w": _value(average),
        "average_plus_minus_w": average.plus_minus if average is not None else None,
        "average_run_plus_minus_w": average.own if average is not None else None,
        "peak_w": _value(known(power.peak_w)) if power is not None else None,
    }


def _air(run: ComparedRun) -> dict[str, Value]:
    air = run.review.air
    density = air.density_kgpm3 if air is not None else None
    guessed = density is None or density.plus_minus > GUESSED_AIR * density.value
    return {
        "temperature_k": air.temperature_k if air is not None else None,
        "pressure_pa": air.pressure_pa if air is not None else None,
        "density_altitude_m": air.density_altitude_m if air is not None and not guessed else None,
        "density_kgpm3": air.density_kgpm3.value if air is not None else None,
        "wind_mps": air.wind_mps if air is not None else None,
    }


def _worst_limit(review: Review) -> dict[str, Value]:
    """The limit nearest to being broken, by its share; one that is broken goes first."""
    judged = [one for one in review.limits if one.margin_share is not None]
    worst: LimitVerdict | None = min(
        judged, key=lambda one: (one.verdict is not Verdict.OUTSIDE, one.margin_share), default=None
    )
    return {
        "worst_limit": worst.name if worst is not None else None,
        "worst_margin_share": worst.margin_share if worst is not None else None,
        "limits_outside": sum(one.verdict is Verdict.OUTSIDE for one in review.limits),
    }


def _spun_s(run: ComparedRun) -> float | None:
    distance = known(run.review.distance)
    return sum(one.end_s - one.start_s for one in distance.wheelspin) if distance is not None else None
