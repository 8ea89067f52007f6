"""Access and the teams' libraries opened together, where access is set up.

Public: `Teams`, `open_teams`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.service.access.identity import Access, access_file
from passband.service.access.libraries import TeamLibraries
from passband.service.access.records import AccessRecords
from passband.service.settings import Settings


@dataclass(frozen=True, slots=True)
class Teams:
    """Who may, and what they may it with."""

    access: Access
    libraries: TeamLibraries

    def close(self) -> None:
        """Close the libraries, then the records."""
        self.libraries.close()
        self.access.records.close()


def open_teams(settings: Settings) -> Teams | None:
    """The teams of a data folder.

    Parameters
    ----------
    settings : Settings
        In force.

    Returns
    -------
    Teams or None
        None where access was never set up: then whoever reaches the service may do everything.
    """
    path = access_file(settings.data)
    return Teams(Access(AccessRecords(path)), TeamLibraries(settings)) if path.exists() else None
