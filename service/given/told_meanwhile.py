"""Two people who tell of the same thing at once: whoever comes second is told what the first said, and takes nothing.

Public: `ToldMeanwhile`, `check_run_untold`, `check_car_untold`.
"""

from __future__ import annotations

from passband.analysis.results.plain_values import JsonObject
from passband.service.store.records import CarRecord, RunRecord

SHOWN = 300
"""So much of what stands there now is quoted. [characters]"""
CALLED = {"finish_ft": "finish line", "at": "date"}
"""Keys that people know under another name."""


class ToldMeanwhile(ValueError):
    """Something that was to be changed is no longer what its sender saw; its text says so, and nothing was changed."""

    def __init__(self, text: str, now: JsonObject) -> None:
        super().__init__(text)
        self.now = now
        """What stands there, by the keys that differ: who sends that as seen may change it."""


def check_run_untold(run: RunRecord, said: JsonObject, was: JsonObject) -> None:
    """Refuse what would be written over words that its sender never saw.

    Parameters
    ----------
    run : RunRecord
        As it is, and stays until the change is made.
    said : dict
        What it is to be; a key that is that already is no matter.
    was : dict
        What the sender saw, by the same keys; those not in it are not looked at.

    Raises
    ------
    ToldMeanwhile
        With what stands there now.
    """
    stands = {"car": run.car[0] if run.car else None}
    stands.update((key, getattr(run.details, key)) for key in said if key != "car")
    now = {key: stands[key] for key in said if key in was and stands[key] not in (was[key], said[key])}
    if now:
        told = "; ".join(f"the {CALLED.get(key, key)}{_quoted(value)}" for key, value in now.items())
        raise ToldMeanwhile(
            f"Somebody else changed this run after you opened it: {told}. Nothing of yours was saved yet; save again "
            "to put yours in its place.",
            now,
        )


def check_car_untold(car: CarRecord, made_of: int) -> None:
    """Refuse a version made of one that is no longer the newest; `ToldMeanwhile` says which is."""
    if car.version != made_of:
        raise ToldMeanwhile(
            f"Somebody else changed this car after you opened it, as version {car.version} of {car.made_at[:16]} UTC. "
            "Nothing of yours was saved yet. Look at theirs in another window; save again to put yours in its place "
            "(theirs stays kept as a version).",
            {"version": car.version},
        )


def _quoted(value: object) -> str:
    if not isinstance(value, str):
        return ""
    text = value if len(value) <= SHOWN else f"{value[:SHOWN]}…"
    return f", now “{text}”" if text else ", now empty"
