"""What a change would do, on a plain page of 80 columns.

Public: `print_foretold`, `print_worth`, `print_found`, `print_checked`, `CheckedForecast`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from textwrap import wrap

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.plain_values import JsonObject, Stored
from passband.analysis.whatif.foretell import Foretold
from passband.analysis.whatif.search import Found
from passband.analysis.whatif.worth import WorthClass
from passband.web.printed.page import WIDTH, page, sentences
from passband.web.wording.units import UnitSystem, unit_for


def print_foretold(label: str, asked: Stored, foretold: Foretold, *, units: UnitSystem = "us") -> str:
    """What a change would do to a run.

    Parameters
    ----------
    label : str
        The run's.
    asked : mapping
        What was asked, as written.
    foretold : Foretold
        The answer.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    lines = ["=" * WIDTH, *wrap(f"{label}, IF {_asked(asked)}", WIDTH), "-" * WIDTH]
    if foretold.elapsed_time_s is None or foretold.trap_speed_mps is None:
        return page([*lines, "No forecast is made.", *sentences(foretold.findings)])
    speed = unit_for("speed", units)
    lines += ["changed less as run; minus is quicker", ""]
    lines += [f"{split.at_ft:>5} ft  {_signed(split.difference_s, 1.0, 3)} s" for split in foretold.splits]
    lines += [f"    trap  {_signed(foretold.trap_speed_mps, speed.scale, 2)} {speed.label}"]
    if foretold.time_in_band_s is not None:
        lines += [f" in band  {_signed(foretold.time_in_band_s, 1.0, 2)} s"]
    if foretold.time_on_boost_s is not None:
        lines += [f"on boost  {_signed(foretold.time_on_boost_s, 1.0, 2)} s"]
    if foretold.shifts:
        lines += ["", "shift   RPM after   by         over the band's low end"]
    for shift in foretold.shifts:
        margin = "" if shift.margin_to_band_low_rpm is None else f"{shift.margin_to_band_low_rpm:+.0f}"
        lines += [f"{shift.name:<7} {shift.rpm_after:>9.0f}   {_signed(shift.difference_rpm, 1.0, 0):<10} {margin}"]
    return page([*lines, *sentences(foretold.findings, units=units)])


def _asked(asked: Stored) -> str:
    changed = (
        (name, ", ".join(f"{key.replace('_', ' ')} {one}" for key, one in value.items()))
        if isinstance(value, Mapping)
        else (name, value)
        for name, value in asked.items()
    )
    return "; ".join(f"{name.replace('_', ' ')} {value}" for name, value in changed)


def _signed(estimate: Estimate, scale: float, digits: int) -> str:
    return f"{estimate.value / scale:+.{digits}f} +-{estimate.plus_minus / scale:.{digits}f}"


def print_worth(label: str, classes: Sequence[WorthClass]) -> str:
    """What one per cent of torque is worth in each class of engine speed.

    Parameters
    ----------
    label : str
        The run's.
    classes : sequence of WorthClass
        By rising engine speed.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    most = max((one.elapsed_s for one in classes), default=0.0) or 1.0
    lines = ["", f"WHAT 1 % MORE TORQUE WOULD WIN {label}, by engine speed; each +-12 %"[:WIDTH], ""]
    for one in classes:
        bar = "#" * max(0, round(30 * one.elapsed_s / most))
        launch = "  launch" if one.launch else ""
        span = f"{one.from_rpm:.0f}-{one.to_rpm:.0f}"
        lines.append(f"{span:>11} rpm  {1000 * one.elapsed_s:6.1f} ms  {bar:<30}{launch}")
    return page(lines)


def print_found(found: Sequence[Found]) -> str:
    """What a search found.

    Parameters
    ----------
    found : sequence of Found
        One for each thing searched.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    lines = ["", "SEARCHED, one at a time. ET: as the model has it; left: once a search's own luck", "is taken off", ""]
    for one in found:
        if one.best is None or one.promised_s is None or one.left_s is None:
            lines += [f"{one.what:<22} nothing tried beats the run as it was by more than luck", *_tried_lines(one)]
            continue
        value = _value_words(one.best, one.what)
        left = f"left {1000 * one.left_s:+.0f} ms"
        lines += [f"{one.what:<22} {value:>9}  ET {_signed(one.promised_s, 0.001, 0)} ms, {left}"]
        if one.under_band_s is not None:
            lines += [f"{'':<32}  under the band {one.under_band_s:+.2f} s, by the model alone"]
        lines += _tried_lines(one)
    texts = dict.fromkeys(finding.text for one in found for finding in one.findings)
    return page([*lines, *(line for text in texts for line in ["", *wrap(text, WIDTH)])])


def _value_words(value: float | tuple[float, ...], what: str) -> str:
    if isinstance(value, tuple):
        return "/".join(f"{ratio:g}" for ratio in value)
    return f"{value:+.0f} rpm" if "shift" in what else f"{value:g}"


def _tried_lines(one: Found) -> list[str]:
    """All that was tried, with what the model alone makes of it."""
    if not one.tried:
        return []
    band = any(tried.under_band_s is not None for tried in one.tried)
    lines = ["", f"  {'tried':>16}{'ET ms':>9}{'under band s' if band else '':>15}"]
    for tried in one.tried:
        under = "" if tried.under_band_s is None else f"{tried.under_band_s:+.2f}"
        lines.append(f"  {_value_words(tried.value, one.what):>16}{1000 * tried.elapsed_s:>+9.0f}{under:>15}")
    return [*lines, "  by the model alone, each +-10 ms and 12 %"]


@dataclass(frozen=True, slots=True)
class CheckedForecast:
    """One known change: what was foretold, what was measured, and how far apart they are."""

    label: str
    """The changed run's."""
    change: JsonObject
    """What was changed, as its owner wrote it."""
    foretold_s: Estimate | None
    """Changed less as run; None where no forecast is made. [s]"""
    measured_s: Estimate | None
    """The changed run less the other; None where they share no mark. [s]"""
    error_s: float | None
    """Foretold less measured; None without either. [s]"""
    why: str
    """Why there is no forecast; empty where there is one."""


def print_checked(label: str, rows: Sequence[CheckedForecast]) -> str:
    """What was foretold beside what was measured.

    Parameters
    ----------
    label : str
        The run that all were foretold from.
    rows : sequence of CheckedForecast
        One for each change.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    lines = ["=" * WIDTH, f"FORECAST FROM {label}, AND MEASURED"[:WIDTH], "-" * WIDTH]
    lines += [f"{'run':<16}{'forecast s':>18}{'measured s':>18}{'error ms':>10}  held"]
    held = 0
    for row in rows:
        foretold, measured, error = row.foretold_s, row.measured_s, row.error_s
        if foretold is None or measured is None or error is None:
            lines += wrap(f"{row.label}: {row.why or 'not measured'}", WIDTH, subsequent_indent="  ")
            continue
        within = abs(error) <= (foretold.plus_minus**2 + measured.plus_minus**2) ** 0.5
        held += within
        pair = (f"{one.value:+.3f} +-{one.plus_minus:.3f}" for one in (foretold, measured))
        first, second = pair
        lines.append(f"{row.label[:15]:<16}{first:>18}{second:>18}{1000 * error:>+10.0f}  {'yes' if within else 'no'}")
    lines += ["", f"{held} of {len(rows)} held within both plus-minuses."]
    return page(lines)
