"""What a reader of a review must know about the data or the run, with where it is.

`Finding` is one such fact, `GIVEN_NOT_USED` names those that stand first. A stage that mends, chooses, doubts or
cannot do something says so by one.
"""

from dataclasses import dataclass
from typing import Literal

Level = Literal["note", "caution", "stop"]

GIVEN_NOT_USED = frozenset(
    {
        "slip-does-not-fit", "slip-mark-left-out", "slip-not-used", "slip-speed-without-time",
        "dew-point-above-temperature", "limit-not-read", "limit-channel-unknown",
    }
)  # fmt: skip
"""Codes of findings on what a user gave and the analysis could not use: they stand at the top."""

ORDER: dict[Level, int] = {"stop": 0, "caution": 1, "note": 2}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that the reader of a review must know."""

    code: str
    """Short name of the kind of finding, kebab-case, e.g. ``engine-speed-dropouts``."""
    level: Level
    """``note``: mended or chosen; ``caution``: less sure than it looks; ``stop``: do not use the figure."""
    text: str
    """A whole sentence: what was found, how much of it, what was done, what the reader can do."""
    where: str = ""
    """The place: log, channel, line or log time, e.g. ``ecu.csv, Engine Speed, 12.3 s``; empty if the whole run."""


def by_weight(findings: list[Finding]) -> list[Finding]:
    """Sort findings with those that stop a figure first, order kept within a level.

    Parameters
    ----------
    findings : list of Finding
        Any findings; duplicates (same code, text and place) stand once.

    Returns
    -------
    list of Finding
        Stop, then caution, then note.

    Examples
    --------
    >>> [f.level for f in by_weight([Finding("a", "note", "x"), Finding("b", "stop", "y")])]
    ['stop', 'note']
    """
    return sorted(dict.fromkeys(findings), key=lambda finding: ORDER[finding.level])
