"""Which teams a folder has, told beside the file of people: its loss lets nobody in, and loses no team its library.

Without that file a service would ask nobody for a name, and which folder was whose library would be known to nobody.

Public: `TEAMS_TOLD`, `AccessLost`, `folders_told`, `tell_teams`, `libraries_of_teams`, `check_not_lost`.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import orjson

from passband.service.store.faults import LibraryDamaged
from passband.service.store.files import write_whole

TEAMS_TOLD = "teams.json"
LIBRARY_HAS = ("library.sqlite", "uploads", "originals")
"""Any of these is of a library, though its database may be lost."""


class AccessLost(LibraryDamaged):
    """A folder had teams, and their people are gone.

    Parameters
    ----------
    data : Path
        The folder.
    names : sequence of str
        Its teams, as far as they are known.
    """

    def __init__(self, data: Path, names: Iterable[str]) -> None:
        told = ", ".join(repr(name) for name in names)
        super().__init__(
            f"Access was set up for {data}{f', with the teams {told}' if told else ''}, but its people are not there: "
            "they are kept in access.sqlite, or with the rows on a server. So nothing is served: everybody would be "
            "let in. Put them back from a backup; or begin anew with 'passband access begin TEAM --owner NAME' and "
            "'passband access team', with the teams' names as they were: each finds its own library."
        )


def folders_told(data: Path) -> dict[str, str]:
    """Where each team's library lies in a folder, by the team's name; ``""`` is the folder itself."""
    try:
        told = orjson.loads((data / TEAMS_TOLD).read_bytes())
        return {str(one["name"]): str(one["folder"]) for one in told["teams"]}
    except (FileNotFoundError, ValueError, TypeError, KeyError):
        return {}


def tell_teams(data: Path, teams: Iterable[tuple[str, str]]) -> None:
    """Keep the names and folders of the teams there are; those told before that have not come again stay told."""
    before = folders_told(data)
    now = before | dict(teams)
    if now != before:
        data.mkdir(parents=True, exist_ok=True, mode=0o700)
        rows = [{"name": name, "folder": folder} for name, folder in sorted(now.items())]
        write_whole(data / TEAMS_TOLD, orjson.dumps({"teams": rows}, option=orjson.OPT_INDENT_2), scratch=data)


def libraries_of_teams(data: Path) -> list[str]:
    """The folders of teams' libraries below a folder, also of those whose database is lost."""
    inner = (path for path in data.glob("teams/*") if any((path / name).exists() for name in LIBRARY_HAS))
    return sorted(f"teams/{path.name}" for path in inner)


def check_not_lost(data: Path) -> None:
    """Raise `AccessLost` where a folder had teams; for one of which no people are there."""
    if (data / TEAMS_TOLD).exists() or libraries_of_teams(data):
        raise AccessLost(data, sorted(folders_told(data)))
