"""How the engines of runs just taken in stand, found before anybody asks.

A first look then costs what any later one does.

Public: `hold_engines`.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence

from sqlalchemy.exc import DBAPIError

from passband.service.answers.digests import engines_of
from passband.service.library import Library
from passband.service.store.faults import FilesAway, NotWhole
from passband.service.store.records import RunRecord

log = logging.getLogger("passband")


def hold_engines(library: Library, runs: Sequence[RunRecord]) -> None:
    """Hold the engines of runs just taken in against those before them, and keep what is found.

    Parameters
    ----------
    library : Library
        Where they are.
    runs : sequence of RunRecord
        Acknowledged already: what goes wrong here is found again where it is asked for.
    """
    try:
        engines_of(library, runs)
    except (NotWhole, FilesAway, DBAPIError) as error:
        log.warning("Engines of new runs could not be held against those before them: %s", error)
