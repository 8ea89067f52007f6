"""A library for each team, in a folder of its own: what belongs to another team is not there at all.

Public: `TeamLibraries`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable

from passband.service.access.records import Team
from passband.service.library import Library
from passband.service.reviewing.workers import Workers
from passband.service.settings import Settings
from passband.service.store.job_rows import TableJobs, has_open_jobs
from passband.service.store.opening import HOME
from passband.service.store.postgres import PostgresDatabase


class TeamLibraries:
    """Libraries opened as their teams come, all sharing the processes that compute reviews.

    Parameters
    ----------
    settings : Settings
        `data` is the folder that holds them all.
    opened : callable, optional
        Called with each library that is opened.
    database : PostgresDatabase, optional
        Where the rows of all are, if on a server; closed by who opened it.
    """

    def __init__(
        self,
        settings: Settings,
        *,
        opened: Callable[[Library], None] | None = None,
        database: PostgresDatabase | None = None,
    ) -> None:
        self._settings, self._database = settings, database
        self._opened = opened
        self._workers = Workers(settings.workers, seconds=settings.review_seconds, memory_bytes=settings.review_bytes)
        self._libraries: dict[str, Library] = {}
        self._lock = threading.Lock()

    def of(self, team: Team) -> Library:
        """A team's library, opened if it is not open yet."""
        with self._lock:
            library = self._libraries.get(team.id)
            if library is None:
                settings = self._settings.of_folder(team.folder or "")
                library = Library(
                    settings,
                    workers=self._workers,
                    quota_bytes=team.quota_bytes,
                    database=self._database,
                    team=team.folder,
                )
                self._libraries[team.id] = library
                if self._opened is not None:
                    self._opened(library)
            return library

    @property
    def workers(self) -> Workers:
        """The processes that all share."""
        return self._workers

    def open_ones(self) -> dict[str, Library]:
        """The libraries that are open now, by their team's id."""
        with self._lock:
            return dict(self._libraries)

    def open_with_work(self, teams: Iterable[Team]) -> None:
        """Open the libraries of those teams whose jobs are yet to be done: nobody may come who would."""
        for team in teams:
            if self._has_work(team):
                self.of(team)

    def _has_work(self, team: Team) -> bool:
        if self._database is None:
            return has_open_jobs(self._settings.of_folder(team.folder or "").data / "library.sqlite")
        name = team.folder or HOME
        waits = TableJobs(self._database.reader(name), self._database.writer(name)).waits()
        return bool(waits.waiting or waits.working)

    def all_open(self) -> list[Library]:
        """The libraries that are open now."""
        return list(self.open_ones().values())

    def close(self) -> None:
        """Close them all."""
        with self._lock:
            for library in self._libraries.values():
                library.close()
            self._libraries.clear()
            self._workers.close()
