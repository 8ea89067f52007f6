"""Runs of a group in which the engine itself was down: they tell of what broke, not of what was changed.

Public: `find_weak_engines`.
"""

from __future__ import annotations

from collections.abc import Sequence

from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.runs.digest import RunDigest, digest_run
from passband.analysis.runs.same_engine import hold_against_own

LEAST_OTHERS = 3
"""With fewer others, which of them is the odd one out cannot be told. Chosen, no source."""


def find_weak_engines(runs: Sequence[ComparedRun]) -> tuple[str, ...]:
    """Hold each run's engine against the others' of its group.

    Parameters
    ----------
    runs : sequence of ComparedRun
        On one side of a change.

    Returns
    -------
    tuple of str
        ``engine down 8 %`` for each run that was unlike the others, and down; else empty.

    Notes
    -----
    The weakest is looked for first, and then among what is left, so that one that is down is no measure for the next.
    A run that was stronger than the others is left in: nothing breaks that way.
    """
    left = {place: digest_run(run) for place, run in enumerate(runs)}
    sentences = [""] * len(runs)
    while len(left) > LEAST_OTHERS:
        weak = [found for place in left if (found := _weak(place, left)) is not None]
        if not weak:
            break
        _, place, words = min(weak)
        sentences[place] = words
        del left[place]
    return tuple(sentences)


def _weak(place: int, runs: dict[int, RunDigest]) -> tuple[float, int, str] | None:
    own = [run for other, run in runs.items() if other != place and run.clean]
    found = hold_against_own(runs[place], own) if len(own) >= LEAST_OTHERS else None
    return (found.power.value, place, found.fault) if found is not None and found.fault else None
