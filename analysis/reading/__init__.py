"""Bytes to logs: any logger's text understood without being told, with nothing lost.

The line: unpack and decode, find the layout, read the header, load the rows, find the time, understand the columns,
look at the sensors' health. Each step is a room or a file here: `by_head` (plain files), `blocks` and `joining`
(several recordings in a file), `recording` (a table to a log). Questions over all logs: `engine_speed_wanted`,
`settled_elsewhere`. Files that are one log: `parts_of_a_log`. What was understood, in words: `description`. Tables
without a clock: `plain_table`.

Public: `read_log`, `describe`, `doubts_of`, `check_between_channels`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from passband.analysis.channels.log import Log, NotALog
from passband.analysis.kept_memory import keep_freed_memory
from passband.analysis.reading.blocks import Block, find_blocks
from passband.analysis.reading.by_head import read_by_head
from passband.analysis.reading.columns.answers import Layouts, with_layout
from passband.analysis.reading.description import describe, doubts_of
from passband.analysis.reading.health.between import check_between_channels
from passband.analysis.reading.joining import join_blocks, tell_headers
from passband.analysis.reading.recording import logs_of_recording
from passband.analysis.reading.rows.decimal_commas import join_decimal_commas
from passband.analysis.reading.rows.fixed_width import part_at_blanks
from passband.analysis.reading.rows.side_by_side import one_below_another
from passband.analysis.reading.text.encoding import Text, read_text, text_of_two_bytes
from passband.analysis.reading.text.layout import find_layout
from passband.analysis.reading.text.line_marks import without_line_marks
from passband.analysis.reading.text.quoting import plainly_quoted
from passband.analysis.reading.text.refusal import quoted_lines
from passband.analysis.results.findings import Finding

__all__ = ["check_between_channels", "describe", "doubts_of", "read_log"]


def read_log(
    data: bytes,
    *,
    name: str,
    mapping: Mapping[str, str] | None = None,
    layouts: Layouts | None = None,
    index: int = 0,
) -> tuple[Log, ...]:
    """Read one file of a logger.

    Parameters
    ----------
    data : bytes
        The file as it came: text of any encoding, or gzip or zip of one.
    name : str
        Its name, for findings and refusals.
    mapping : dict of str to str, optional
        What the user said: header text to channel name, or to ``ignore``, or to ``time``. It wins over recognition.
        A unit may stand behind the channel: ``boost [psi]``.
    layouts : dict of str to dict, optional
        The same for logs of one layout only, by its fingerprint (`Log.doubts` holds it); it wins over `mapping`.
    index : int
        Which of the given logs it is, from 0.

    Returns
    -------
    tuple of Log
        One for each recording in the file, each with its own time from its first row; at least one.

    Raises
    ------
    NotALog
        If it is no table of numbers, has no rows or holds no time. The text is one sentence for the user.
    """
    keep_freed_memory()
    parted = _parted(data, name)
    text, blocks = parted.text, parted.blocks
    said = [with_layout(block.header, mapping or {}, layouts or {}) for block in blocks]
    logs = tell_headers(join_blocks(_logs_of(text, blocks, said, name=name, index=index)))
    if not logs:
        shown = quoted_lines([line.text for line in text.lines()])
        raise NotALog(
            f"{name}: looked for rows of numbers under a header, found too few to be a log: {shown}. "
            "Export the run again."
        )
    if text.findings:
        logs = [replace(log, findings=(*text.findings, *log.findings)) for log in logs]
    return tuple(logs)


@dataclass(frozen=True, slots=True)
class _Parted:
    """A file's text in plain cells."""

    text: Text
    blocks: list[Block]
    """Its rows, under their headers."""


def _parted(data: bytes, name: str) -> _Parted:
    wide = text_of_two_bytes(data)
    if wide is None or not re.search(rb"[^ \t\r\n\0]", wide.data):
        return _parted_from_bytes(data, name)
    parted = _parted_from_bytes(wide.data, name)
    return replace(parted, text=replace(parted.text, encoding=wide.encoding))


def _parted_from_bytes(data: bytes, name: str) -> _Parted:
    quick = read_by_head(data, name=name)
    if quick.text is not None and quick.block is not None:
        return _Parted(quick.text, [quick.block])
    plain = part_at_blanks(plainly_quoted(without_line_marks(read_text(data, name=name))), name=name)
    layout = find_layout(plain, name=name)
    text = one_below_another(join_decimal_commas(plain, layout, name=name), layout)
    if text is not plain:
        layout = find_layout(text, name=name)
    failed = quick.text is not None and quick.text.data is text.data
    return _Parted(text, find_blocks(text, layout, name=name, not_plain=failed))


def _logs_of(text: Text, blocks: list[Block], said: list[Mapping[str, str]], *, name: str, index: int) -> list[Log]:
    """The logs of each block, with what is said of its columns; one that can be none is told, where others can."""
    logs: list[Log] = []
    refused: list[tuple[Block, NotALog]] = []
    for block, mapping in zip(blocks, said, strict=True):
        try:
            made = logs_of_recording(
                text, block.layout, block.header, block.table, name=name, mapping=mapping, index=index
            )
        except NotALog as refusal:
            refused.append((block, refusal))
            continue
        logs.extend(made)
    if refused and not logs:
        raise refused[0][1]
    findings = tuple(_set_aside(block, name, refusal) for block, refusal in refused)
    return [replace(log, findings=(*findings, *log.findings)) for log in logs] if findings else logs


def _set_aside(block: Block, name: str, refusal: NotALog) -> Finding:
    line = block.layout.first_data.number
    why = str(refusal).removeprefix(f"{name}: ")
    text = f"The {block.table.rows} rows from line {line} on are no recording and were set aside: {why}"
    return Finding("rows-of-no-recording", "caution", text, f"line {line}")
