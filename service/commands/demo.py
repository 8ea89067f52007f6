"""The demo: a weekend of our own invention, uploaded into a fresh library and served.

Public: `serve_demo`, `load_weekend`.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import threading
import tomllib
import webbrowser
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from pathlib import Path

import passband.demo_logs
from passband.analysis.results.plain_values import JsonObject
from passband.service.app import create_app
from passband.service.given.details import UploadDetails
from passband.service.given.facts import read_given
from passband.service.library import Library, LibraryInUse
from passband.service.serving import CANNOT_START, CannotServe, address, run_server, take_port
from passband.service.settings import SettingsError, read_settings
from passband.service.store.faults import FilesAway, LibraryDamaged
from passband.service.store.records import CarRecord
from passband.service.store.schema import SchemaError
from passband.service.uploads.received import ReceivedFile

WEEKEND = Path(passband.demo_logs.__file__).parent / "weekend"
"""``car.toml``, ``runs.toml`` and the logs that it names."""
AT_ONCE = 3
"""Uploads under way: one more than there are workers by default, so that none of them waits for a copy."""


def serve_demo(*, port: int, data: Path | None, browser: bool) -> int:
    """Load the weekend and serve it until told to end.

    Parameters
    ----------
    port : int
        Port on this machine.
    data : Path, optional
        Folder of the library; by default one that is gone afterwards.
    browser : bool
        Whether to open the page in a browser.

    Returns
    -------
    int
        0 after an orderly end, 2 if it cannot start.
    """

    def ready() -> None:
        print(f"The weekend is at {address(taken)} until you press Ctrl-C.", flush=True)
        if browser:
            webbrowser.open(address(taken))

    try:
        with take_port("127.0.0.1", port) as taken, _folder(data) as folder:
            settings = read_settings(data=folder, database="", object_store="")  # invention goes to no server
            with closing(Library(settings)) as library:
                load_weekend(library)
                run_server(create_app(settings, library=library), taken, when_ready=ready)
    except (SettingsError, CannotServe, LibraryInUse, FilesAway, LibraryDamaged, SchemaError) as error:
        print(error, file=sys.stderr)
        return CANNOT_START
    return 0


def load_weekend(library: Library, folder: Path = WEEKEND) -> None:
    """Upload every run of the weekend, in order; runs that are there already are left as they are.

    Parameters
    ----------
    library : Library
        Where to.
    folder : Path
        Where from.
    """
    car = _car(library, tomllib.loads((folder / "car.toml").read_text(encoding="utf-8")))
    runs = tomllib.loads((folder / "runs.toml").read_text(encoding="utf-8"))["runs"]
    kept = [threading.Event() for _ in runs]

    def load(number: int) -> str:
        given = dict(runs[number])
        names = given.pop("logs")
        details = read_given(UploadDetails, given, what="run")
        try:
            with library.incoming() as incoming:
                files = [_copy(folder / name, incoming) for name in names]
                library.take_in(files, car=car, details=details, not_before=kept[number - 1] if number else None)
        finally:
            kept[number].set()
        return f"{details.event}, {details.round}"

    print(f"Reviewing a weekend of {len(runs)} runs ...", flush=True)
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for number, run in enumerate(pool.map(load, range(len(runs))), start=1):
            print(f"{number} of {len(runs)}: {run}", flush=True)


def _copy(log: Path, incoming: Path) -> ReceivedFile:
    copy = Path(shutil.copy(log, incoming / log.name))
    return ReceivedFile(copy, log.name, copy.stat().st_size)


def _car(library: Library, given: JsonObject) -> CarRecord:
    same = [car for car in library.records.all_cars() if car.given == given]
    return same[0] if same else library.cars.add(given)


@contextmanager
def _folder(data: Path | None) -> Iterator[Path]:
    if data is not None:
        yield data
        return
    with tempfile.TemporaryDirectory(prefix="passband-demo-") as passing:
        yield Path(passing)
