"""The printed review: a plain page of 80 columns that a tuner would pin to the trailer's wall.

Public: `print_review`, `print_parts`, `PrintedParts`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import polars as pl

from passband.analysis.results.plain_values import Stored
from passband.analysis.results.review import Review
from passband.analysis.runs.verdict import verdict_lines
from passband.analysis.runs.why import cause_words, find_causes
from passband.web.drawn.strip import strip_text
from passband.web.printed.page import WIDTH, printable
from passband.web.sheets.sheet import CAUTIONS, Cell, Line, Mark, Row, Section, Table, banners, heading, standing
from passband.web.sheets.whole import sections
from passband.web.shown.car import LimitGiven
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem

_FIGURE = 46
"""Column at which a figure ends."""
_SIGNS: dict[Mark, str] = {
    "": "", "inside": "", "outside": "◆ ", "missing": "○ ", "under": "▼ ", "over": "▲ ",
    "stop": "■ ", "caution": "▲ ", "note": "- ",
}  # fmt: skip
_TEXT_HEADS = frozenset({"Limit", "What", "Input", "Allowed", "Cause", "Gear", "Mark", "Verdict", "Level", "No."})
"""Columns whose text begins at the left; figures end at the right."""


@dataclass(frozen=True, slots=True)
class PrintedParts:
    """The printed review without its strip."""

    head: list[str]
    """Title, times, verdict and why."""
    sections: list[list[str]]
    """Lines of each, its title first."""
    foot: list[str]
    """The cautions."""


def print_review(
    review: Review,
    *,
    units: UnitSystem = "us",
    given: Sequence[LimitGiven] = (),
    table: pl.DataFrame | None = None,
    slip: Stored | None = None,
    findings: bool = True,
) -> str:
    """A review as plain text, the verdict first.

    Parameters
    ----------
    review : Review
        Of one run.
    units : {"us", "metric"}
        psi, mph, hp or kPa, km/h, kW; rpm, seconds and feet in both.
    given : sequence of LimitGiven
        The car's limits as written: they are answered in the units they were written in.
    table : polars.DataFrame, optional
        The run's channels, for the strip's band; without them the strip shows the rest.
    slip : mapping, optional
        The timing slip as given, by its keys: shown beside splits that are not its own.
    findings : bool
        Whether the findings stand in it; False where its reader is told them beside it.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end. What a terminal would obey instead of show is replaced.
    """
    parts = print_parts(review, units=units, given=given, slip=slip, findings=findings)
    lines = [*parts.head, "", printable(strip_text(review, table, units=units, width=WIDTH - 8)), ""]
    for section in parts.sections:
        lines += [*section, ""]
    return "\n".join(line.rstrip() for line in (*lines, *parts.foot)) + "\n"


def print_parts(
    review: Review,
    *,
    units: UnitSystem = "us",
    given: Sequence[LimitGiven] = (),
    slip: Stored | None = None,
    findings: bool = True,
) -> PrintedParts:
    """The same without its strip, in parts that may be laid out otherwise.

    Parameters
    ----------
    review, units, given, slip, findings
        As in `print_review`.

    Returns
    -------
    PrintedParts
        Lines of at most `WIDTH` columns.
    """
    told = [one for one in sections(review, units, given=given, slip=slip) if findings or one.key != "findings"]
    found = [_section(section) for section in told]
    foot = ["-" * WIDTH, *(line for caution in CAUTIONS for line in wrap(caution, WIDTH))]
    head = [printable(line) for line in _head(review, units)]
    return PrintedParts(head, [[printable(line) for line in section] for section in found], foot)


def _head(review: Review, units: UnitSystem) -> list[str]:
    head, stands, run = heading(review, units), standing([limit.verdict for limit in review.limits]), review.run
    boards = f"{head.time}  {head.speed if head.speed.known else ''}".strip() if head.time.known else ""
    title = " ".join(head.title.split())
    lines = ["=" * WIDTH]
    if len(title) + len(boards) + 2 <= WIDTH:
        lines.append(title + boards.rjust(WIDTH - len(title)))
    else:
        lines += [*wrap(title, WIDTH), boards.rjust(WIDTH)]
    lines += wrap(", ".join(filter(None, (review.car.name, run.event, run.round))), WIDTH)
    lines += ["-" * WIDTH, f"{_SIGNS[stands.mark]}{stands.word}: {stands.text}"]
    for banner in banners(review, units):
        lines += wrap(f"{_SIGNS[banner.mark]}{banner.text}", WIDTH, subsequent_indent="  ")
    for line in (in_units(line, units) for line in verdict_lines(review, units=units)):
        lines += wrap(line, WIDTH - 2, initial_indent="  ", subsequent_indent="    ")
    for cause in find_causes(review):
        lines += wrap(cause_words(cause), WIDTH - 2, initial_indent="  Why: ", subsequent_indent="    ")
    return [*lines, "=" * WIDTH]


def _section(section: Section) -> list[str]:
    lines = [section.title.upper(), "-" * len(section.title)]
    if section.missing:
        lines += wrap(f"Not known: {section.missing}", WIDTH, subsequent_indent="  ")
    for line in section.lines:
        lines += _line(line)
    for table in section.tables:
        lines += _table(table)
    if section.bars:
        longest = max(len(bar.label) for bar in section.bars)
        room = WIDTH - longest - 14
        lines.append(section.bars_caption)
        for bar in section.bars:
            drawn = {"under": "_", "over": "^"}.get(bar.mark, "=") * max(round(bar.share * room), 1)
            lines.append(f"  {bar.label:>{longest}}  {bar.text:>6}  {drawn}")
    for sentence in section.sentences:
        lines += wrap(sentence, WIDTH, subsequent_indent="  ")
    if section.basis:
        lines += wrap(f"From: {section.basis}.", WIDTH, subsequent_indent="  ")
    return lines


def _line(line: Line) -> list[str]:
    if not line.figure.known:
        return wrap(f"{line.label} {line.figure}", WIDTH, subsequent_indent="  ")
    figure = str(line.figure)
    dots = "." * max(_FIGURE - len(line.label) - len(figure) - 2, 2)
    written = f"{line.label} {dots} {figure}"
    if not line.note:
        return [written]
    if len(written) + len(line.note) + 3 <= WIDTH:
        return [f"{written}   {line.note}"]
    return [written, *wrap(line.note, WIDTH, initial_indent="    ", subsequent_indent="    ")]


def _table(table: Table) -> list[str]:
    widths = _widths(table)
    lines = wrap(table.caption, WIDTH)
    lines += _row([Cell(head) for head in table.head], table.head, widths)
    for row in table.rows:
        lines += _row(list(row.cells), table.head, widths)
        lines += wrap(row.detail, WIDTH, initial_indent="    ", subsequent_indent="    ")
    return lines


def _widths(table: Table) -> list[int]:
    """Each column as wide as its longest cell; where that is too much the widest of words gives way."""
    rows = [Row(tuple(Cell(head) for head in table.head)), *table.rows]
    widths = [max(len(_text(row.cells[place])) for row in rows) for place in range(len(table.head))]
    excess = sum(widths) + 2 * (len(widths) - 1) - WIDTH
    if excess > 0:
        wordy = [place for place, head in enumerate(table.head) if head in _TEXT_HEADS]
        widest = max(wordy, key=lambda place: widths[place])
        widths[widest] = max(widths[widest] - excess, 12)
    return widths


def _text(cell: Cell) -> str:
    doubt = f" ±{cell.plus_minus}" if cell.plus_minus else ""
    return f"{_SIGNS[cell.mark]}{cell.text}{doubt}"


def _row(cells: list[Cell], head: tuple[str, ...], widths: list[int]) -> list[str]:
    columns = [wrap(_text(cell), width) or [""] for cell, width in zip(cells, widths, strict=True)]
    lines = []
    for place in range(max(len(column) for column in columns)):
        parts = [column[place] if place < len(column) else "" for column in columns]
        aligned = [
            part.ljust(width) if title in _TEXT_HEADS else part.rjust(width)
            for part, width, title in zip(parts, widths, head, strict=True)
        ]
        lines.append("  ".join(aligned))
    return lines
