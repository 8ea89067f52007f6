"""What the store says when something that it should have is not there.

Public: `LibraryInUse`, `LibraryDamaged`, `NotWhole`, `Contested`, `CannotRestore`,
`RowsElsewhere`, `MEND`, `damaged`.
"""

from __future__ import annotations

MEND = "passband recheck"
"""The command that checks and mends a library."""


class LibraryInUse(RuntimeError):
    """Another program has the folder open."""


class RowsElsewhere(LibraryInUse):
    """The folder's rows are in another database than the one that the settings name; nothing was touched."""


class LibraryDamaged(RuntimeError):
    """The database cannot be trusted with a start; its text says why and what to do. Nothing was touched."""


def damaged(why: str) -> str:
    """The sentence that a start is refused with."""
    return (
        f"The library's database is damaged ({why}). Nothing was changed. Run `{MEND}` on its folder: it makes the "
        "database anew from the logs and the records kept beside them."
    )


class NotWhole(LookupError):
    """Something of one run is missing or cut; its text says what and what to do. Other runs are as they were.

    Parameters
    ----------
    run_id : str
        Which run.
    what : str
        What is missing, a noun.
    """

    def __init__(self, run_id: str, what: str) -> None:
        super().__init__(
            f"{what} of the run {run_id} is missing or damaged; end the service, run `{MEND}` on its folder, "
            "and start it again. All else that is kept is not touched by it."
        )
        self.run_id = run_id
        self.what = what


class Contested(RuntimeError):
    """A change of what the database tells otherwise than the newer record beside it: it would bury the record."""

    def __init__(self) -> None:
        super().__init__(
            "The database is an older copy than what is recorded of this, so it is not changed now; end the service, "
            f"run `{MEND}` on its folder, and start it again."
        )


class QuotaUsedUp(RuntimeError):
    """A library that may not hold more; its text says how much it may."""

    def __init__(self, quota_bytes: int) -> None:
        super().__init__(
            f"The team's quota of {quota_bytes / 1e9:.1f} GB of logs is used up; nothing of this upload was kept. "
            "Delete runs and empty the trash, or ask whoever runs the service for more."
        )


class CannotRestore(RuntimeError):
    """What lies in the trash cannot be brought back; its text says why."""
