"""What is made before anybody asks: pages' templates, and the sheet of the newest event.

A first look after a start then costs what any later one does.

Public: `making_ready`.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from passband.service.library import Library
from passband.service.store.faults import FilesAway, NotWhole

log = logging.getLogger("passband")


@contextmanager
def making_ready(library: Library | None, *, most_runs: int) -> Iterator[threading.Thread]:
    """Make ready in the background while a service runs.

    Parameters
    ----------
    library : Library, optional
        What is served; None where each team has one of its own, opened when it first comes.
    most_runs : int
        Of an event that its sheet shows.

    Yields
    ------
    Thread
        Not begun; it ends by itself. Behind the block it has ended.
    """
    ended = threading.Event()
    thread = threading.Thread(target=_make_ready, args=(library, most_runs, ended), name="making-ready", daemon=True)
    try:
        yield thread
    finally:
        ended.set()
        if thread.is_alive():
            thread.join()


def _make_ready(library: Library | None, most_runs: int, ended: threading.Event) -> None:
    from passband.web.pages.page import load_templates

    for _ in load_templates():
        if ended.is_set():
            return
    if library is not None:
        _look_at_newest(library, most_runs)


def _look_at_newest(library: Library, most: int) -> None:
    """The sheet of the newest event, once."""
    from passband.service.answers.digests import sheet_of
    from passband.service.routes.events import event_shown
    from passband.web.pages.page import render_event

    try:
        for event in library.records.events()[:1]:
            runs = library.records.find_runs(event=event, car=None, limit=most, after=None)
            render_event(event_shown(sheet_of(library, runs[::-1]), event), units="us")
    except (
        NotWhole,
        FilesAway,
        DBAPIError,
    ) as error:  # nobody asked for it yet: who does is told by the page's own answer
        log.warning("The newest event's sheet could not be made ready: %s", error)
