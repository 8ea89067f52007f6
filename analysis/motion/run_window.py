"""When a run was and how it ended, as its review has it: by its motion, or by what launch and slip alone say.

Public: `window_of_run`, `tell_early_lift`, `UnseenRun`, `window_of_unseen_run`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.motion.slip_alone import USUAL_LAUNCH_TO_CLOCK_S, SlipRun
from passband.analysis.motion.timed import Timed
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.results.window import FINISHES, Outcome, Window
from passband.analysis.windows.window import RunWindow

CLOCK_BY_LAUNCH_S = 0.3
"""95 % half-width that a clock start has beyond its launch's own where nothing shows the way between. [s]"""


EARLY_S = 0.25
"""A foot that comes off less than this before the line came off at it: what clock start and throttle leave open. [s]"""


def window_of_run(window: RunWindow, timed: Timed, clock_open_s: float, *, finish_ft: int) -> Window:
    """When a run was whose motion is known.

    Parameters
    ----------
    window : RunWindow
        As the logs show it roughly.
    timed : Timed
        Its motion.
    clock_open_s : float
        95 % half-width of what its logs' clocks leave open of when: the clock start leaves it open too. [s]
    finish_ft : int
        The finish line's. [ft]

    Returns
    -------
    Window
        With the way gone to the run's end.
    """
    motion, start, end_s = timed.motion, timed.clock_start_s, timed.end_s
    half_width = clock_open_s
    if motion.basis is SpeedBasis.ENGINE_SPEED and motion.scale is None:
        # Nothing of the car is seen until the clutch has locked.
        half_width = max(half_width, window.launch_plus_minus_s)
    if timed.finish_s is not None:
        outcome = FINISHES[finish_ft]
    else:
        outcome = Outcome.ABORTED if window.lift_s is not None else Outcome.LOG_ENDS
    last = min(int(motion.time_s.searchsorted(end_s)), motion.time_s.size - 1)
    return Window(
        log_launch_s=window.launch_s,
        log_clock_start_s=start.value,
        clock_start_plus_minus_s=float((start.plus_minus**2 + half_width**2) ** 0.5),
        log_finish_s=start.value + end_s,
        distance_m=float(motion.distance_m[last]),
        outcome=outcome,
        decoys=window.other_events,
    )


def tell_early_lift(window: RunWindow, timed: Timed) -> tuple[Finding, ...]:
    """A driver who lifted for good before the finish: it was rolled through, or the run ends with the lift.

    Parameters
    ----------
    window : RunWindow
        When the driver lifted.
    timed : Timed
        When the car was at the finish, and where it was before.

    Returns
    -------
    tuple of Finding
        Empty where the foot stayed, or where nothing shows a lift. A run that ends with one is as sure as any: a note.
        So is a lift that came no sooner than the finish is known to: the car may have been through it.
    """
    if window.lift_s is None:
        return ()
    lift_s, motion = window.lift_s - timed.clock_start_s.value, timed.motion
    gone_m = float(motion.distance_m[min(int(motion.time_s.searchsorted(lift_s)), motion.time_s.size - 1)])
    if timed.finish_s is None:
        text = (
            f"The driver lifted for good at {lift_s:.2f} s, after {gone_m:.0f} m, and the run ends there: mean powers, "
            "boost, band and limits go up to the lift, splits as far as speed is logged."
        )
        return (Finding("lifted-for-good", "note", text, f"{lift_s:.2f} s"),)
    early_s = timed.finish_s - lift_s
    if early_s < EARLY_S + timed.clock_start_s.plus_minus:
        return ()
    splits = timed.distance.splits
    open_s = splits[-1].time_s.plus_minus if splits else 0.0
    if early_s < EARLY_S + open_s:
        text = (
            f"The driver lifted for good at {lift_s:.2f} s; the finish, by these logs {early_s:.2f} s later, is known "
            f"to {open_s:.2f} s, so the car may have been through it."
        )
        return (Finding("lifted-before-finish", "note", text, f"{lift_s:.2f} s"),)
    text = (
        f"The driver lifted for good at {lift_s:.2f} s, after {gone_m:.0f} m, and rolled through the finish "
        f"{early_s:.2f} s later: elapsed time, trap speed and mean powers hold that too, and are no full pull's."
    )
    return (Finding("lifted-before-finish", "caution", text, f"{lift_s:.2f} s"),)


@dataclass(frozen=True, slots=True)
class UnseenRun:
    """When a run was whose motion no log shows."""

    window: Window
    """As its review has it."""
    end_s: float
    """Its end. [s, ET]"""


def window_of_unseen_run(window: RunWindow, why: Unknown, by_slip: SlipRun | None, *, finish_ft: int) -> UnseenRun:
    """When a run was whose motion no log shows: from its launch, to its slip's last mark or else its lift.

    Parameters
    ----------
    window : RunWindow
        As the logs show it.
    why : Unknown
        Why its motion is not known.
    by_slip : SlipRun or None
        The run as its slip has it.
    finish_ft : int
        The finish line's. [ft]

    Returns
    -------
    UnseenRun
        Its way is the slip's; unknown without one.
    """
    start_s = window.launch_s + (USUAL_LAUNCH_TO_CLOCK_S if by_slip is not None else 0.0)
    lifted_s = (window.lift_s if window.lift_s is not None else window.stop_s) - start_s
    end_s = lifted_s if by_slip is None else by_slip.time_s
    reached = by_slip is not None and by_slip.distance.splits[-1].at_ft == finish_ft
    seen = Window(
        log_launch_s=window.launch_s,
        log_clock_start_s=start_s,
        clock_start_plus_minus_s=window.launch_plus_minus_s + CLOCK_BY_LAUNCH_S,
        log_finish_s=start_s + end_s,
        distance_m=Unknown(why.reason) if by_slip is None else float(by_slip.way_m[-1]),
        outcome=FINISHES[finish_ft] if reached else Outcome.UNKNOWN,
        decoys=window.other_events,
    )
    return UnseenRun(seen, end_s)
