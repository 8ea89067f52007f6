"""What is known of people and teams: rows in a file of their own beside the libraries, or on the libraries' server.

Secrets are not here: passwords as argon2 hashes; session keys, tokens and invitations as SHA-256 of what was given out.

Public: `Role`, `Person`, `Team`, `Member`, `Token`, `Invitation`, `JournalLine`, `LastOwner`, `NameTaken`,
`AccessRecords`, `forget_begun`.
"""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path
from typing import Any

from sqlalchemy import (
    BigInteger,
    Column,
    Engine,
    ForeignKey,
    Integer,
    MetaData,
    Table,
    Text,
    create_engine,
    delete,
    event,
    false,
    func,
    insert,
    select,
    update,
)
from sqlalchemy.exc import DatabaseError, IntegrityError

from passband.service.store.faults import LibraryDamaged

PRAGMAS = ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", "busy_timeout = 10000")
metadata = MetaData()
LONG = Integer().with_variant(BigInteger(), "postgresql")
"""A whole number of up to 64 bits; SQLite's are so of themselves."""
people = Table(
    "people", metadata,
    Column("id", Text, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("password", Text, nullable=False),
    Column("made_at", LONG, nullable=False),
)  # fmt: skip
teams = Table(
    "teams", metadata,
    Column("id", Text, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("folder", Text, nullable=False, unique=True),
    Column("quota_bytes", LONG),
    Column("made_at", LONG, nullable=False),
)  # fmt: skip
members = Table(
    "members", metadata,
    Column("team_id", Text, ForeignKey("teams.id"), primary_key=True),
    Column("person_id", Text, ForeignKey("people.id"), primary_key=True),
    Column("role", Integer, nullable=False),
)  # fmt: skip
sessions = Table(
    "sessions", metadata,
    Column("key", Text, primary_key=True),
    Column("person_id", Text, ForeignKey("people.id"), nullable=False, index=True),
    Column("team_id", Text, ForeignKey("teams.id"), nullable=False),
    Column("made_at", LONG, nullable=False),
    Column("seen_at", LONG, nullable=False),
)  # fmt: skip
tokens = Table(
    "tokens", metadata,
    Column("id", Text, primary_key=True),
    Column("key", Text, nullable=False, unique=True),
    Column("team_id", Text, ForeignKey("teams.id"), nullable=False, index=True),
    Column("person_id", Text, ForeignKey("people.id"), nullable=False),
    Column("name", Text, nullable=False),
    Column("role", Integer, nullable=False),
    Column("made_at", LONG, nullable=False),
)  # fmt: skip
invitations = Table(
    "invitations", metadata,
    Column("key", Text, primary_key=True),
    Column("team_id", Text, ForeignKey("teams.id"), nullable=False),
    Column("role", Integer, nullable=False),
    Column("ends_at", LONG, nullable=False),
)  # fmt: skip
journal = Table(
    "journal", metadata,
    Column("number", LONG, primary_key=True, autoincrement=True),
    Column("at", LONG, nullable=False),
    Column("team_id", Text, index=True),
    Column("person", Text, nullable=False),
    Column("what", Text, nullable=False),
    sqlite_autoincrement=True,
)  # fmt: skip


of_servers = MetaData()
"""What several services that share the records need; a file is one service's own."""
tries = Table(
    "tries", of_servers,
    Column("number", LONG, primary_key=True, autoincrement=True),
    Column("key", Text, nullable=False),
    Column("at_ms", LONG, nullable=False),
)  # fmt: skip
TRIES_KEPT_S = 3600
"""No try is counted for longer. [s]"""


class Role(IntEnum):
    """What somebody may do in a team; each may what those below may."""

    READER = 1
    """See everything, ask what if, change nothing."""
    CREW = 2
    """Upload, describe cars, change what is said of runs, delete into the trash."""
    OWNER = 3
    """Invite, change roles, make tokens, empty the trash."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who signs in."""

    id: str
    name: str
    password: str
    """As argon2 keeps it."""


@dataclass(frozen=True, slots=True)
class Team:
    """One team and where its library lies."""

    id: str
    name: str
    folder: str
    """Within the data folder; empty for the folder itself."""
    quota_bytes: int | None
    """Most bytes of logs; None for no bound."""


@dataclass(frozen=True, slots=True)
class Member:
    """One person's place in a team."""

    person_id: str
    name: str
    role: Role


@dataclass(frozen=True, slots=True)
class Token:
    """A program's key, without the key."""

    id: str
    team_id: str
    person_id: str
    name: str
    role: Role


@dataclass(frozen=True, slots=True)
class Session:
    """A person signed in, without the key."""

    person_id: str
    team_id: str
    made_at: int
    seen_at: int


@dataclass(frozen=True, slots=True)
class Invitation:
    """One that still holds, without its key."""

    id: str
    """What is kept of its key: it opens nothing."""
    role: Role
    ends_at: int
    """Seconds since 1970, UTC. [s]"""


class LastOwner(ValueError):
    """A team keeps at least one owner."""


class NameTaken(ValueError):
    """Somebody has that name already."""


@dataclass(frozen=True, slots=True)
class JournalLine:
    """Who did what."""

    at: int
    """Seconds since 1970, UTC. [s]"""
    person: str
    what: str


class AccessRecords:
    """The database of people and teams.

    Parameters
    ----------
    place : Path or Engine
        Its file, made if it is not there (`LibraryDamaged` if it is no sound one); or of a database on a server, where
        the tables are there already and who opened it closes it.
    """

    def __init__(self, place: Path | Engine) -> None:
        self._engine, self._owned = (place, False) if isinstance(place, Engine) else (self._of_file(place), True)

    @staticmethod
    def _of_file(path: Path) -> Engine:
        engine = create_engine(f"sqlite:///{path}")

        @event.listens_for(engine, "connect")
        def prepare(connection: Any, _: Any) -> None:
            for pragma in PRAGMAS:
                connection.execute(f"PRAGMA {pragma}")

        try:
            metadata.create_all(engine)
            with engine.connect() as connection:
                found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
        except DatabaseError as error:
            found = str(error.orig)
        if found != "ok":
            engine.dispose()
            raise LibraryDamaged(
                f"The file of people and teams, {path}, is damaged ({found}). Nothing was changed, and nobody is let "
                "in. Put it back from a backup; or move it away and begin anew with 'passband access begin': the "
                "libraries beside it are not touched by this."
            )
        path.chmod(0o600)
        return engine

    @property
    def are_shared(self) -> bool:
        """Whether they are on a server, where several services may have them."""
        return not self._owned

    def close(self) -> None:
        """Let go of the file."""
        if self._owned:
            self._engine.dispose()

    def probe(self) -> None:
        """Begin to write and take it back; SQLAlchemy's error if the database cannot be read or written."""
        with self._engine.connect() as connection:
            if self._owned:
                connection.exec_driver_sql("BEGIN IMMEDIATE")
            else:
                connection.execute(update(teams).where(false()).values(name=teams.c.name))
            connection.rollback()

    def add_team(self, name: str, *, folder: str | None, quota_bytes: int | None, now: int) -> Team:
        """Keep a team; its folder is named by its id where none is given."""
        key = secrets.token_hex(8)
        team = Team(key, name, f"teams/{key}" if folder is None else folder, quota_bytes)
        row = {"id": key, "name": name, "folder": team.folder, "quota_bytes": quota_bytes, "made_at": now}
        self._do(insert(teams).values(row))
        return team

    def team(self, team_id: str) -> Team | None:
        """A team by its id."""
        return _team(self._one(select(teams).where(teams.c.id == team_id)))

    def team_named(self, name: str) -> Team | None:
        """A team by its name."""
        return _team(self._one(select(teams).where(teams.c.name == name)))

    def all_teams(self) -> list[Team]:
        """By name."""
        return [team for row in self._all(select(teams).order_by(teams.c.name)) if (team := _team(row))]

    def folders(self) -> list[tuple[str, str]]:
        """Each team's name, and the folder of its library."""
        return [(team.name, team.folder or "") for team in self.all_teams()]

    def add_person(self, name: str, password: str, *, now: int) -> Person:
        """Keep a person; `NameTaken` if there is one of that name, though both came at once."""
        person = Person(secrets.token_hex(8), name, password)
        try:
            self._do(insert(people).values(id=person.id, name=name, password=password, made_at=now))
        except IntegrityError:
            raise NameTaken(name) from None
        return person

    def person(self, person_id: str) -> Person | None:
        """A person by id."""
        row = self._one(select(people).where(people.c.id == person_id))
        return None if row is None else Person(row.id, row.name, row.password)

    def person_named(self, name: str) -> Person | None:
        """A person by the name that is signed in with."""
        row = self._one(select(people).where(people.c.name == name))
        return None if row is None else Person(row.id, row.name, row.password)

    def names(self) -> list[str]:
        """The names of all people."""
        return [row.name for row in self._all(select(people.c.name))]

    def change_password(self, person_id: str, password: str, *, with_tokens: bool = False) -> None:
        """Keep another hash; every session of the person ends, and with the tokens too each that the person made."""
        with self._engine.begin() as connection:
            connection.execute(update(people).where(people.c.id == person_id).values(password=password))
            for table in (sessions, tokens) if with_tokens else (sessions,):
                connection.execute(delete(table).where(table.c.person_id == person_id))

    def set_role(self, team_id: str, person_id: str, role: Role | None) -> None:
        """Give a person a place in a team, or take it away with the sessions and tokens that rest on it.

        `LastOwner`, and nothing is changed, if that would leave a team that has an owner without one.
        """
        here = (members.c.team_id == team_id) & (members.c.person_id == person_id)
        owners = select(members.c.person_id).where((members.c.team_id == team_id) & (members.c.role == int(Role.OWNER)))
        with self._engine.begin() as connection:
            of_team = update(teams).where(teams.c.id == team_id)
            connection.execute(of_team.values(name=teams.c.name))  # holds the team: two owners may go at once
            if role != Role.OWNER and [row.person_id for row in connection.execute(owners)] == [person_id]:
                raise LastOwner(team_id)
            if role is not None:
                stood = connection.execute(update(members).where(here).values(role=int(role)))
                if not stood.rowcount:
                    connection.execute(insert(members).values(team_id=team_id, person_id=person_id, role=int(role)))
                return
            connection.execute(delete(members).where(here))
            for table in (sessions, tokens):
                gone = (table.c.team_id == team_id) & (table.c.person_id == person_id)
                connection.execute(delete(table).where(gone))

    def role(self, team_id: str, person_id: str) -> Role | None:
        """A person's role in a team; None for no member."""
        here = (members.c.team_id == team_id) & (members.c.person_id == person_id)
        row = self._one(select(members.c.role).where(here))
        return None if row is None else Role(row.role)

    def members(self, team_id: str) -> list[Member]:
        """A team's people by name."""
        asked = (
            select(members.c.person_id, people.c.name, members.c.role)
            .join(people, people.c.id == members.c.person_id)
            .where(members.c.team_id == team_id)
            .order_by(people.c.name)
        )
        return [Member(row.person_id, row.name, Role(row.role)) for row in self._all(asked)]

    def teams_of(self, person_id: str) -> list[Team]:
        """The teams that a person belongs to, by name."""
        asked = select(teams).join(members, members.c.team_id == teams.c.id).where(members.c.person_id == person_id)
        return [team for row in self._all(asked.order_by(teams.c.name)) if (team := _team(row))]

    def add_session(self, key: str, person_id: str, team_id: str, *, now: int) -> None:
        """Keep a session under the hash of its key."""
        self._do(insert(sessions).values(key=key, person_id=person_id, team_id=team_id, made_at=now, seen_at=now))

    def session(self, key: str) -> Session | None:
        """A session by the hash of its key."""
        row = self._one(select(sessions).where(sessions.c.key == key))
        return None if row is None else Session(row.person_id, row.team_id, row.made_at, row.seen_at)

    def see_session(self, key: str, *, now: int) -> None:
        """Note that a session was used."""
        self._do(update(sessions).where(sessions.c.key == key).values(seen_at=now))

    def move_session(self, key: str, team_id: str) -> None:
        """Let a session go on with another team."""
        self._do(update(sessions).where(sessions.c.key == key).values(team_id=team_id))

    def end_session(self, key: str) -> None:
        """End one session."""
        self._do(delete(sessions).where(sessions.c.key == key))

    def add_token(self, key: str, token: Token, *, now: int) -> None:
        """Keep a token under the hash of its key."""
        self._do(
            insert(tokens).values(
                id=token.id, key=key, team_id=token.team_id, person_id=token.person_id, name=token.name,
                role=int(token.role), made_at=now,
            )
        )  # fmt: skip

    def token(self, key: str) -> Token | None:
        """A token by the hash of its key."""
        row = self._one(select(tokens).where(tokens.c.key == key))
        return None if row is None else _token(row)

    def tokens(self, team_id: str) -> list[Token]:
        """A team's tokens by name."""
        return [
            _token(row) for row in self._all(select(tokens).where(tokens.c.team_id == team_id).order_by(tokens.c.name))
        ]

    def tokens_of(self, person_id: str) -> list[Token]:
        """The tokens that a person made, of whatever team, by name."""
        asked = select(tokens).where(tokens.c.person_id == person_id).order_by(tokens.c.name)
        return [_token(row) for row in self._all(asked)]

    def revoke_token(self, team_id: str, token_id: str) -> None:
        """End one token."""
        self._do(delete(tokens).where((tokens.c.team_id == team_id) & (tokens.c.id == token_id)))

    def add_invitation(self, key: str, team_id: str, role: Role, *, ends_at: int) -> None:
        """Keep an invitation under the hash of its key."""
        self._do(insert(invitations).values(key=key, team_id=team_id, role=int(role), ends_at=ends_at))

    def invitation(self, key: str, *, now: int) -> tuple[str, Role] | None:
        """Team and role of an invitation that still holds."""
        held = (invitations.c.key == key) & (invitations.c.ends_at > now)
        row = self._one(select(invitations).where(held))
        return None if row is None else (row.team_id, Role(row.role))

    def invitations(self, team_id: str, *, now: int) -> list[Invitation]:
        """A team's invitations that still hold, the one that ends first in front."""
        held = (invitations.c.team_id == team_id) & (invitations.c.ends_at > now)
        rows = self._all(select(invitations).where(held).order_by(invitations.c.ends_at))
        return [Invitation(row.key, Role(row.role), row.ends_at) for row in rows]

    def end_invitation(self, team_id: str, invitation_id: str) -> None:
        """Let an invitation hold no more."""
        self._do(delete(invitations).where((invitations.c.team_id == team_id) & (invitations.c.key == invitation_id)))

    def forget_ended(self, *, made_before: int, seen_before: int, now: int) -> None:
        """Let go of sessions that were made or last seen before some time, and of invitations past theirs."""
        ended = (sessions.c.made_at < made_before) | (sessions.c.seen_at < seen_before)
        self._do(delete(sessions).where(ended))
        self._do(delete(invitations).where(invitations.c.ends_at <= now))
        if self.are_shared:
            self._do(delete(tries).where(tries.c.at_ms < 1000 * (now - TRIES_KEPT_S)))

    def count_try(self, key: str, *, most: int, within_ms: int, now_ms: int) -> int:
        """Count a try if fewer than so many were within the time: 0, or how long until one may be. [ms].

        Tries of the same key wait for each other, so that many at once win nothing. Only where they `are_shared`.
        """
        of_key = tries.c.key == key
        with self._engine.begin() as connection:
            connection.execute(select(func.pg_advisory_xact_lock(func.hashtextextended(key, 0))))
            passed = (tries.c.at_ms <= now_ms - within_ms) | (
                tries.c.at_ms > now_ms + within_ms
            )  # a clock was set back
            connection.execute(delete(tries).where(of_key & passed))
            oldest = select(tries.c.at_ms).where(of_key).order_by(tries.c.at_ms.desc()).offset(most - 1).limit(1)
            in_the_way = connection.execute(oldest).scalar()
            if in_the_way is not None:
                return min(max(1, int(in_the_way) + within_ms - now_ms), within_ms)
            connection.execute(insert(tries).values(key=key, at_ms=now_ms))
        return 0

    def forget_tries(self, key: str) -> None:
        """Count from nothing. Only where they `are_shared`."""
        self._do(delete(tries).where(tries.c.key == key))

    def take_invitation(self, key: str, *, now: int) -> tuple[str, Role] | None:
        """The same, used up: of two who come at once one gets it."""
        with self._engine.begin() as connection:
            held = (invitations.c.key == key) & (invitations.c.ends_at > now)
            row = connection.execute(delete(invitations).where(held).returning(invitations)).first()
        return None if row is None else (row.team_id, Role(row.role))

    def note(self, team_id: str | None, person: str, what: str, *, now: int) -> None:
        """A line for the journal."""
        self._do(insert(journal).values(at=now, team_id=team_id, person=person, what=what[:300]))

    def journal(self, team_id: str, *, most: int) -> list[JournalLine]:
        """A team's journal, the newest first."""
        asked = select(journal).where(journal.c.team_id == team_id).order_by(journal.c.number.desc()).limit(most)
        return [JournalLine(row.at, row.person, row.what) for row in self._all(asked)]

    def _do(self, statement: Any) -> None:
        with self._engine.begin() as connection:
            connection.execute(statement)

    def _one(self, asked: Any) -> Any:
        with self._engine.begin() as connection:
            return connection.execute(asked).first()

    def _all(self, asked: Any) -> Sequence[Any]:
        with self._engine.begin() as connection:
            return connection.execute(asked).all()


def forget_begun(copy: sqlite3.Connection) -> None:
    """Let go, in a copy of the file, of sessions and invitations: put back, those ended since would hold again."""
    for table in (sessions, invitations):
        copy.execute(f"DELETE FROM {table.name}")
    copy.commit()


def _team(row: Any) -> Team | None:
    return None if row is None else Team(row.id, row.name, row.folder, row.quota_bytes)


def _token(row: Any) -> Token:
    return Token(row.id, row.team_id, row.person_id, row.name, Role(row.role))
