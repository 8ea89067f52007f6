"""The server: settings read, port taken, library opened, and everything closed again when it is told to go.

Public: `serve`, `run_server`, `CannotServe`.
"""

from __future__ import annotations

import asyncio
import logging
import signal
import socket
import sys
from collections.abc import Callable
from contextlib import closing, nullcontext
from functools import partial
from pathlib import Path
from threading import Thread
from types import FrameType
from typing import cast

import uvicorn
from fastapi import FastAPI

from passband.analysis.kept_memory import keep_freed_memory
from passband.service.access.teams import is_set_up
from passband.service.app import create_app
from passband.service.http.guard import is_this_machine
from passband.service.http.log_lines import log_by_the_line
from passband.service.http.slow_clients import WatchedProtocol
from passband.service.library import Library, LibraryInUse
from passband.service.made_ready import making_ready
from passband.service.settings import Settings, SettingsError, read_settings
from passband.service.store.faults import FilesAway, LibraryDamaged
from passband.service.store.schema import SchemaError

GRACE_S = 10
"""How long requests under way may go on after the server is told to end. [s]"""
FILES_OF_OUR_OWN = 256
"""Open files besides those of connections: tables, logs and the database."""
CANNOT_START = 2
NOBODY_ASKED = (
    "At {host} everybody who reaches this machine could read and change all runs. Set up who may with "
    "'passband access begin', or say --open if that is meant; on 127.0.0.1 neither is needed."
)

log = logging.getLogger("passband")


class CannotServe(RuntimeError):
    """The server cannot start; the text says why and what to do."""


class _Server(uvicorn.Server):
    """Says when it is ready."""

    def __init__(self, config: uvicorn.Config, when_ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._when_ready = when_ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._when_ready()


def serve(*, host: str, port: int, data: Path | None, open_to_all: bool = False) -> int:
    """Serve a library until told to end.

    Parameters
    ----------
    host : str
        Address to listen on.
    port : int
        Port; 0 for any that is free.
    data : Path, optional
        Folder of the library; else the setting's.
    open_to_all : bool
        Whether whoever reaches an address beyond this machine may do everything, no name asked.

    Returns
    -------
    int
        0 after an orderly end, 2 if it cannot start; the reason stands on stderr.
    """
    try:
        settings = read_settings() if data is None else read_settings(data=data)
        log_by_the_line(settings.log_form)
        has_teams = is_set_up(settings)
        if not (has_teams or open_to_all or is_this_machine(host)):
            raise CannotServe(NOBODY_ASKED.format(host=host))
        with take_port(host, port) as taken, nullcontext() if has_teams else closing(Library(settings)) as library:
            print(f"Passband keeps its library in {settings.data.resolve()}", file=sys.stderr)
            app = create_app(settings, library=library)
            with making_ready(library, most_runs=settings.page_runs) as behind:
                run_server(app, taken, when_ready=lambda: _say_ready(taken, behind))
    except (SettingsError, CannotServe, LibraryInUse, FilesAway, LibraryDamaged, SchemaError) as error:
        print(error, file=sys.stderr)
        return CANNOT_START
    return 0


def _say_ready(taken: socket.socket, behind: Thread) -> None:
    print(f"Serving on {address(taken)}", flush=True)
    behind.start()


def take_port(host: str, port: int) -> socket.socket:
    """A socket that listens, or `CannotServe` with the reason."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    taken = socket.socket(family)
    taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        taken.bind((host, port))
    except OSError as error:
        taken.close()
        raise CannotServe(f"{host} port {port} cannot be used ({error.strerror}); name another with --port.") from None
    return taken


def address(taken: socket.socket) -> str:
    """What to type into a browser to get to a socket."""
    host, port = taken.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def run_server(app: FastAPI, taken: socket.socket, *, when_ready: Callable[[], None]) -> None:
    """Serve until SIGTERM or Ctrl-C, then finish what is under way.

    Parameters
    ----------
    app : FastAPI
        What to serve.
    taken : socket
        Where.
    when_ready : callable
        Called once requests are answered.

    Raises
    ------
    CannotServe
        If the application cannot start.
    """
    settings: Settings = app.state.settings
    log_by_the_line(settings.log_form)
    keep_freed_memory()  # a long upload takes and frees some MB a piece
    _allow_files(2 * settings.connections + FILES_OF_OUR_OWN)
    protocol = partial(WatchedProtocol, patience_s=settings.stall_seconds, most_connections=settings.connections)
    config = uvicorn.Config(
        app,
        http=cast("type[asyncio.Protocol]", protocol),
        ws="none",
        log_config=None,
        access_log=False,
        timeout_graceful_shutdown=GRACE_S,
        server_header=False,
    )
    server = _Server(config, when_ready)
    earlier = signal.signal(signal.SIGTERM, _nothing_more)
    try:
        server.run(sockets=[taken])
    except KeyboardInterrupt:
        return
    finally:
        signal.signal(signal.SIGTERM, earlier)
    if not server.started:
        raise CannotServe("The service could not start; the reason stands above.")


def _allow_files(count: int) -> None:
    """Let this process have so many files open, as far as it may: each connection is one, an upload another."""
    try:
        import resource
    except ImportError:  # this system sets no such limit
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    allowed = count if hard == resource.RLIM_INFINITY else min(count, hard)
    if soft != resource.RLIM_INFINITY and soft < allowed:
        resource.setrlimit(resource.RLIMIT_NOFILE, (allowed, hard))


def _nothing_more(_signal: int, _frame: FrameType | None) -> None:
    """Uvicorn sends itself the signal again once it has ended in order; by then all is done."""
