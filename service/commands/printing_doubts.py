"""What must be asked about a log's columns, and how to answer, in print.

Public: `doubts_printed`, `one_line`.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Sequence

from passband.analysis.results.doubt import AS_LOGGED, Doubt
from passband.web.wording.channel_titles import by_title

WIDTH = 100
"""Columns of a line."""


def doubts_printed(doubts: Sequence[Doubt]) -> Iterator[str]:
    """Lines that ask about columns and show what to write into the car's file.

    Parameters
    ----------
    doubts : sequence of Doubt
        Of one file's recordings.

    Yields
    ------
    str
        None where nothing must be asked.
    """
    if not doubts:
        return
    columns = "1 column" if len(doubts) == 1 else f"{len(doubts)} columns"
    yield from ("", f"To be asked: {columns}")
    for doubt in doubts:
        yield from _asked(doubt)
    yield from (
        "",
        "Answers stand in the car's file (--car), so that no log of this layout is asked about again:",
        "",
    )
    for layout in dict.fromkeys(doubt.layout for doubt in doubts):
        yield f"[layouts.{layout}]"
        yield from (_answer_line(doubt) for doubt in doubts if doubt.layout == layout)
    yield from ("", 'This says that all are right as they are; "ignore" leaves a column out.')


def _asked(doubt: Doubt) -> Iterator[str]:
    yield ""
    unit = f" in {one_line(doubt.unit)}" if doubt.unit else ""
    taken = "taken for no channel" if doubt.taken_for == AS_LOGGED else by_title(f"taken for {doubt.taken_for}{unit}")
    holds = "" if doubt.least is None else f"; it holds {doubt.least:.6g} to {doubt.greatest:.6g}"
    yield f"  {one_line(doubt.column)}: {taken}{holds}"
    yield from _wrapped(one_line(by_title(doubt.why)))
    yield from _wrapped(by_title("it may be: " + ", ".join([*doubt.channels, "ignore"])))
    if len(doubt.units) > 1:
        yield from _wrapped("in: " + ", ".join(one_line(unit) for unit in doubt.units))


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="    ", subsequent_indent="    ", break_long_words=False)


def _answer_line(doubt: Doubt) -> str:
    """One line of TOML; JSON's strings are TOML's."""
    from passband.analysis.reading.columns.answers import answer_text

    key, said = doubt.column, answer_text(doubt.taken_for, doubt.unit)
    return f"{json.dumps(key, ensure_ascii=False)} = {json.dumps(said, ensure_ascii=False)}"


def one_line(text: str) -> str:
    """No line ends and nothing that a terminal would obey: a log may hold anything."""
    return "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))
