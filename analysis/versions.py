"""Versions of the analysis, and what of it each one changed: a stored review says which version made it.

A change of any figure or finding takes a new version, last in `CHANGED`, with the rooms that it touched as they are
called in this folder. Where only rooms of `HOLDS_BOUNDS` changed since a run was reviewed, its bounds are held anew
against what was kept of it; a change anywhere else takes a review of its logs.

Public: `VERSION`, `CHANGED`, `HOLDS_BOUNDS`, `rooms_changed_since`.
"""

from __future__ import annotations

from collections.abc import Mapping

HOLDS_BOUNDS = frozenset({
    "engine/limits", "engine/run_times", "engine/excursions", "engine/limits_given", "engine/band", "engine/boost",
})  # fmt: skip
"""What acts on a run that is reviewed already."""
CHANGED: Mapping[str, frozenset[str]] = {
    "1": frozenset(),
    "2": frozenset({"reading", "motion", "driveline", "power"}),
    "3": frozenset({"windows", "sensors", "motion"}),
    "4": frozenset({"channels", "reading", "sensors", "motion", "driveline", "shifts", "power"}),
    "5": frozenset(
        {
            "channels",
            "driveline",
            "engine/limits",
            "motion",
            "power",
            "reading",
            "sensors",
            "shifts",
            "widths",
            "windows",
        }
    ),
    "6": frozenset(
        {"channels", "clocks", "driveline", "motion", "power", "reading", "sensors", "shifts", "widths", "windows"}
    ),
    "7": frozenset(
        {"channels", "clocks", "driveline", "motion", "power", "reading", "sensors", "shifts", "widths", "windows"}
    ),
    "8": frozenset({"driveline", "motion", "power", "reading", "sensors", "shifts", "widths", "windows"}),
    "9": frozenset({"channels", "clocks", "driveline", "motion", "power", "reading", "sensors", "shifts", "widths"}),
    "10": frozenset({"channels", "driveline", "motion", "power", "reading", "sensors", "shifts", "widths", "windows"}),
    "11": frozenset(
        {"air", "channels", "driveline", "motion", "power", "reading", "sensors", "shifts", "widths", "windows"}
    ),
    "12": frozenset({"channels", "clocks", "engine", "motion", "reading", "sensors", "shifts", "widths", "windows"}),
    "13": frozenset({"channels", "driveline", "motion", "power", "reading", "sensors", "shifts", "windows"}),
    "14": frozenset({"channels", "driveline", "motion", "reading", "sensors", "shifts", "widths", "windows"}),
    "15": frozenset({"driveline", "reading"}),
    "16": frozenset({"clocks", "given", "power", "reading", "shifts"}),
}
"""By version, oldest first: which rooms, or files of them, are others than in the version before."""
VERSION = list(CHANGED)[-1]
"""The newest: what a review made now says."""


def rooms_changed_since(version: str, *, changed: Mapping[str, frozenset[str]] = CHANGED) -> frozenset[str] | None:
    """What is no longer as it was in a version.

    Parameters
    ----------
    version : str
        Which made a review.
    changed : mapping
        As `CHANGED`.

    Returns
    -------
    frozenset of str or None
        Rooms and files; empty for the newest version, None for one that is not known: anything may have changed.

    Examples
    --------
    >>> changed = {"1": frozenset(), "2": frozenset({"engine/limits"}), "3": frozenset({"shifts"})}
    >>> sorted(rooms_changed_since("1", changed=changed)), sorted(rooms_changed_since("3", changed=changed))
    (['engine/limits', 'shifts'], [])
    >>> rooms_changed_since("0", changed=changed) is None
    True
    """
    versions = list(changed)
    if version not in versions:
        return None
    later = versions[versions.index(version) + 1 :]
    return frozenset(room for one in later for room in changed[one])
