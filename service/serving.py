"""The server: settings read, port taken, library opened, and everything closed again when it is told to go.

Public: `serve`, `run_server`, `CannotServe`.
"""

from __future__ import annotations

import logging
import signal
import socket
import sys
import threading
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import FrameType

import uvicorn
from fastapi import FastAPI

from passband.service.app import create_app
from passband.service.library import Library, LibraryInUse
from passband.service.routes.pages import chart_library_folder
from passband.service.settings import SettingsError, read_settings
from passband.service.store.schema import SchemaError
from passband.web.assets import chart_library

GRACE_S = 10
"""How long requests under way may go on after the server is told to end. [s]"""
CANNOT_START = 2


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


def serve(*, host: str, port: int, data: Path | None) -> int:
    """Serve a library until told to end.

    Parameters
    ----------
    host : str
        Address to listen on.
    port : int
        Port; 0 for any that is free.
    data : Path, optional
        Folder of the library; else the setting's.

    Returns
    -------
    int
        0 after an orderly end, 2 if it cannot start; the reason stands on stderr.
    """
    try:
        settings = read_settings() if data is None else read_settings(data=data)
        with take_port(host, port) as taken, closing(Library(settings)) as library:
            print(f"Passband keeps its library in {settings.data.resolve()}", file=sys.stderr)
            app = create_app(settings, library=library)
            run_server(app, taken, when_ready=lambda: print(f"Serving on {address(taken)}", flush=True))
    except (SettingsError, CannotServe, LibraryInUse, SchemaError) as error:
        print(error, file=sys.stderr)
        return CANNOT_START
    return 0


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
    """Serve until SIGTERM or Ctrl-C, then finish what is under way; the chart library is made meanwhile.

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
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
    config = uvicorn.Config(
        app, log_config=None, access_log=False, timeout_graceful_shutdown=GRACE_S, server_header=False
    )
    server = _Server(config, when_ready)
    threading.Thread(target=chart_library, args=(chart_library_folder(app.state.settings.data),), daemon=True).start()
    earlier = signal.signal(signal.SIGTERM, _nothing_more)
    try:
        server.run(sockets=[taken])
    except KeyboardInterrupt:
        return
    finally:
        signal.signal(signal.SIGTERM, earlier)
    if not server.started:
        raise CannotServe("The service could not start; the reason stands above.")


def _nothing_more(_signal: int, _frame: FrameType | None) -> None:
    """Uvicorn sends itself the signal again once it has ended in order; by then all is done."""
