"""A receiver that repeats its last speed while it has no fix: what was left out of the run, and what that costs.

The repeats themselves are left out where the speed is read (`sensors/new_values.py`).

Public: `tell_repeats`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.new_values import RECEIVERS, Dropout, find_dropouts

LONG_S = 0.5
"""A dropout of so long is a caution: half a second is 40 m at the trap, as `stuck-signal` has it. [s]"""
SAID = 3
"""So many are said one by one, the longest. [-]"""


def tell_repeats(run: Traces, motion: Motion, used: Sequence[str]) -> list[Finding]:
    """Say where a speed that the run rests on repeats its last value, and how open the car's speed is there.

    Parameters
    ----------
    run : Traces
        All channels. [s, ET]
    motion : Motion
        The run's.
    used : sequence of str
        Channels that ground speed rests on.

    Returns
    -------
    list of Finding
        One for a channel that does; a note where each lasts less than half a second.
    """
    found = []
    for name in RECEIVERS:
        channel = run.get(name)
        if channel is None or name not in used:
            continue
        missed = [one for one in find_dropouts(channel) if one.back_s > 0.0 and one.first_s < float(motion.time_s[-1])]
        if missed:
            found.append(_told(channel.header or name, missed, motion))
    return found


def _told(header: str, missed: list[Dropout], motion: Motion) -> Finding:
    """The finding of one channel's dropouts within the run."""
    longest = sorted(missed, key=lambda one: one.first_s - one.back_s)
    listed = sorted(longest[:SAID], key=lambda one: one.first_s)
    each = ", ".join(f"from {one.first_s:.2f} to {one.back_s:.2f} s by {one.leap:.1f} m/s" for one in listed)
    more = f" and {len(missed) - SAID} times more" if len(missed) > SAID else ""
    repeats = sum(one.repeats for one in missed)
    plus_minus = motion.speed_plus_minus_mps
    widest = max(missed, key=lambda one: _open_within(motion, one))
    usual = float(np.median(plus_minus[motion.time_s > 0.0]))
    text = (
        f"{header} repeats one value and then leaps, as a receiver does that had no fix meanwhile: {each}{more} "
        f"(times from clock start). What it repeats ({repeats} samples) was left out; the car's speed is drawn from "
        f"what else shows it there, and known to +- {_open_within(motion, widest):.2f} m/s (elsewhere {usual:.2f} m/s)."
    )
    where = f"{header}, {longest[0].first_s:.2f} s from clock start"
    if longest[0].back_s - longest[0].first_s < LONG_S:
        return Finding("speed-repeated", "note", text, where)
    return Finding("speed-repeated", "caution", text, where)


def _open_within(motion: Motion, dropout: Dropout) -> float:
    """The widest plus-minus of speed between the two values, in m/s."""
    between = (motion.time_s >= dropout.first_s) & (motion.time_s <= dropout.back_s)
    return float(motion.speed_plus_minus_mps[between].max()) if between.any() else 0.0
