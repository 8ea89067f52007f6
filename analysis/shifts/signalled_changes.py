"""When the driver changed gear, by torque cut or foot: counted, such signs place changes that spinning hides.

Where the ground's speed stands in for tires that spin, the path through the gears puts a change of gear where the tires
take hold again. The driver's own signs do not depend on the tires.

Public: `find_signalled_changes`.
"""

from __future__ import annotations

from collections.abc import Sequence

from passband.analysis.sensors.cut_signals import find_commands
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.shifts.interruptions import find_lifts

AT_THE_END_S = 0.6
"""A shift with the foot that has not ended by so long before the end of the run may be cut short by it. [s]"""


def find_signalled_changes(evidence: RunEvidence, about_s: Sequence[float]) -> list[float | None]:
    """When the driver changed gear, if the signs are as many as the changes that the path through the gears holds.

    Parameters
    ----------
    evidence : RunEvidence
        Of the run.
    about_s : sequence of float
        Where the path puts its changes, in order. [s, ET]

    Returns
    -------
    list of float or None
        For each in order: where torque was cut, or else where the throttle opened again and the engine fell as it did.
        None for one that the end of the run cuts short, and for all where the signs are more or fewer: which of them is
        which is then not known. [s, ET]
    """
    cut_short = 1 if about_s and about_s[-1] > evidence.end_s - AT_THE_END_S else 0
    cuts = find_commands(evidence.traces, start_s=evidence.launch_s, stop_s=evidence.end_s)
    changed = [lift.end_s for lift in find_lifts(evidence, ()) if lift.kind == "hidden shift"]
    for signalled in (cuts.tolist(), changed):
        if signalled and len(about_s) - cut_short <= len(signalled) <= len(about_s):
            return [*signalled, *[None] * (len(about_s) - len(signalled))]
    return [None] * len(about_s)
