"""A file whose head shows rows of bare numbers is read by its head alone; reading it strictly proves the rest.

Any file may hold letters, zero bytes or typographic signs after its head, and looking for each takes a fiftieth of
the time of reading it. None of them is a number, so a strict read of numbers that succeeds shows that there are none;
where it fails, it need not be tried again. Only a carriage return passes for a blank, and a point for a decimal
comma: they are looked for while the rows are read.

Public: `read_by_head`, `ByHead`.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from passband.analysis.channels.log import NotALog
from passband.analysis.reading.blocks import Block, plain_block
from passband.analysis.reading.rows.decimal_commas import join_decimal_commas
from passband.analysis.reading.rows.fixed_width import part_at_blanks
from passband.analysis.reading.rows.table import is_number
from passband.analysis.reading.text.bare_digits import look_through
from passband.analysis.reading.text.encoding import HEAD_BYTES, Text, text_by_head
from passband.analysis.reading.text.layout import find_layout
from passband.analysis.reading.text.mended_bytes import ends_lines_by_feeds
from passband.analysis.reading.text.quoting import plainly_quoted

WORTH_IT = 8 * HEAD_BYTES
"""Bytes below which looking at all of a file takes no time."""


@dataclass(frozen=True, slots=True)
class ByHead:
    """What came of it."""

    text: Text | None = None
    """As the head shows it; None where the head does not show rows of bare numbers."""
    block: Block | None = None
    """All rows; None where some are not like those of the head, or `text` is None."""


def read_by_head(data: bytes, *, name: str) -> ByHead:
    """Read a file as its head shows it.

    Parameters
    ----------
    data : bytes
        The file as it came.
    name : str
        The file's name.

    Returns
    -------
    ByHead
        Without a block where the file must be looked at whole.
    """
    try:
        found = text_by_head(data) if len(data) >= WORTH_IT else None
        if found is None:
            return ByHead()
        seen = replace(found, data=data[: data.rfind(b"\n", 0, HEAD_BYTES) + 1])  # a mark behind is no number
        if plainly_quoted(seen) is not seen or part_at_blanks(found, name=name) is not found:
            return ByHead()
        layout = find_layout(found, name=name)
        if layout.quoted or not all(map(is_number, layout.column_kinds)):
            return ByHead()
        if join_decimal_commas(found, layout, name=name) is not found:
            return ByHead()
        with ThreadPoolExecutor(1) as beside:
            looked = beside.submit(look_through, data, layout.first_data.start)
            block = plain_block(found, layout, name=name, are_bare=lambda: looked.result().bare)
        if looked.result().carriage_return and not ends_lines_by_feeds(data):
            return ByHead()
        if looked.result().point and block is not None and block.layout.decimal == ",":
            return ByHead()
        return ByHead(found, block)
    except NotALog:
        return ByHead()
