"""Access and the teams' libraries opened together, where access is set up.

Public: `Teams`, `open_teams`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.service.access.identity import Access, access_file
from passband.service.access.libraries import TeamLibraries
from passband.service.access.records import AccessRecords
from passband.service.metrics import Kept
from passband.service.settings import Settings


@dataclass(frozen=True, slots=True)
class Teams:
    """Who may, and what they may it with."""

    access: Access
    libraries: TeamLibraries

    def kept(self) -> list[Kept]:
        """How much each team keeps and may keep; what one keeps is known while its library is open."""
        there = self.libraries.open_ones()
        return [
            Kept(team.name, there[team.id].records.bytes_of_logs() if team.id in there else None, team.quota_bytes)
            for team in self.access.records.all_teams()
        ]

    def open_with_work(self) -> None:
        """Open the libraries in which jobs wait, before anybody of their teams comes."""
        self.libraries.open_with_work(self.access.records.all_teams())

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
