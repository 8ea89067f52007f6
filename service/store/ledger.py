"""What stands beside the database: a record of each upload, car and item, and how far the database had come.

A record is written before the rows that it tells of are committed, so no record is ever behind what was acknowledged. A
record of a generation that the database has not reached is of a change that was cut off.

Public: `Ledger`, `State`, `Turn`.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from passband.analysis.results.plain_values import JsonObject
from passband.service.store.faults import Contested
from passband.service.store.files import write_whole
from passband.service.store.record_files import DamagedRecord, RecordFiles, read_record, written_record

log = logging.getLogger("passband")


@dataclass(frozen=True, slots=True)
class State:
    """How far the database had come when it was last seen."""

    generation: int
    """Changes that were committed, all together."""
    runs: int
    uploads: int
    cars: int
    doubt: str = ""
    """Why the database is not trusted to be complete; empty where it is. It stays until a recheck."""
    unclaimed: tuple[str, ...] = ()
    """Keys of originals that have no row and no record, found by a recheck and left where they are."""


class Ledger:
    """Records of uploads, cars and items, and the state, in the library's folder.

    Parameters
    ----------
    root : Path
        The library's folder.
    scratch : Path
        A folder in it for files on their way.
    """

    def __init__(self, root: Path, *, scratch: Path) -> None:
        self.uploads = RecordFiles(root / "uploads", scratch=scratch)
        self.cars = RecordFiles(root / "cars", scratch=scratch)
        self.items = RecordFiles(root / "items", scratch=scratch)
        self._path = root / "library.state"
        self._scratch = scratch
        self.contested: set[str] = set()
        """Keys of records that tell more than the database: not to be written over before a recheck."""
        self.unsettled: list[tuple[RecordFiles, str, bytes | None]] = []

    def state(self) -> State | None:
        """What was last written; None if there is none or it cannot be read."""
        try:
            body = read_record(self._path.read_bytes(), self._path.name)
            return State(**{**body, "unclaimed": tuple(body["unclaimed"])})
        except (FileNotFoundError, DamagedRecord, KeyError, TypeError):
            return None

    def write_state(self, state: State) -> None:
        """Keep a state in the place of the one before."""
        write_whole(self._path, written_record(asdict(state)), scratch=self._scratch)

    def turn(self) -> Turn:
        """Begin a change; `OSError` if an earlier one that failed could not be undone, and still cannot."""
        while self.unsettled:
            files, key, former = self.unsettled[0]
            files.put_back(key, former)
            del self.unsettled[0]
        return Turn(self)


@dataclass(slots=True)
class Turn:
    """One change of the database, and what it changes beside it."""

    ledger: Ledger
    _former: list[tuple[RecordFiles, str, bytes | None]] = field(default_factory=list)

    def write(self, files: RecordFiles, key: str, body: JsonObject | None) -> None:
        """Write a record, or take it away where there is nothing more to tell; `Contested` if it may not be."""
        if body is not None:
            self.write_all(files, {key: body})
        else:
            self._note(files, key)
            files.remove(key)

    def write_all(self, files: RecordFiles, bodies: Mapping[str, JsonObject]) -> None:
        """Write records, several at a time; `Contested` if one of them may not be written."""
        for key in bodies:
            self._note(files, key)
        files.write_all(bodies)

    def _note(self, files: RecordFiles, key: str) -> None:
        if key in self.ledger.contested:
            raise Contested
        self._former.append((files, key, files.bytes_of(key)))

    def undo(self) -> None:
        """Make all records what they were; what cannot be put back now is put back before the next change."""
        while self._former:
            files, key, former = self._former.pop()
            try:
                files.put_back(key, former)
            except OSError as error:
                log.error("the record %s could not be put back yet: %s", key, error)
                self.ledger.unsettled.append((files, key, former))

    def done(self, state: State) -> None:
        """The change is committed. A state that cannot be written is told: the next one stands for it too."""
        kept = self.ledger.state()
        if kept is not None:
            state = replace(state, doubt=kept.doubt, unclaimed=kept.unclaimed)
            if kept.doubt:
                state = replace(state, generation=max(state.generation, kept.generation))
        try:
            self.ledger.write_state(state)
        except OSError as error:
            log.error("the library's state could not be written: %s", error)
