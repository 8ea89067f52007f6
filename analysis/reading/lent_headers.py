"""Files without a header that go on from one that has it: a logger names its columns in the first part of a log alone.

Public: `with_headers_lent`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from passband.analysis.channels.log import Log, NotALog
from passband.analysis.reading.parts_of_a_log import as_one_log
from passband.analysis.results.findings import Finding

ReadUnder = Callable[[int, int], tuple[Log, ...]]
"""A file, by its place, read again under the header of another; raises NotALog where that does not fit."""


def with_headers_lent(files: Sequence[tuple[Log, ...]], read_under: ReadUnder) -> list[tuple[Log, ...]]:
    """Files as they were read, those without a header under that of the file that they go on from.

    Parameters
    ----------
    files : sequence of tuples of Log
        The recordings of each file.
    read_under : function
        Reads a file again under the header of another.

    Returns
    -------
    list of tuples of Log
        As many, in order. A file that goes on from none stays as it was read: another logger's, or of another run.

    Notes
    -----
    Columns must be as many, parted alike, and the log go on as `as_one_log` sees it: else nobody knows whose they are.
    """
    read = list(files)
    bare = [at for at, recordings in enumerate(read) if _is_bare(recordings)]
    known = [at for at, recordings in enumerate(read) if len(recordings) == 1 and at not in bare]
    header_of = {of: of for of in known}
    pairs = [(at, of) for at in bare for of in known]
    while pairs:
        at, of = pairs.pop(0)
        lent = _read_on(read[at][0], read[of][0], partial(read_under, at, header_of[of]))
        if lent is None:
            continue
        read[at] = (lent,)
        header_of[at] = header_of[of]
        pairs = [pair for pair in pairs if pair[0] != at]
        pairs += [(other, at) for other in bare if other not in header_of]  # a part after this one goes on from it
    return read


def _is_bare(recordings: tuple[Log, ...]) -> bool:
    return len(recordings) == 1 and recordings[0].text.header_line is None and not recordings[0].text.preamble


def _read_on(bare: Log, named: Log, read_again: Callable[[], tuple[Log, ...]]) -> Log | None:
    """A log read under another's header; None where it does not go on from it so."""
    if (bare.text.delimiter, bare.text.decimal) != (named.text.delimiter, named.text.decimal):
        return None
    try:
        again = read_again()
    except NotALog:
        return None
    if len(again) != 1 or as_one_log(named, again[0]) is None:
        return None
    text = (
        f"{bare.name} begins without a header and goes on from {named.name}: its columns were read under that header."
    )
    told = Finding("header-lent", "note", text, bare.name)
    return replace(again[0], findings=(told, *again[0].findings))
