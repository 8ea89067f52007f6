"""A service with two teams, each with people of every role."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import partial

import pytest
from argon2 import PasswordHasher
from starlette.testclient import TestClient

import passband.service.access.passwords
from passband.service.access.identity import Access
from passband.service.access.records import Role, Team
from passband.service.access.teams import access_records
from passband.service.settings import Settings

PASSWORD = "a long day at the strip"
SESSION_COOKIE = "__Host-passband"
"""RFC 6265bis: browsers keep a name of this prefix from https alone, for this host and all paths; from memory."""
BROWSER = {"Accept": "text/html", "Sec-Fetch-Site": "same-origin"}


@dataclass
class House:
    """Two teams, and a session for whoever is asked for."""

    client: TestClient
    access: Access
    teams: dict[str, Team]

    def cookie(self, name: str) -> dict[str, str]:
        """Headers of somebody signed in: ``red owner``, ``blue reader``."""
        begun = self.access.sign_in(name, PASSWORD, address="test")
        assert begun is not None
        return {"Cookie": f"{SESSION_COOKIE}={begun[0]}"}


@pytest.fixture
def cheap_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Passwords hashed in 0.1 ms instead of 0.1 s; what a real hash costs is held by a test of its own."""
    cheap = partial(PasswordHasher, time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passband.service.access.passwords, "PasswordHasher", cheap)


@pytest.fixture
def house(
    planted: None,
    cheap_hashes: None,
    settings: Settings,
    open_service: Callable[[], AbstractContextManager[TestClient]],
) -> Iterator[House]:
    """Teams red and blue; ``red owner``, ``red crew``, ``red reader`` and the same in blue."""
    settings.data.mkdir(parents=True, exist_ok=True)
    with access_records(settings) as records:
        access = Access(records)
        teams = {}
        for number, name in enumerate(("red", "blue")):
            teams[name] = records.add_team(name, folder="" if number == 0 else None, quota_bytes=None, now=0)
            for role in Role:
                person = access.add_person(f"{name} {role.name.lower()}", PASSWORD)
                records.set_role(teams[name].id, person.id, role)
        with open_service() as client:
            client.cookies.clear()
            yield House(client, access, teams)
