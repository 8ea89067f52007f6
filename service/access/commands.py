"""The command that sets up who may: teams, people, invitations, from the machine that the service runs on.

Public: `run_step`.
"""

from __future__ import annotations

import argparse
import getpass
import sys
from collections.abc import Callable
from pathlib import Path

from passband.service.access.identity import THIS_MACHINE, Access, Refused, access_file
from passband.service.access.records import AccessRecords, Role, Team
from passband.service.access.teams import access_records, is_set_up
from passband.service.access.teams_told import folders_told, tell_teams
from passband.service.given.facts import GivenError
from passband.service.settings import Settings, read_settings
from passband.service.store.faults import LibraryDamaged, RowsElsewhere
from passband.service.store.schema import SchemaError


def run_step(step: str, options: argparse.Namespace, *, data: Path | None) -> int:
    """Take one step of setting up.

    Parameters
    ----------
    step : {"begin", "team", "invite", "password", "list"}
        Which.
    options : argparse.Namespace
        Its options.
    data : Path, optional
        Folder of the library; else the setting's.

    Returns
    -------
    int
        0.

    Raises
    ------
    GivenError
        If a name, password or team will not do, access is not set up yet, or a database on a server cannot be used.
    """
    settings = read_settings() if data is None else read_settings(data=data)
    try:
        _take(step, options, settings)
    except (SchemaError, RowsElsewhere, LibraryDamaged) as error:
        raise GivenError(str(error)) from None
    return 0


def _take(step: str, options: argparse.Namespace, settings: Settings) -> None:
    set_up = _is_set_up(settings, step)
    if step != "begin" and not set_up:
        raise GivenError(
            f"Access is not set up for {settings.data}: begin with 'passband access begin TEAM --owner NAME'."
        )
    if step == "begin" and set_up:
        raise GivenError(f"Access is set up for {settings.data} already; add a team with 'passband access team'.")
    settings.data.mkdir(parents=True, exist_ok=True, mode=0o700)
    steps: dict[str, Callable[[Access, argparse.Namespace], None]] = {
        "begin": _begin, "team": _team, "invite": _invite, "password": _password, "list": _list,
    }  # fmt: skip
    options.told = folders_told(settings.data)
    try:
        with access_records(settings) as records:
            steps[step](Access(records), options)
            if step in ("begin", "team"):
                tell_teams(settings.data, records.folders())
                _print_not_yet_back(options.told, records)
    except Refused as error:
        raise GivenError(str(error)) from None
    finally:
        if step == "begin" and not settings.database and not _has_teams(settings):
            access_file(settings.data).unlink(missing_ok=True)  # without a team nobody could ever come in


def _is_set_up(settings: Settings, step: str) -> bool:
    """Whether there are teams; whoever begins may do so where the people were lost, or no team was made yet."""
    return _has_teams(settings) if step == "begin" else is_set_up(settings)


def _has_teams(settings: Settings) -> bool:
    if not settings.database and not access_file(settings.data).exists():
        return False
    with access_records(settings) as records:
        return bool(records.all_teams())


def _print_not_yet_back(told: dict[str, str], records: AccessRecords) -> None:
    waiting = sorted(set(told) - {team.name for team in records.all_teams()})
    if waiting:
        names = ", ".join(repr(name) for name in waiting)
        print(f"The libraries of these teams of before wait for them: {names}. 'passband access team' brings one back.")


def _begin(access: Access, options: argparse.Namespace) -> None:
    """The first team takes the library that is here; where there were teams before, only the one whose it was."""
    whose = next((name for name, folder in options.told.items() if not folder), None)
    if whose not in (None, options.team.strip()):
        raise GivenError(f"The library that is here was of the team {whose!r}; begin with that name.")
    _make_team(access, options, folder="")
    print("From the next start on the service asks for names, at every address.")


def _team(access: Access, options: argparse.Namespace) -> None:
    _make_team(access, options, folder=options.told.get(options.team.strip()))


def _make_team(access: Access, options: argparse.Namespace, *, folder: str | None) -> None:
    name = options.team.strip()
    if not name or len(name) > 100:
        raise GivenError("A team's name has 1 to 100 letters.")
    if access.records.team_named(name) is not None:
        raise GivenError(f"There is a team {name!r} already.")
    owner = access.person_named(options.owner)
    if owner is None:
        owner = access.add_person(options.owner, _read_password(options.password_file))
    quota = None if options.quota_gb is None else int(options.quota_gb * 1e9)
    team = access.records.add_team(name, folder=folder, quota_bytes=quota, now=access.now())
    access.records.set_role(team.id, owner.id, Role.OWNER)
    access.records.note(team.id, THIS_MACHINE, f"made the team; {owner.name} owns it", now=access.now())
    print(f"Team {name}, owned by {owner.name}.")


def _read_password(file: Path | None) -> str:
    if file is not None:
        try:
            return file.read_text(encoding="utf-8").rstrip("\r\n")
        except OSError as error:
            raise GivenError(f"{file} cannot be read: {error.strerror}.") from None
    if not sys.stdin.isatty():
        raise GivenError("There is nobody to ask for a password; name a file that holds it with --password-file.")
    first = getpass.getpass("Password: ")
    if getpass.getpass("Once more: ") != first:
        raise GivenError("The two passwords differ.")
    return first


def _named(access: Access, name: str) -> Team:
    team = access.records.team_named(name.strip())
    if team is None:
        names = ", ".join(repr(one.name) for one in access.records.all_teams())
        raise GivenError(f"There is no team {name!r}; there are {names}.")
    return team


def _invite(access: Access, options: argparse.Namespace) -> None:
    team, role = _named(access, options.team), Role[options.role.upper()]
    key = access.invite(team, role)
    access.records.note(team.id, THIS_MACHINE, f"invited a {options.role}", now=access.now())
    print(f"For one person, within a week, behind the service's own address: /join/{key}")


def _password(access: Access, options: argparse.Namespace) -> None:
    person = access.person_named(options.name)
    if person is None:
        raise GivenError(f"Nobody is called {options.name!r}.")
    access.set_password(person, _read_password(options.password_file), with_tokens=options.revoke_tokens)
    print(f"{person.name} has another password; all sessions ended.")
    left = access.records.tokens_of(person.id)
    if left:
        names = ", ".join(repr(one.name) for one in left)
        print(f"Tokens for programs that {person.name} made still hold: {names}; --revoke-tokens ends them too.")


def _list(access: Access, options: argparse.Namespace) -> None:
    for team in access.records.all_teams():
        bound = "" if team.quota_bytes is None else f", {team.quota_bytes / 1e9:g} GB at most"
        print(f"{team.name}{bound}")
        for member in access.records.members(team.id):
            print(f"  {member.name}, {member.role.name.lower()}")
