"""A whole review laid out in reading order.

Public: `sections`.
"""

from __future__ import annotations

from passband.analysis.results.review import Review
from passband.web.sheet import Section
from passband.web.sheet_engine import band_section, boost_section, limits_section, power_section
from passband.web.sheet_track import findings_section, launch_section, shifts_section, splits_section
from passband.web.units import UnitSystem
from passband.web.words import Json


def sections(review: Review, units: UnitSystem, *, car: Json | None = None) -> tuple[Section, ...]:
    """All sections of a review in reading order, the same for page and print.

    Parameters
    ----------
    review : Review
        Of one run.
    units : {"us", "metric"}
        The reader's choice.
    car : mapping, optional
        The car as given: limits are answered in the units they were written in.

    Returns
    -------
    tuple of Section
        Launch, shifts, boost, power, band, limits, splits, findings.
    """
    return (
        launch_section(review, units),
        shifts_section(review, units),
        boost_section(review, units),
        power_section(review, units),
        band_section(review, units),
        limits_section(review, units, car=car),
        splits_section(review, units),
        findings_section(review),
    )
