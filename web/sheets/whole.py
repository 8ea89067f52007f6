"""A whole review laid out in reading order.

Public: `sections`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from passband.analysis.results.plain_values import Stored
from passband.analysis.results.review import Review
from passband.web.sheets.engine import band_section, boost_section, limits_section, power_section
from passband.web.sheets.sheet import Cell, Line, Row, Section, Table
from passband.web.sheets.track import findings_section, launch_section, shifts_section, splits_section
from passband.web.shown.car import LimitGiven
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem

AS_ABOVE = "for the same reason"
"""Where a reason stands above already."""


def sections(
    review: Review, units: UnitSystem, *, given: Sequence[LimitGiven] = (), slip: Stored | None = None
) -> tuple[Section, ...]:
    """All sections of a review in reading order, the same for page and print.

    Parameters
    ----------
    review : Review
        Of one run.
    units : {"us", "metric"}
        The reader's choice.
    given : sequence of LimitGiven
        The car's limits as written: they are answered in the units they were written in.
    slip : mapping, optional
        The timing slip as written, by its keys: shown beside splits that are not its own.

    Returns
    -------
    tuple of Section
        Launch, shifts, boost, power, band, limits, splits, findings.
    """
    made = (
        launch_section(review, units),
        shifts_section(review, units),
        boost_section(review, units),
        power_section(review, units),
        band_section(review, units),
        limits_section(review, units, given=given),
        splits_section(review, units, slip=slip),
        findings_section(review),
    )
    return tuple(_in_units(_said_once(section), units) for section in made)


def _said_once(section: Section) -> Section:
    """A section whose figures that are not known for one reason say it at the first of them."""
    said: set[str] = set()
    lines = []
    for line in section.lines:
        reason = line.figure.reason
        lines.append(replace(line, figure=replace(line.figure, reason=AS_ABOVE)) if reason in said else line)
        said.update({reason} - {""})
    return replace(section, lines=tuple(lines))


def _in_units(section: Section, units: UnitSystem) -> Section:
    """A section whose sentences, which the analysis wrote in SI, are in the reader's units as its figures are."""

    def line(one: Line) -> Line:
        return replace(one, note=in_units(one.note, units))

    def cell(one: Cell) -> Cell:
        return one if section.key != "findings" else replace(one, text=in_units(one.text, units))

    def table(one: Table) -> Table:
        return replace(one, rows=tuple(row(each) for each in one.rows))

    def row(one: Row) -> Row:
        return Row(tuple(cell(each) for each in one.cells), in_units(one.detail, units))

    return replace(
        section,
        lines=tuple(line(one) for one in section.lines),
        tables=tuple(table(one) for one in section.tables),
        sentences=tuple(in_units(one, units) for one in section.sentences),
        basis=in_units(section.basis, units),
        missing=in_units(section.missing, units),
    )
