"""What of a timing slip could not be used, so that nobody believes it was.

Public: `tell_unused_slip`, `tell_slips_left_over`.
"""

from __future__ import annotations

from collections.abc import Sequence

from passband.analysis.given.car import Slip
from passband.analysis.results.findings import Finding


def tell_unused_slip(slip: Slip | None, *, end_s: float | None) -> list[Finding]:
    """A caution for what a slip tells and the run cannot take.

    Parameters
    ----------
    slip : Slip or None
        As given.
    end_s : float or None
        Where the car's motion is last known, from clock start; None where nothing shows it. [s]

    Returns
    -------
    list of Finding
        Empty where all of it was looked at; whether it fits the logs is told by `analysis.motion.distance`.
    """
    if slip is None:
        return []
    times = [(feet, time) for feet, time in slip.times if time is not None]
    if end_s is None:
        text = "The timing slip could not be used: no log shows how fast the car went."
        return [Finding("slip-not-used", "caution", text, "slip")] if times else []
    found = [
        Finding(
            "slip-speed-without-time",
            "caution",
            f"The slip's speed at {feet} ft could not be used: its time at that mark is not given. Give both.",
            f"slip, {feet} ft",
        )
        for feet, time, speed in ((660, slip.t660_s, slip.v660), (1320, slip.t1320_s, slip.v1320))
        if speed is not None and time is None
    ]
    if times and times[0][1] > end_s:
        text = (
            f"The timing slip could not be used: its first mark, {times[0][0]} ft at {times[0][1]:.3f} s, lies past "
            f"the end of the logs, {end_s:.2f} s from clock start."
        )
        found.append(Finding("slip-not-used", "caution", text, f"slip, {times[0][0]} ft"))
    return found


def tell_slips_left_over(slips: Sequence[Slip], runs: int) -> list[Finding]:
    """A caution for slips beyond the runs that the logs hold.

    Parameters
    ----------
    slips : sequence of Slip
        As given, one for each run in order.
    runs : int
        Runs found.

    Returns
    -------
    list of Finding
        Empty where each slip has its run.
    """
    if len(slips) <= runs:
        return []
    held = "1 run" if runs == 1 else f"{runs} runs"
    text = (
        f"{len(slips)} timing slips were given and the logs hold {held}: the last "
        f"{'one was' if len(slips) - runs == 1 else f'{len(slips) - runs} were'} not used. Look whether each of the "
        "others is at its own run."
    )
    return [Finding("slip-not-used", "caution", text, "slip")]
