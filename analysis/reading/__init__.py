"""Bytes to logs: any logger's text understood without being told, with nothing lost.

The line: unpack and decode, find the layout, read the header, load the rows, find the time, understand the columns,
look at the sensors' health. Each step is a room or a file here: `by_head` (plain files), `blocks` and `joining`
(several recordings in a file), `recording` (a table to a log). Questions over all logs: `engine_speed_wanted`,
`settled_elsewhere`. Files that are one log: `parts_of_a_log`, `lent_headers`. What was understood, in words:
`description`. Tables without a clock: `plain_table`.

Public: `read_log`, `read_as_whole`, `parts_of_logs`, `describe`, `doubts_of`, `check_between_channels`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from passband.analysis.channels.log import Log, NotALog
from passband.analysis.kept_memory import keep_freed_memory
from passband.analysis.reading.blocks import Block, find_blocks
from passband.analysis.reading.by_head import read_by_head
from passband.analysis.reading.columns.answers import Layouts, with_layout
from passband.analysis.reading.description import describe, doubts_of
from passband.analysis.reading.health.between import check_between_channels
from passband.analysis.reading.joining import join_blocks, tell_headers
from passband.analysis.reading.lent_headers import with_headers_lent
from passband.analysis.reading.parts_of_a_log import WholeLog, end_to_end, parts_put_together
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

__all__ = ["check_between_channels", "describe", "doubts_of", "parts_of_logs", "read_as_whole", "read_log"]
TOLD_OF_PARTS = frozenset({"log-goes-on", "header-lent", "same-log-twice"})
"""What is told of files that are one log, beside what is told of its rows."""
TOLD_OF_SEAMS = frozenset({"clock-restarted", "header-repeats"})
"""What is told of rows that begin anew, and does not hold of parts that are known to go on."""


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
    return _read_parted(_parted(data, name), mapping or {}, layouts or {}, name=name, index=index)


def read_as_whole(
    files: Sequence[tuple[Log, ...]],
    data_of: Callable[[int], bytes],
    *,
    mapping: Mapping[str, str] | None = None,
    layouts: Layouts | None = None,
) -> list[tuple[Log, ...]]:
    """Put files together that are parts of one log, each read once more among the others.

    Parameters
    ----------
    files : sequence of tuples of Log
        What `read_log` returned for each file of a run.
    data_of : function
        The bytes of the file at a place; asked only where some are parts of one log.
    mapping, layouts
        As for `read_log`.

    Returns
    -------
    list of tuples of Log
        As many or fewer, in order; the same where each is a log of its own.
    """
    found = parts_of_logs(files, data_of, mapping=mapping, layouts=layouts)
    return [whole.recordings for whole in found]


def parts_of_logs(
    files: Sequence[tuple[Log, ...]],
    data_of: Callable[[int], bytes],
    *,
    mapping: Mapping[str, str] | None = None,
    layouts: Layouts | None = None,
) -> list[WholeLog]:
    """As `read_as_whole`, with the places of the files that each log is of.

    Parameters
    ----------
    files, data_of, mapping, layouts
        As for `read_as_whole`.

    Returns
    -------
    list of WholeLog
        In order.

    Notes
    -----
    What a column means is decided by the values of all parts: boost of a part that was cut within the pull never falls
    below the air's pressure, and would be taken for an absolute one. A part without a header is read under that of the
    one that it goes on from.
    """

    def parted_of(at: int) -> _Parted:
        return _parted(data_of(at), files[at][0].name)

    def read(parted: _Parted, name: str, index: int) -> tuple[Log, ...]:
        return _read_parted(parted, mapping or {}, layouts or {}, name=name, index=index)

    def read_under(at: int, of: int) -> tuple[Log, ...]:
        name = files[at][0].name
        return read(_under_header_of(parted_of(of), parted_of(at), name), name, at)

    def read_end_to_end(whole: WholeLog) -> WholeLog:
        put = whole.recordings[0]
        try:
            again = read(_end_to_end([parted_of(at) for at in whole.places], put.name), put.name, min(whole.places))
        except NotALog:
            return whole
        one = end_to_end(again)
        if one.text.rows != put.text.rows:
            return whole
        kept = TOLD_OF_PARTS if len(again) == 1 else TOLD_OF_PARTS | {"clock-begins-anew"}
        told = tuple(finding for finding in put.findings if finding.code in kept)
        findings = tuple(finding for finding in one.findings if finding.code not in TOLD_OF_SEAMS)
        return replace(whole, recordings=(replace(one, parts=put.parts, findings=(*findings, *told)),))

    whole = parts_put_together(with_headers_lent(files, read_under))
    return [read_end_to_end(one) if len(one.places) > 1 else one for one in whole]


def _under_header_of(named: _Parted, bare: _Parted, name: str) -> _Parted:
    """A file without a header, with that of another; NotALog where they are not of as many columns."""
    block, header = bare.blocks[0], named.blocks[0].header
    if len(bare.blocks) != 1 or len(header.names) != len(block.header.names):
        raise NotALog(
            f"{name}: looked for {len(header.names)} columns under a header, found {len(block.header.names)}."
        )
    lent = replace(header, header_line=None, units_line=None, preamble=())
    return replace(bare, blocks=[replace(block, header=lent)])


def _end_to_end(parts: list[_Parted], name: str) -> _Parted:
    """The rows of all parts under the header of the first that has one."""
    ends = b"\r" if parts[0].text.line_end == "\r" else b"\n"
    rows = [part.text.data[part.blocks[0].layout.first_data.start :] for part in parts]
    headed = next((part for part in parts if part.blocks[0].header.header_line is not None), parts[0])
    head = headed.text.data[: headed.blocks[0].layout.first_data.start]
    whole = head + b"".join(part if part.endswith((b"\n", b"\r")) else part + ends for part in rows)
    text = replace(headed.text, data=whole)
    return _Parted(text, find_blocks(text, find_layout(text, name=name), name=name))


def _read_parted(
    parted: _Parted, mapping: Mapping[str, str], layouts: Layouts, *, name: str, index: int
) -> tuple[Log, ...]:
    """A file's logs, once its rows stand in plain cells."""
    text, blocks = parted.text, parted.blocks
    said = [with_layout(block.header, mapping, layouts) for block in blocks]
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
