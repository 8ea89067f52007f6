"""A sound log spoilt in one of the ways that loggers, clocks, cables and spreadsheets do, and in ways that none does.

Public: `Sheet`, `KINDS`, `spoil`.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

JUNK = ("", "nan", "NaN", "inf", "-inf", "-", "#N/A", "abc", "0", "-1", "1e30", "1e308", "-1e308", "1e-308", "1e400",
        "9999999999999999999999", "65535", "0x1f", "1,5", '"', "12:34:56", "\x00")  # fmt: skip
"""What a spoilt cell may hold."""


@dataclass(slots=True)
class Sheet:
    """A log as lines of cells."""

    head: list[str]
    """All above the rows; the last two may be header and units."""
    rows: list[list[str]]
    delimiter: str
    header: int
    """Line of `head` that names the columns."""

    def bytes(self) -> bytes:
        """The file."""
        lines = [*self.head, *(self.delimiter.join(row) for row in self.rows)]
        return ("\n".join(lines) + "\n").encode("utf-8", errors="replace")


Kind = Callable[[Sheet, random.Random], None]


def _time(sheet: Sheet, row: int) -> float:
    try:
        stamp = float(sheet.rows[row][0])
    except ValueError:
        return 0.0
    return stamp if abs(stamp) < 1e15 else 0.0


def _jump(dice: random.Random) -> float:
    return dice.choice([1, 1, 1, -1]) * 10.0 ** dice.uniform(0, 10)


def clock_jumps(sheet: Sheet, dice: random.Random) -> None:
    """The clock jumps by 1 to 10^10 s, once or a few times, and goes on from there."""
    for _ in range(dice.choice([1, 1, 2, 5, 50])):
        start, by = dice.randrange(len(sheet.rows)), _jump(dice)
        for at in range(start, len(sheet.rows)):
            sheet.rows[at][0] = f"{_time(sheet, at) + by:.3f}"


def stamps_jump(sheet: Sheet, dice: random.Random) -> None:
    """Single stamps, or a few in a row, stand elsewhere."""
    for _ in range(dice.choice([1, 3, 30, 300])):
        start, by = dice.randrange(len(sheet.rows)), _jump(dice)
        for at in range(start, min(start + dice.choice([1, 1, 2, 4, 40]), len(sheet.rows))):
            sheet.rows[at][0] = f"{_time(sheet, at) + by:.3f}"


def stamps_junk(sheet: Sheet, dice: random.Random) -> None:
    """Stamps that cannot be read, or can and should not."""
    for _ in range(dice.choice([1, 5, 100, len(sheet.rows)])):
        sheet.rows[dice.randrange(len(sheet.rows))][0] = dice.choice(JUNK)


def stamps_stand(sheet: Sheet, dice: random.Random) -> None:
    """The clock stands still, runs backward, wraps, stretches or is printed coarsely."""
    how, start = dice.randrange(5), dice.randrange(len(sheet.rows))
    size, stretch, first = dice.choice([0.1, 1.0, 10.0, 65.536]), 10.0 ** dice.uniform(-6, 8), _time(sheet, start)
    for at in range(start, len(sheet.rows)):
        now = _time(sheet, at)
        new = (first, 2 * first - now, now % size, first + (now - first) * stretch, round(now / size) * size)[how]
        sheet.rows[at][0] = f"{new:.3f}"


def cells_junk(sheet: Sheet, dice: random.Random) -> None:
    """Cells here and there hold what is no measured value."""
    for _ in range(dice.choice([1, 10, 300, 3000])):
        row = sheet.rows[dice.randrange(len(sheet.rows))]
        row[dice.randrange(len(row))] = dice.choice(JUNK)


def column_spoilt(sheet: Sheet, dice: random.Random) -> None:
    """A whole column, or all of it from some row on, is one value, junk, turned round or scaled."""
    at = dice.randrange(max(len(sheet.rows[0]), 1))
    start = dice.choice([0, 0, dice.randrange(len(sheet.rows))])
    how, value, scale = dice.randrange(3), dice.choice(JUNK), 10.0 ** dice.uniform(-8, 300)
    for row in sheet.rows[start:]:
        if at >= len(row):
            continue
        try:
            number = float(row[at])
        except ValueError:
            number = 0.0
        row[at] = value if how == 0 else f"{-number:g}" if how == 1 else f"{number * scale:g}"


def columns_moved(sheet: Sheet, dice: random.Random) -> None:
    """Columns go, come twice, or change places; names go along, or do not."""
    how, names = dice.randrange(3), sheet.head[sheet.header].split(sheet.delimiter)
    one, two = dice.randrange(len(names)), dice.randrange(len(names))
    lines = [*sheet.rows] if dice.random() < 0.3 else [names, *sheet.rows]
    for row in lines:
        if max(one, two) >= len(row):
            continue
        if how == 0:
            del row[one]
        elif how == 1:
            row.insert(two, row[one])
        else:
            row[one], row[two] = row[two], row[one]
    sheet.head[sheet.header] = sheet.delimiter.join(names)


def names_spoilt(sheet: Sheet, dice: random.Random) -> None:
    """A name or a unit is another's, or none."""
    names = sheet.head[sheet.header].split(sheet.delimiter)
    one, two = dice.randrange(len(names)), dice.randrange(len(names))
    how = dice.randrange(4)
    if how == 0:
        names[one] = names[two]
    elif how == 1:
        names[one] = names[one].partition("[")[0]
    elif how == 2:
        names[one] = names[one].partition("[")[0] + "[" + dice.choice(["psi", "degF", "rpm", "m/s", "zork", "", "g"])
    else:
        names[one] = dice.choice(JUNK)
    sheet.head[sheet.header] = sheet.delimiter.join(names)


def rows_moved(sheet: Sheet, dice: random.Random) -> None:
    """Rows go, come twice, come backward, or only a few are left."""
    start = dice.randrange(len(sheet.rows))
    stop = start + dice.choice([1, 5, 100, 1000])
    block, how = sheet.rows[start:stop], dice.randrange(5)
    if how == 0:
        del sheet.rows[start:stop]
    elif how == 1:
        sheet.rows[start:start] = [list(row) for row in block]
    elif how == 2:
        sheet.rows[start:stop] = block[::-1]
    elif how == 3:
        sheet.rows[:] = block
    else:
        sheet.rows[:] = sheet.rows[:: dice.choice([2, 7, 50])]
    if not sheet.rows:
        sheet.rows[:] = block


KINDS: dict[str, Kind] = {
    kind.__name__: kind
    for kind in (clock_jumps, stamps_jump, stamps_junk, stamps_stand, cells_junk, column_spoilt, columns_moved,
                 names_spoilt, rows_moved)
}  # fmt: skip


def bytes_spoilt(data: bytes, dice: random.Random) -> bytes:
    """Bytes flipped, cut out, put in or doubled."""
    out = bytearray(data)
    for _ in range(dice.choice([1, 3, 30, 300])):
        at = dice.randrange(max(len(out), 1))
        how = dice.randrange(5)
        if not out:
            break
        if how == 0:
            out[at] ^= 1 << dice.randrange(8)
        elif how == 1:
            del out[at : at + dice.choice([1, 50, 2000])]
        elif how == 2:
            out[at:at] = bytes(dice.randrange(256) for _ in range(dice.randrange(1, 20)))
        elif how == 3:
            out[at:at] = out[at : at + 300]
        else:
            out[at : at + 1] = dice.choice([b'"', b",", b";", b"\n", b"\r", b"\t"])
    return bytes(out) if dice.random() < 0.9 else bytes(out[: dice.randrange(len(out) + 1)])


def spoil(sheet: Sheet, dice: random.Random) -> tuple[bytes, tuple[str, ...]]:
    """Spoil a sheet in one to three ways.

    Parameters
    ----------
    sheet : Sheet
        Changed in place.
    dice : Random
        Decides.

    Returns
    -------
    bytes
        The file.
    tuple of str
        The ways.
    """
    ways = tuple(dice.choice([*KINDS, "bytes_spoilt"]) for _ in range(dice.choice([1, 1, 2, 3])))
    for way in ways:
        if way in KINDS and sheet.rows and sheet.rows[0]:
            KINDS[way](sheet, dice)
    data = sheet.bytes()
    return (bytes_spoilt(data, dice) if "bytes_spoilt" in ways else data), ways
