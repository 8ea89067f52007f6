"""Signing in and what follows from it: passwords, sessions, tokens, invitations.

Public: `Who`, `Access`, `Refused`, `SESSION_COOKIE`, `access_file`, `needed_role`, `for_persons_only`.
"""

from __future__ import annotations

import hashlib
import re
import secrets
import time
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from passband.service.access.passwords import Passwords
from passband.service.access.records import AccessRecords, NameTaken, Person, Role, Team, Token
from passband.service.access.tries import Allowed, TooManyTries, tries_of
from passband.service.http.headers import CHANGING

SESSION_COOKIE = "__Host-passband"
"""Browsers keep a cookie of this prefix only from https (or this machine), for this host, for all paths."""
IDLE_S, LONGEST_S = 12 * 3600, 7 * 24 * 3600
"""A session ends after a race day without use, and after a week at all events. [s]"""
AHEAD_S = 24 * 3600
"""A session begun by a clock that was further ahead has ended: it would outlast the longest. [s]"""
SEEN_EVERY_S = 60
"""Use of a session is noted no more often. [s]"""
INVITED_S = 7 * 24 * 3600
"""An invitation holds for a week. [s]"""
LEAST_PASSWORD, MOST_PASSWORD = 12, 256
"""Letters of a password. NIST SP 800-63B asks for at least 8, or 15 where nothing else is asked for; from memory."""
TRIES = Allowed("password", 10, 300)
"""Passwords tried for one name from one address in five minutes; a right one lets all of them be forgotten."""
TRIES_OF_ADDRESS = Allowed("password of address", 60, 300)
"""From one address in five minutes, whatever the name."""
TRIES_OF_NAME = Allowed("password of name", 300, 3600)
"""For one name in an hour, from whatever addresses: many machines guess no faster together. One address comes to 120,
so it cannot keep a person from signing in; three could, for as long as they go on, and end no session by it."""
NAME = re.compile(r"[^\s\x00-\x1f](?:[^\x00-\x1f]{0,98}[^\s\x00-\x1f])?")
UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Categories of Unicode that turn a line around, break it, or show nothing: the journal would say something else."""
THIS_MACHINE = "this machine"
"""Who the journal says did what was done from the command line."""
COMPUTES_ONLY = re.compile(r"/api/(?:understand|runs/sort|runs/[0-9a-f]{32}/(?:whatif|bench))|/runs/[0-9a-f]{32}/tried")
"""What is sent there is answered and not kept."""
FOR_OWNERS = re.compile(r"/team/.+|/api/trash(?:/.*)?", re.DOTALL)
BY_CREW = re.compile(r"/api/trash/[^/]+/restore")
"""Below what is for owners, but crew may."""
OVER_PEOPLE = re.compile(r"/team(?:/.+)?", re.DOTALL)
OF_ONES_OWN = frozenset({"/team", "/sign-out"})
"""Password, session: everybody's own."""


@dataclass(frozen=True, slots=True)
class Who:
    """Somebody who has shown who they are."""

    person: Person
    team: Team
    role: Role
    session: str | None
    """Hash of the session's key; None for a program with a token."""


class Refused(ValueError):
    """A name, password or invitation that does not do; its text may be shown."""


def access_file(data: Path) -> Path:
    """Where the people and teams of a data folder are kept; there only where access is set up."""
    return data / "access.sqlite"


def needed_role(method: str, path: str) -> Role:
    """What somebody must be to ask this.

    Parameters
    ----------
    method : str
        Of HTTP.
    path : str
        Of the address.

    Returns
    -------
    Role
        Readers read, crew change, owners rule over people and let go for good.
    """
    if method not in CHANGING or COMPUTES_ONLY.fullmatch(path) or path in OF_ONES_OWN:
        return Role.READER
    if FOR_OWNERS.fullmatch(path) and not BY_CREW.fullmatch(path):
        return Role.OWNER
    return Role.CREW


def for_persons_only(method: str, path: str) -> bool:
    """Whether only somebody who signed in may ask this: a token that leaked must not make others, nor let people in."""
    return method in CHANGING and OVER_PEOPLE.fullmatch(path) is not None


class Access:
    """Who may, over the records of people and teams.

    Parameters
    ----------
    records : AccessRecords
        Open.
    clock : callable
        Seconds since 1970.
    """

    def __init__(self, records: AccessRecords, *, clock: Callable[[], float] = time.time) -> None:
        self.records = records
        self._clock = clock
        self._passwords = Passwords()
        self.tries = tries_of(records, clock)
        """Counts what is throttled."""

    def now(self) -> int:
        """Whole seconds since 1970."""
        return int(self._clock())

    def add_person(self, name: str, password: str) -> Person:
        """Make a person.

        Parameters
        ----------
        name : str
            To sign in with.
        password : str
            As typed.

        Returns
        -------
        Person
            Kept.

        Raises
        ------
        Refused
            If the name is taken or no name, or the password too short.
        """
        name = unicodedata.normalize("NFC", name.strip())
        if not NAME.fullmatch(name) or any(unicodedata.category(sign) in UNSEEN for sign in name):
            raise Refused("A name has 1 to 100 letters, and no sign that cannot be seen.")
        if alike(name) in {alike(THIS_MACHINE), *map(alike, self.records.names())}:
            raise Refused("Somebody has that name already; choose another.")
        self._check_password(name, password)
        try:
            return self.records.add_person(name, self._passwords.hash(password), now=self.now())
        except NameTaken:
            raise Refused("Somebody has that name already; choose another.") from None

    def change_password(self, person: Person, old: str, new: str, *, address: str, with_tokens: bool = False) -> None:
        """Another password; all the person's sessions end, and with the tokens too what the person's programs hold.

        `Refused` if the old one is wrong or the new will not do; `TooManyTries` as `sign_in` raises it.
        """
        self._count_try(person.name, address)
        if not self._matches(person.password, old):
            raise Refused("The old password is not right.")
        self._forget_tries(person.name, address)
        self._keep_password(person, new, by=person.name, with_tokens=with_tokens)

    def set_password(self, person: Person, new: str, *, with_tokens: bool = False) -> None:
        """The same without the old one, for whoever holds the machine. `Refused` if the new one will not do."""
        self._keep_password(person, new, by=THIS_MACHINE, with_tokens=with_tokens)

    def _keep_password(self, person: Person, new: str, *, by: str, with_tokens: bool) -> None:
        self._check_password(person.name, new)
        teams = [team.id for team in self.records.teams_of(person.id)]
        self.records.change_password(person.id, self._passwords.hash(new), with_tokens=with_tokens)
        said = f"changed the password of {person.name}" + (
            " and revoked the tokens made by them" if with_tokens else ""
        )
        for team_id in teams:
            self.records.note(team_id, by, said, now=self.now())

    @staticmethod
    def _check_password(name: str, password: str) -> None:
        if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
            raise Refused(f"A password has {LEAST_PASSWORD} to {MOST_PASSWORD} letters; a sentence is good.")
        if name.casefold() in password.casefold() and len(name) > 3:
            raise Refused("The password holds the name; choose another.")

    def sign_in(self, name: str, password: str, *, address: str) -> tuple[str, Person] | None:
        """Begin a session.

        Parameters
        ----------
        name, password : str
            As typed.
        address : str
            Where it comes from, for counting tries.

        Returns
        -------
        tuple of str and Person, or None
            The new session's key, which is nowhere kept; None where the two do not go together, or the person
            belongs to no team: unknown names take as long as wrong passwords.

        Raises
        ------
        TooManyTries
            If it is to wait first. A try counts before it is looked at, so that many at once win nothing.
        """
        self._count_try(name, address)
        person = self.person_named(name)
        right = self._matches(self._passwords.of_nobody if person is None else person.password, password)
        theirs = self.records.teams_of(person.id) if person is not None else []
        if person is None or not right or not theirs:
            return None
        self._forget_tries(name, address)
        if self._passwords.are_old(person.password):
            self.records.change_password(person.id, self._passwords.hash(password))
        key, now = secrets.token_urlsafe(32), self.now()
        self.records.forget_ended(made_before=now - LONGEST_S, seen_before=now - IDLE_S, now=now)
        self.records.add_session(hashed(key), person.id, theirs[0].id, now=now)
        self.records.note(theirs[0].id, person.name, "signed in", now=self.now())
        return key, person

    def person_named(self, name: str) -> Person | None:
        """A person by the name as typed, however its accents are written."""
        typed = name.strip()
        return self.records.person_named(typed) or self.records.person_named(unicodedata.normalize("NFC", typed))

    def _count_try(self, name: str, address: str) -> None:
        of = alike(name.strip())
        for allowed, whose in ((TRIES, (of, address)), (TRIES_OF_ADDRESS, (address,)), (TRIES_OF_NAME, (of,))):
            if wait_s := self.tries.hit(allowed, *whose):
                raise TooManyTries(wait_s)

    def _forget_tries(self, name: str, address: str) -> None:
        self.tries.forget(TRIES, alike(name.strip()), address)
        self.tries.forget(TRIES_OF_NAME, alike(name.strip()))

    def _matches(self, kept: str, password: str) -> bool:
        return self._passwords.match(kept, password)

    def of_session(self, key: str) -> Who | None:
        """Who a session's key stands for; None for one that is not, is idle too long, or whose person has gone."""
        held, now = hashed(key), self.now()
        session = self.records.session(held)
        if session is None:
            return None
        ended = now - session.seen_at > IDLE_S or now - session.made_at > LONGEST_S
        if ended or session.made_at - now > AHEAD_S:
            self.records.end_session(held)
            return None
        if now - session.seen_at > SEEN_EVERY_S:
            self.records.see_session(held, now=now)
        return self._who(session.person_id, session.team_id, session=held)

    def of_token(self, key: str) -> Who | None:
        """Who a program's token stands for: never more than the person who made it may now."""
        token = self.records.token(hashed(key))
        who = None if token is None else self._who(token.person_id, token.team_id, session=None)
        return None if who is None or token is None else Who(who.person, who.team, min(who.role, token.role), None)

    def _who(self, person_id: str, team_id: str, *, session: str | None) -> Who | None:
        role = self.records.role(team_id, person_id)
        person, team = self.records.person(person_id), self.records.team(team_id)
        return None if role is None or person is None or team is None else Who(person, team, role, session)

    def invite(self, team: Team, role: Role) -> str:
        """An invitation's key, to be handed on; it holds for a week and for one."""
        key = secrets.token_urlsafe(24)
        self.records.add_invitation(hashed(key), team.id, role, ends_at=self.now() + INVITED_S)
        return key

    def join(self, key: str, name: str, password: str, *, address: str) -> Person:
        """Take up an invitation as a new person, or as one who is known and knows the password.

        Parameters
        ----------
        key : str
            The invitation's.
        name, password : str
            As typed.
        address : str
            Where it comes from, for counting wrong tries.

        Returns
        -------
        Person
            Now a member.

        Raises
        ------
        Refused
            If the invitation no longer holds, or name or password will not do; it is then not used up.
        TooManyTries
            As `sign_in` raises it.
        """
        if self.records.invitation(hashed(key), now=self.now()) is None:
            raise Refused("This invitation does not hold any more; ask for another.")
        known = self.person_named(name)
        if known is not None:
            self._count_try(name, address)
        if known is not None and not self._matches(known.password, password):
            raise Refused("Somebody has that name already; choose another, or give that one's password.")
        person = known or self.add_person(name, password)
        taken = self.records.take_invitation(hashed(key), now=self.now())
        if taken is None:
            raise Refused("This invitation does not hold any more; ask for another.")
        team_id, role = taken
        if (self.records.role(team_id, person.id) or 0) < role:
            self.records.set_role(team_id, person.id, role)
        self.records.note(team_id, person.name, f"joined as {role.name.lower()}", now=self.now())
        return person

    def make_token(self, who: Who, name: str, role: Role) -> str:
        """A program's key, shown once."""
        key = secrets.token_urlsafe(32)
        token = Token(
            secrets.token_hex(8), who.team.id, who.person.id, name.strip()[:100] or "token", min(role, who.role)
        )
        self.records.add_token(hashed(key), token, now=self.now())
        return key


def alike(name: str) -> str:
    """What two names share that a reader of the journal would take for one.

    Examples
    --------
    >>> alike("Robin") == alike("ROBIN") == alike("Ｒobin") != alike("Robyn")
    True
    """
    return unicodedata.normalize("NFKC", name).casefold()


def hashed(key: str) -> str:
    """What is kept of a key: keys are long and random, so one round of SHA-256 does."""
    return hashlib.sha256(key.encode()).hexdigest()
