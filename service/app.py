"""The application put together: settings, library, routes, the form of every error, what every response carries.

Public: `create_app`.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import CapacityLimiter
from fastapi import Depends, FastAPI
from starlette.middleware.gzip import GZipMiddleware

from passband.service.access.door import Door
from passband.service.access.teams import Teams, open_teams
from passband.service.bytes_kept import Kept, kept_by
from passband.service.http import errors
from passband.service.http.answered import RequestIds, log_answered
from passband.service.http.assets import PageFiles
from passband.service.http.guard import Guard
from passband.service.http.questions import known_keys
from passband.service.jobs.job_work import BEYOND_WORKERS, JobRunner
from passband.service.library import Library
from passband.service.metrics import Metrics
from passband.service.openapi import document as openapi
from passband.service.readiness import Looked
from passband.service.routes import (
    bench,
    cars,
    columns,
    compare,
    events,
    health,
    items,
    jobs,
    many_pages,
    overlay,
    pages,
    put_right,
    review,
    runs,
    team,
    trash,
    understand,
    usuals,
    whatif,
)
from passband.service.settings import Settings, read_settings
from passband.service.version import version

TURNS_BEYOND_WORKERS = 2
"""So many more uploads than there are workers hash and write meanwhile; the rest wait, and reading goes on beside."""
ROUTERS = (
    cars.router, runs.router, review.router, trash.router, overlay.router, compare.router, events.router, items.router,
    usuals.router, put_right.router, understand.router, bench.router, bench.sheets_router, whatif.router,
    columns.router, jobs.router, health.router,
)  # fmt: skip
PAGES = (pages.router, many_pages.router, whatif.page, columns.page)


def _job_runner(app: FastAPI, teams: Teams | None, settings: Settings) -> JobRunner:
    at_once, hear = settings.workers + BEYOND_WORKERS, app.state.metrics.worked_job
    if teams is not None:
        return JobRunner(teams.libraries.all_open, at_once=at_once, first=teams.open_with_work, hear=hear)
    return JobRunner(lambda: [app.state.library], at_once=at_once, hear=hear)


def create_app(settings: Settings | None = None, *, library: Library | None = None) -> FastAPI:
    """The service as an ASGI application.

    Parameters
    ----------
    settings : Settings, optional
        Read from the environment where not given.
    library : Library, optional
        One that is open already; by default the application opens its own at start and closes it at the end.

    Returns
    -------
    FastAPI
        Ready to be served.

    Raises
    ------
    SettingsError
        If a setting in the environment cannot be used.
    """
    in_force = settings or read_settings()
    teams = open_teams(in_force)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        app.state.library = None if teams else library or Library(in_force)
        app.state.workers = teams.libraries.workers if teams else app.state.library.workers
        app.state.workers.load.hear = app.state.metrics.worked
        app.state.review_turns = CapacityLimiter(max(in_force.workers, 1) + TURNS_BEYOND_WORKERS)
        app.state.jobs = _job_runner(app, teams, in_force)
        app.state.jobs.start()
        try:
            yield
        finally:
            app.state.jobs.close()
            if teams is not None:
                teams.close()
            elif library is None:
                app.state.library.close()

    def kept() -> list[Kept]:
        if teams is not None:
            return teams.kept()
        return [kept_by("", app.state.library, app.state.library.quota_bytes)]

    app = FastAPI(
        title="Passband",
        version=version(),
        summary="Reviews of drag runs from their data-logger files.",
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        separate_input_output_schemas=False,
        generate_unique_id_function=lambda route: route.name,
    )
    app.state.settings, app.state.teams = in_force, teams
    app.state.metrics = Metrics(load=lambda: app.state.workers.load.now(), kept=kept)
    app.state.readiness = Looked()
    app.state.routes = [route for router in (*ROUTERS, *PAGES) for route in router.routes]
    for router in ROUTERS:
        app.include_router(router, dependencies=[Depends(known_keys)] if router is not health.router else None)
    for router in PAGES:
        app.include_router(router)
    app.mount("/static", PageFiles())
    errors.install(app)
    openapi.install(app)
    app.add_middleware(GZipMiddleware, minimum_size=1024, compresslevel=5)
    if teams is not None:
        app.include_router(team.router)
        app.state.access = teams.access
        app.add_middleware(
            Door, access=teams.access, libraries=teams.libraries, uploads_a_minute=in_force.uploads_a_minute
        )
    app.add_middleware(Guard, hosts=in_force.hosts)
    logged = [log_answered] if in_force.log_form == "json" else []
    app.add_middleware(RequestIds, tell=[app.state.metrics.answered, *logged])
    return app
