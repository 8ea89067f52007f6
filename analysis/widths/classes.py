"""To which class of runs a figure belongs: what it rests on, from the broadest to the narrowest that is told apart.

A plus-minus is calibrated class by class (`table.py`); a class that too few simulated runs fell into stands for itself
only as part of a broader one.

Public: `Means`, `means_of_run`, `classes_of`, `FIGURES`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.channels.log import Traces
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.shifts import Shift
from passband.analysis.shifts.dip import are_quick

WHEN = ("clock_start", "splits", "traps")
AT_THE_ENGINE = ("rpm_at_launch", "rpm_lowest", "shift_start", "rpm_before", "rpm_after", "rpm_drop")
POWERS = ("average_w", "average_pulling_w", "average_wheel_w", "peak_w")
CLOCKS = ("clock_offset", "clock_rate")
FIGURES = (*WHEN, *AT_THE_ENGINE, *POWERS, *CLOCKS)
"""All figures that the table knows."""
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


def means_of_run(
    traces: Traces, shifts: Sequence[Shift], basis: SpeedBasis | None, *, timed: bool, converter: bool
) -> Means:
    """What a run's figures rest on.

    Parameters
    ----------
    traces : Traces
        All its channels.
    shifts : sequence of Shift
        All its shifts.
    basis : SpeedBasis or None
        What ground speed rests on; None where nothing shows it.
    timed : bool
        Whether a slip was laid on it.
    converter : bool
        Whether the car has one.

    Returns
    -------
    Means
        A channel that is not logged has no rate, an engine speed that is not 0.
    """
    gps, engine = traces.get("gps_speed"), traces.get("engine_speed")
    return Means(
        "nothing" if basis is None else basis.value,
        timed,
        traces.get("acceleration") is not None,
        None if gps is None else gps.rate_hz,
        0.0 if engine is None else engine.rate_hz,
        "converter" if converter else "quick" if are_quick(shifts) else "clutch",
    )


def classes_of(figure: str, means: Means, clock: ClockMatch | None = None) -> Sequence[str]:
    """The classes of one figure, the narrowest first, the figure itself last.

    Parameters
    ----------
    figure : str
        One of `FIGURES`.
    means : Means
        What the run rests on.
    clock : ClockMatch, optional
        The match, for a figure of clocks.

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
    if figure not in FIGURES:
        raise ValueError(f"figure must be one of {', '.join(FIGURES)}, got {figure!r}")
    words = [figure, *_words(figure, means, clock)]
    return tuple("/".join(words[:count]) for count in range(len(words), 0, -1))


def _words(figure: str, means: Means, clock: ClockMatch | None) -> list[str]:
    slip = "slip" if means.timed else "no slip"
    if figure in WHEN:
        rate = [] if means.gps_hz is None or means.basis != SpeedBasis.GPS else [_gps_rate(means.gps_hz)]
        return [slip, means.basis, "felt" if means.felt else "not felt", *rate]
    if figure in AT_THE_ENGINE:
        return [means.drive, _engine_rate(means.engine_hz)]
    if figure in POWERS:
        return [means.drive, means.basis, slip]
    return ["none" if clock is None else " and ".join(sorted(clock.matched_on)) or "nothing"]


def _gps_rate(rate_hz: float) -> str:
    return "1 or 2 Hz" if rate_hz < SLOW_GPS_HZ else "5 or 10 Hz" if rate_hz < MID_GPS_HZ else "20 Hz and more"


def _engine_rate(rate_hz: float) -> str:
    return "to 50 Hz" if rate_hz < SLOW_ENGINE_HZ else "100 Hz" if rate_hz < MID_ENGINE_HZ else "200 Hz and more"
