"""Three lines that answer first: inside or outside the limits, band and boost, average power.

Public: `INSPECT`, `NO_BAND`, `NO_BOOST`, `LimitsAnswer`, `verdict_lines`, `limits_answer`, `broken_words`,
`counts_in_words`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.quantities import conversion_to_si
from passband.analysis.results.boost import BoostDip
from passband.analysis.results.estimate import Estimate, difference
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.review import Review
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import Unknown, known

SAME_AIR = 0.02
"""Air densities this near count as the same: two per cent is some 200 m of density altitude. [-]"""
Units = Literal["metric", "us"]
US_UNITS = {"kPa": "psi", "degC": "degF", "K": "degF", "km/h": "mph", "kg/h": "lb/h", "kW": "hp"}
"""What a reader of United States units is shown instead; K is shown for differences of temperatures only."""
INSPECT = "Stop and inspect before another run."
"""What a broken limit asks for."""
LEFT_S = 0.05
"""Time out of the band, or short of the boost, that is worth a word. [s]"""
NO_BAND = {
    "band-not-given": "none is given with the car",
    "band-without-engine-speed": "no engine speed is logged for it",
    "distance-by-slip-alone": "no log shows how the car moved",
    "no-ground-speed": "no log shows how the car moved",
}
NO_BOOST = {
    "boost-not-logged": "no boost is logged",
    "boost-without-barometer": "the air's own pressure is not known",
    "boost-without-data": "its channel holds nothing here",
}
"""In few words why there is none, both by the finding that tells it."""


@dataclass(frozen=True, slots=True)
class LimitsAnswer:
    """How a run stands to its limits, with those that were broken apart from the sentence."""

    line: str
    """A whole sentence; where limits were broken, how many of how many, without a full stop."""
    broken: tuple[LimitVerdict, ...]
    """The furthest outside first; empty where none was broken."""
    rest: str = ""
    """Beside broken ones, how the others stand; empty where there are none."""


def verdict_lines(review: Review, best: Review | None = None, *, units: Units = "metric") -> tuple[str, str, str]:
    """Say in three sentences how a run went.

    Parameters
    ----------
    review : Review
        The run.
    best : Review or None
        The car's quickest clean run of the weekend, to hold average power against; None where there is none.
    units : str
        ``metric`` or ``us``: the units of the text.

    Returns
    -------
    (limits, band and boost, power)
        One or two sentences each, whole, without advice.

    Notes
    -----
    Outside wins over no data, no data over inside: a limit nobody could look at was not kept. Power is held against
    `best` only in the same air, within 2 % of density.
    """
    return (
        _limits_line(limits_answer(review, units=units), units),
        f"{_band_words(review)} {_boost_words(review, units)}",
        _power_line(review, best, units),
    )


def _average_w(review: Review) -> Estimate | None:
    return None if isinstance(review.power, Unknown) else known(review.power.average_w)


def limits_answer(review: Review, *, units: Units = "metric") -> LimitsAnswer:
    """How a run stands to its limits.

    Parameters
    ----------
    review : Review
        The run.
    units : str
        ``metric`` or ``us``: the units of the text.

    Returns
    -------
    LimitsAnswer
        Outside wins over no data, no data over inside.
    """
    rows = review.limits
    if not rows:
        return LimitsAnswer("No limits are set, so none could be checked.", ())
    broken = [row for row in rows if row.verdict is Verdict.OUTSIDE]
    silent = [row for row in rows if row.verdict is Verdict.NO_DATA]
    kept = [row for row in rows if row.verdict is Verdict.INSIDE]
    if not broken and not kept:
        return LimitsAnswer(f"No data for any of the limits set ({len(rows)}): none could be checked.", ())
    names = f" ({', '.join(row.name for row in silent)})" if silent else ""
    if broken:
        rest = f"{counts_in_words(len(kept), 0, len(silent))}{names}." if kept or silent else ""
        counted = f"{len(broken)} of {_counted(len(rows), 'limit')} broken"
        return LimitsAnswer(counted, tuple(sorted(broken, key=_share)), rest)
    nearest = min(kept, key=_share)
    head = f"Inside all {len(kept)} limits" if len(kept) > 1 else "Inside its limit"
    if silent:
        head = f"{len(kept)} of {_counted(len(rows), 'limit')} inside, {len(silent)} without data{names}"
    return LimitsAnswer(f"{head}; nearest: {_nearest_words(nearest, units)}.", ())


def _limits_line(answer: LimitsAnswer, units: Units) -> str:
    if not answer.broken:
        return answer.line
    words = "; ".join(_outside_words(row, units) for row in answer.broken)
    return " ".join(filter(None, (f"{answer.line}: {words}.", INSPECT, answer.rest)))


def broken_words(row: LimitVerdict, *, units: Units = "metric") -> str:
    """A limit that was broken in a few words: by how much, for how long, in which gear.

    Parameters
    ----------
    row : LimitVerdict
        One that was broken.
    units : str
        ``metric`` or ``us``: the units of the text.

    Returns
    -------
    str
        ``Oil pressure 33.5 psi, limit 36.3 psi; outside for 0.18 s, worst in gear 3``.
    """
    worst, limit = _shown(row.worst, row, units), _shown(row.limit, row, units)
    long = f"; outside for {row.time_outside_s:.2f} s" if row.time_outside_s is not None else ""
    gear = f", worst in gear {row.gear}" if row.gear else ""
    return f"{row.name} {worst}, limit {limit}{long}{gear}"


def counts_in_words(inside: int, broken: int, without_data: int) -> str:
    """How many limits stand how; what there is none of is left out.

    Parameters
    ----------
    inside, broken, without_data : int
        Limits of each kind.

    Examples
    --------
    >>> counts_in_words(9, 1, 2), counts_in_words(11, 0, 0)
    ('9 inside, 1 broken, 2 without data', '11 inside')
    """
    counts = ((inside, "inside"), (broken, "broken"), (without_data, "without data"))
    return ", ".join(f"{count} {word}" for count, word in counts if count)


def _share(row: LimitVerdict) -> float:
    share = row.margin_share
    if share is not None:
        return float(share)
    return float(row.margin) if row.margin is not None else 0.0


def _outside_words(row: LimitVerdict, units: Units) -> str:
    where = f" at {row.at_s:.2f} s" if row.at_s is not None else ""
    gear = f" in gear {row.gear}" if row.gear else ""
    long = f", {row.time_outside_s:.2f} s in all" if row.time_outside_s is not None else ""
    worst, limit = _shown(row.worst, row, units), _shown(row.limit, row, units)
    return f"{row.name} {worst} against {limit}{where}{gear}{long}"


def _nearest_words(row: LimitVerdict, units: Units) -> str:
    return f"{row.name}, {_shown(row.worst, row, units)} against {_shown(row.limit, row, units)}"


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _shown(value: float | None, row: LimitVerdict, units: Units) -> str:
    """A value in the unit that readers are used to for its channel."""
    if value is None:
        return "nothing"
    kind = kind_of(row.channel)
    unit = kind.shown_unit if kind is not None and kind.shown_unit else row.unit
    if kind is not None and kind.shown_unit:
        unit = _of_system(unit, units)
        value = _in_unit(value, unit, kind.unit)
    digits = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    return f"{value:.{digits}f} {unit}".rstrip()


def _of_system(unit: str, units: Units) -> str:
    return US_UNITS.get(unit, unit) if units == "us" else unit


def _in_unit(value: float, unit: str, si_unit: str) -> float:
    conversion = conversion_to_si(unit, si_unit=si_unit)
    return value if conversion is None else (value - conversion.offset) / conversion.scale


def _pressure(value_pa: float, units: Units) -> str:
    unit = _of_system("kPa", units)
    return f"{_in_unit(value_pa, unit, 'Pa'):.{1 if unit == 'psi' else 0}f} {unit}"


def _because(reasons: Mapping[str, str], why: Unknown) -> str:
    return f": {reasons[why.reason.code]}" if why.reason.code in reasons else ""


def _band_words(run: Review) -> str:
    band = run.band
    if isinstance(band, Unknown):
        return f"No RPM band could be held against the run{_because(NO_BAND, band)}."
    out = [(band.time_below_s, "below"), (band.time_above_s, "above")]
    words = [f"{time:.2f} s {side}" for time, side in out if time >= LEFT_S]
    range_ = f"its {band.low_rpm:.0f} to {band.high_rpm:.0f} rpm band"
    if not words:
        return f"The engine stayed in {range_}."
    fell = [
        f"{shift.from_gear}-{shift.to_gear} by {-margin:.0f} rpm"
        for shift in run.shifts
        if (margin := known(shift.margin_to_band_low_rpm) or 0.0) < 0
    ]
    through = f"; it fell under it on shift {', '.join(fell)}" if fell else ""
    return f"The engine was in {range_} for {100 * band.share_in:.0f} % of the time, {' and '.join(words)}{through}."


def _boost_words(run: Review, units: Units) -> str:
    boost = run.boost
    if isinstance(boost, Unknown):
        return f"Boost was not held against a threshold{_because(NO_BOOST, boost)}."
    if boost.threshold_pa is None:
        return "Boost was not held against a threshold: none is given with the car."
    threshold = f"the {_pressure(boost.threshold_pa, units)} threshold"
    if isinstance(boost.first_reached_s, Unknown) or isinstance(boost.share_above, Unknown):
        return f"Boost never reached {threshold}; the highest was {_pressure(boost.highest_pa, units)}."
    share = f"Boost was at or above {threshold} for {100 * boost.share_above:.0f} % of the time"
    dips = boost.dips
    if not dips:
        return f"{share}, without a dip once it was reached at {boost.first_reached_s:.2f} s."
    deepest = min(dips, key=lambda dip: dip.lowest_pa)
    cause = _cause_words(deepest, run.shifts)
    lowest = f"to {_pressure(deepest.lowest_pa, units)} at {deepest.start_s:.2f} s"
    return f"{share}, with {_counted(len(dips), 'dip')}, the deepest {lowest} ({cause})."


def _cause_words(dip: BoostDip, shifts: Sequence[Shift]) -> str:
    index = dip.shift
    if index is not None and index < len(shifts):
        return f"shift {shifts[index].from_gear}-{shifts[index].to_gear}"
    return dip.cause


def _without_flywheel(run: Review, units: Units) -> str:
    """What is known of power where that at the flywheel is not, and why."""
    power = run.power
    why = power if isinstance(power, Unknown) else power.average_w
    reason = why.reason.text.partition(". ")[0].rstrip(".") if isinstance(why, Unknown) else ""
    at_wheels = None if isinstance(power, Unknown) else known(power.average_wheel_w)
    if at_wheels is None:
        return f"Average power is not known. {reason}."
    return f"Average power at the wheels {_power(at_wheels, units)}, clock start to {_end_words(run)}. {reason}."


def _power_line(run: Review, best: Review | None, units: Units) -> str:
    average = _average_w(run)
    if average is None:
        return _without_flywheel(run, units)
    text = f"Average power at the flywheel {_power(average, units)}, clock start to {_end_words(run)}"
    held = _average_w(best) if best is not None else None
    if best is None or held is None:
        return f"{text}."
    if not _same_air(run, best):
        return f"{text}; the weekend's best, {_power(held, units)}, was in other air and is no measure."
    apart = difference(average, held)
    unit = _of_system("kW", units)
    more, sure = (_in_unit(abs(part), unit, "W") for part in (apart.value, apart.plus_minus))
    less = "more" if apart.value > 0 else "less"
    between = f"give or take {max(sure, 1.0):.0f} between runs"
    if abs(apart.value) <= apart.plus_minus:
        return f"{text}; no different from the weekend's best in this air ({more:.0f} {unit} {less}, {between})."
    return f"{text}; {more:.0f} {unit} {less} than the weekend's best in this air, {between}."


def _power(estimate: Estimate, units: Units) -> str:
    unit = _of_system("kW", units)
    value, half_width = (_in_unit(part, unit, "W") for part in (estimate.value, estimate.plus_minus))
    return f"{value:.0f} {unit} give or take {half_width:.0f}"


def _end_words(run: Review) -> str:
    return "finish" if run.window.outcome.finish_ft else "the run's end"


def _same_air(run: Review, best: Review) -> bool:
    if run.air is None or best.air is None:
        return False
    return abs(run.air.density_kgpm3.value / best.air.density_kgpm3.value - 1.0) <= SAME_AIR
