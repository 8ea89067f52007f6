"""A log that ends before its run does: told, as what it alone holds is known up to there only.

Public: `tell_log_end`.
"""

from __future__ import annotations

from passband.analysis.channels.log import Traces
from passband.analysis.results.findings import Finding
from passband.analysis.results.window import Outcome

TOLD_S = 0.1
"""A log that ends by less before the finish hides nothing of the run that anybody would look for. [s]"""


def tell_log_end(traces: Traces, outcome: Outcome, *, end_s: float) -> list[Finding]:
    """Say where the ECU's log, or all of them, end before the run.

    Parameters
    ----------
    traces : Traces
        ET; the ECU's channels are of log 0.
    outcome : Outcome
        Of the run.
    end_s : float
        Its end. [s, ET]

    Returns
    -------
    list of Finding
        Empty where the ECU's log goes on to the end of the run.
    """
    last_s = max(
        (float(channel.time_s[-1]) for channel in traces if channel.log == 0 and channel.time_s.size), default=0
    )
    where = f"{last_s:.2f} s from clock start"
    if outcome is Outcome.LOG_ENDS:
        text = (
            f"The log ends before the finish, {max(last_s, end_s):.2f} s from clock start and under power: all figures "
            "are of the run up to there. Let the logger record on until the car has slowed."
        )
        return [Finding("log-ends-early", "caution", text, where)]
    if end_s - last_s <= TOLD_S:
        return []
    text = (
        f"The ECU's log ends {end_s - last_s:.1f} s before the {'lift' if outcome is Outcome.ABORTED else 'finish'}: "
        "boost, band and limits, and all else that it alone holds, are known up to there only; power at the flywheel "
        "after that rests on another log's engine speed, or leaves the engine out. Let it record longer."
    )
    return [Finding("log-ends-early", "caution", text, where)]
