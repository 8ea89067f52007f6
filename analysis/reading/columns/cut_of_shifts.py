"""An ignition cut by its name: of shifts, or of a limiter or a traction control, as the engine shows.

Public: `cut_of_shifts`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.channels.recognition import VAGUE
from passband.analysis.reading.columns.understood import own_name
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.intervals import find_true_runs

MOST_CUTS, LONGEST_CUT_S = 20, 0.5
"""A log of a run and its burnout holds no more shifts, and none is cut for longer. [-], [s]"""
FALLS_BY, WITHIN_S = 0.08, 0.25
"""An upshift takes a tenth and more of engine speed, and is through within this after its cut; the cuts of a limiter or
a traction control leave it where it was. [-], [s]"""
MOSTLY = 0.5
"""Share of cuts after which it must have fallen: some are of a limiter that shares the flag. [-]"""


def cut_of_shifts(log: Log) -> Log:
    """Take an ignition cut for a shift's only where engine speed falls at it as it does in a shift.

    Parameters
    ----------
    log : Log
        As understood.

    Returns
    -------
    Log
        The same where the name says what is cut for, or the engine confirms it; else the column under its own header.
    """
    cut, engine = log.get("shift_cut"), log.get("engine_speed")
    if cut is None or cut.confidence >= VAGUE or not _cuts_ignition(cut.header):
        return log
    if engine is not None and _engine_falls(cut, engine):
        return log
    text = (
        f"{cut.header} cuts the ignition, but engine speed does not fall at most of its cuts as it does in a shift: it "
        "may be a limiter's or a traction control's, so it is not taken for a shift's. If it is, tell that it is "
        "shift_cut."
    )
    unnamed = replace(cut, name=own_name(cut.header), confidence=0.0)
    return log.with_channel(cut, unnamed, Finding("ignition-cut-unclear", "note", text, cut.header))


def _cuts_ignition(header: str) -> bool:
    plain = header.casefold()
    return ("ign" in plain or "spark" in plain) and "shift" not in plain and "gear" not in plain


def _engine_falls(cut: Channel, engine: Channel) -> bool:
    known = cut.known
    values = known.values
    if values.size < 2:
        return False
    off = float(np.median(values))
    cuts = find_true_runs(values != off)
    if not 0 < len(cuts) <= MOST_CUTS:
        return False
    ends = [min(piece.stop, values.size - 1) for piece in cuts]
    starts_s = known.time_s[[piece.start for piece in cuts]]
    ends_s = known.time_s[ends]
    fell = engine.known.at(ends_s + WITHIN_S) < (1.0 - FALLS_BY) * engine.known.at(starts_s)
    return bool(np.mean(fell & (ends_s - starts_s <= LONGEST_CUT_S)) >= MOSTLY)
