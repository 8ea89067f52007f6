"""To which class of runs a figure belongs, for how much of its plus-minus is the run's own.

The run's own part is calibrated class by class (`pairs_table.py`), from the broadest to the narrowest that is told
apart, on fewer runs than whole widths are; a class that too few pairs fell into stands for itself only as part of a
broader one.

Public: `Means`, `means_of`, `classes_of`, `own_factor`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.results.distance import SpeedBasis
from passband.analysis.shifts.dip import is_quick
from passband.analysis.widths.evidence import AT_THE_ENGINE, POWERS, WHEN, Seen
from passband.analysis.widths.pairs_table import FACTORS

PARTED = (*WHEN, *AT_THE_ENGINE, *POWERS)
"""All figures that have classes."""
SLOW_GPS_HZ, MID_GPS_HZ = 2.5, 11.0
"""Receivers of 1 and 2 Hz, of 5 and 10, of 20 and 25. [Hz]"""
SLOW_ENGINE_HZ, MID_ENGINE_HZ = 60.0, 150.0
"""Engine speed every 20 ms or rarer, about every 10, oftener. [Hz]"""


@dataclass(frozen=True, slots=True)
class Means:
    """What a run's figures rest on, as far as widths tell it apart."""

    basis: str
    """What ground speed rests on; ``nothing`` where nothing shows it."""
    timed: bool
    """Whether a timing slip was laid on it."""
    felt: bool
    """Whether an accelerometer shows how the car began to move."""
    gps_hz: float | None
    """Rate of GPS speed. [Hz]"""
    engine_hz: float
    """Rate of engine speed. [Hz]"""
    drive: str
    """``converter``; ``quick`` where shifts are over sooner than a pick-up may be late; else ``clutch``."""


def means_of(seen: Seen) -> Means:
    """What a run's figures rest on, as far as these classes tell it apart.

    Parameters
    ----------
    seen : Seen
        Of a run.

    Returns
    -------
    Means
        Where there is no GPS it has no rate.
    """
    quick = seen.usual_shift_s > 0.0 and is_quick([seen.usual_shift_s])
    drive = "converter" if seen.drive == "converter" else "quick" if quick else "clutch"
    gps_hz = seen.gps_hz or None
    return Means(seen.basis, seen.slip == "given", seen.felt == "yes", gps_hz, seen.engine_hz, drive)


def classes_of(figure: str, means: Means) -> Sequence[str]:
    """The classes of one figure, the narrowest first, the figure itself last.

    Parameters
    ----------
    figure : str
        One of those that are parted by classes.
    means : Means
        What the run rests on.

    Returns
    -------
    sequence of str
        Each is the one after it with a word more.

    Raises
    ------
    ValueError
        If no such figure is known.

    Examples
    --------
    >>> classes_of("splits", Means("gps", False, False, 10.0, 100.0, "clutch"))
    ('splits/no slip/gps/not felt/5 or 10 Hz', 'splits/no slip/gps/not felt', 'splits/no slip/gps', 'splits/no slip', \
'splits')
    """
    if figure not in PARTED:
        raise ValueError(f"figure must be one of {', '.join(PARTED)}, got {figure!r}")
    words = [figure, *_words(figure, means)]
    return tuple("/".join(words[:count]) for count in range(len(words), 0, -1))


def own_factor(figure: str, means: Means) -> float:
    """By how much a figure's run's own part is to be taken more.

    Parameters
    ----------
    figure : str
        One of those that are parted by classes.
    means : Means
        What the run rests on.

    Returns
    -------
    float
        Of the narrowest class that is known; 1 where none is. [-]
    """
    return next((FACTORS[name] for name in classes_of(figure, means) if name in FACTORS), 1.0)


def _words(figure: str, means: Means) -> list[str]:
    slip = "slip" if means.timed else "no slip"
    if figure in WHEN:
        rate = [] if means.gps_hz is None or means.basis != SpeedBasis.GPS else [_gps_rate(means.gps_hz)]
        return [slip, means.basis, "felt" if means.felt else "not felt", *rate]
    if figure in AT_THE_ENGINE:
        return [means.drive, _engine_rate(means.engine_hz)]
    return [means.drive, means.basis, slip]


def _gps_rate(rate_hz: float) -> str:
    return "1 or 2 Hz" if rate_hz < SLOW_GPS_HZ else "5 or 10 Hz" if rate_hz < MID_GPS_HZ else "20 Hz and more"


def _engine_rate(rate_hz: float) -> str:
    return "to 50 Hz" if rate_hz < SLOW_ENGINE_HZ else "100 Hz" if rate_hz < MID_ENGINE_HZ else "200 Hz and more"
