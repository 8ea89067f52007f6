"""Power where the motion was bent to a slip's marks: its means stand with what they leave open, its peak does not.

Public: `without_peak`.
"""

from __future__ import annotations

from dataclasses import replace

from passband.analysis.results.findings import Finding
from passband.analysis.results.power import Power
from passband.analysis.results.unknown import Unknown


def without_peak(power: Power) -> Power:
    """The same power with nothing said of single moments.

    Parameters
    ----------
    power : Power
        Of a run whose sensors contradict the slip that its motion was laid on.

    Returns
    -------
    Power
        Averages as they were; peak unknown and no curve drawn.

    Notes
    -----
    A mark fixes the way up to it and so the mean speed between two marks, and energy gained between them. How the
    speed went in between is the bend's own shape there, and power at a moment goes by its slope.
    """
    text = (
        "The car's motion was bent to the timing slip's marks, which its sensors contradict: between marks its slope "
        "is a guess, so peak power and power against engine speed are not known. The averages stand, with what the "
        "bend leaves open. Find which speed in the log was wrong."
    )
    why = Unknown(Finding("peak-power-not-known", "caution", text))
    return replace(power, peak_w=power.peak_w if isinstance(power.peak_w, Unknown) else why, curves=())
