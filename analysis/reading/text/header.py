"""What the columns are called and in which units: header row, units row, preamble.

Public: `Header`, `read_header`, `behind_row_numbers`, `without_label`, `all_units`, `tell_apart`,
`units_from_preamble`.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import dataclass, replace

from passband.analysis.channels.plain_words import plain_words
from passband.analysis.channels.recognition import CHANGES_MEANING, recognise_name
from passband.analysis.channels.units import NO_UNIT, is_unit, plain_unit
from passband.analysis.reading.text.cells import kind_of_cell, split_line
from passband.analysis.reading.text.encoding import Line
from passband.analysis.reading.text.layout import DELIMITERS, Layout
from passband.analysis.reading.text.listed_names import names_listed
from passband.analysis.reading.text.name_and_unit import as_meant, split_name_and_unit
from passband.analysis.reading.text.paired_columns import named_in_pairs
from passband.analysis.reading.text.place_labels import under_their_names, without_place_labels
from passband.analysis.reading.text.pulses_said import pulses_said
from passband.analysis.reading.text.stated_scales import (
    Scales,
    said_of_names,
    says_scale,
    scale_said,
    scales_above,
    scales_of_names,
    span_said,
    units_tabled,
)

MOST_TITLE_ROWS = 5
"""Rows between preamble and data that may name columns: name, long name, unit, source, and one blank."""
MOST_LONE_LINES = 3
"""Lines of one cell between names and data: a rule, a word such as "Data"; and as many first rows that are damaged."""
LINES_A_NAME = 4
"""Lines that a quoted name may be broken into: three words and a unit."""
FEWEST_NAMED_BY_BOTH = 2
"""Names that two title rows must give together beyond what one gives, to be read as one; a chance would give one."""
_LABELS = frozenset(
    "unit units channel channels name names signal signals parameter parameters variable variables column columns "
    "header label labels sensor sensors source type einheit einheiten kanal kanäle unité unités nom canal unidad "
    "unidades nombre unità nome unidade eenheid enhet jednostka jednotka единица единицы".split()
)
"""What a title row is called in a cell before it: in the languages whose names are known; from memory."""


@dataclass(frozen=True, slots=True)
class Header:
    """Names and units, one for each column of data."""

    names: tuple[str, ...]
    """As written; duplicates and empty names told apart by a suffix; ``Column 3`` where there is no header."""
    units: tuple[str, ...]
    """As written, empty where nowhere."""
    bare: tuple[str, ...]
    """The names without the unit in them and without the suffix, for recognition."""
    header_line: int | None
    """Line of the header, from 1."""
    units_line: int | None
    """Line of the units, from 1; None where they are in the header, the preamble or nowhere."""
    preamble: tuple[tuple[str, str], ...]
    """Key and value of each line before; free text has an empty key."""
    start: int
    """Byte at which the header row starts; the first row of data where there is none."""
    names_written: int = 0
    """Names in the header row, up to the last; 0 where there is none."""
    rows_counted: bool = False
    """Whether a counter of rows without a name stands before the first named column."""
    scales: Scales | None = None
    """What each column's counts are to be multiplied by and added to; None where nothing says so."""


def read_header(layout: Layout) -> Header:
    """Read names, units and preamble from the lines above the data.

    Parameters
    ----------
    layout : Layout
        Where the data begins and how it is delimited.

    Returns
    -------
    Header
        One name and one unit for each column.
    """
    rows = _in_pairs(_without_legend(_title_rows(layout)))
    names_at, units_at = _choose(rows)
    listed = _listed(layout, rows if names_at is None else [rows[names_at]])
    if listed:
        rows, names_at, units_at = [], None, None
    rows = _under_few_groups(_with_groups(rows, names_at, units_at), names_at, layout)
    used = {at for at in (names_at, units_at) if at is not None}
    first_title = min((rows[at][0].number for at in used), default=layout.first_data.number)
    spare = [line for at, (line, _) in enumerate(rows) if at not in used]
    preamble = _read_preamble([line for line in layout.above if line.number < first_title] + spare, layout.delimiter)
    written = [as_meant(cell) for cell in rows[names_at][1]] if names_at is not None else []
    preamble = _without_formulas(preamble, written)
    cells = _padded(written or listed or _named_by_place(preamble, layout.width), layout.width)
    legend = _legend(cells, preamble)
    spans = {at: span for at, cell in enumerate(cells) if (span := span_said(cell)) is not None}
    split = [
        (spans[at].name, spans[at].scaled.unit) if at in spans else split_name_and_unit(legend.get(at, cell))
        for at, cell in enumerate(without_place_labels(cells))
    ]
    row_units = _padded([*map(as_meant, rows[units_at][1])] if units_at is not None else [], layout.width)
    row_units = under_their_names(row_units, [name for name, _ in split])
    of_preamble = units_from_preamble(preamble, [name for name, _ in split])
    of_scales = said_of_names(preamble, cells if legend else [name for name, _ in split])
    units = [
        _unit_of_row(row, own, cells[i])
        or own
        or _bare_unit(row)
        or of_preamble[i]
        or (of_scales[i].unit if i in of_scales else "")
        or layout.cell_units[i]
        for i, ((_, own), row) in enumerate(zip(split, row_units, strict=True))
    ]
    bare = [name for name, _ in split]
    for i, (name, unit) in enumerate(zip(bare, units, strict=True)):
        pickup = pulses_said(name, unit)
        if pickup is not None:
            bare[i], units[i] = pickup.name, pickup.unit
    return Header(
        names=tuple(tell_apart([f"{cell}: {legend[at]}" if at in legend else cell for at, cell in enumerate(cells)])),
        units=tuple(units),
        bare=tuple(bare),
        header_line=rows[names_at][0].number if names_at is not None else None,
        units_line=rows[units_at][0].number if units_at is not None else None,
        preamble=preamble,
        start=rows[names_at][0].start if names_at is not None else layout.first_data.start,
        scales=_scales(layout)
        or scales_of_names(
            preamble, cells if legend else [name for name, _ in split], {at: one.scaled for at, one in spans.items()}
        ),
        names_written=max((at for at, cell in enumerate(written or listed, start=1) if cell), default=0),
    )


def _listed(layout: Layout, rows: list[tuple[Line, list[str]]]) -> list[str]:
    """Names that a list of the columns above gives, where no row of names stands, or one that is a line of the list."""
    width = layout.width - (layout.column_kinds[-1] == "blank")
    found = names_listed([line.text for line in layout.above], width)
    if found is None:
        return []
    lines = {line.number for line in layout.above[found.first : found.stop]}
    return [*found.names] if all(line.number in lines for line, _ in rows) else []


def _scales(layout: Layout) -> Scales | None:
    labelled = layout.column_kinds[0] == "blank"
    lines = [line.text for line in layout.above]
    return scales_above(lines, layout.delimiter, width=layout.width, labelled=labelled)


def behind_row_numbers(header: Header) -> Header:
    """The header with each name one column further right, behind a counter of rows that has none.

    Parameters
    ----------
    header : Header
        Of one name less than columns.
    """
    named = header.names_written
    return replace(
        header,
        names=("Column 1", *header.names[:named]),
        units=("", *header.units[:named]),
        bare=("", *header.bare[:named]),
        names_written=named + 1,
        rows_counted=True,
    )


def _unit_of_row(row: str, own: str, cell: str) -> str:
    """The row's unit where the name's last word is one as well, as ``Long G`` over ``mG``; a bracketed one stands."""
    unit = _bare_unit(row)
    if not own or not unit or cell.rstrip().endswith((")", "]", "}", ">")) or plain_unit(unit) in NO_UNIT:
        return ""
    return unit if is_unit(unit) else ""


def _bare_unit(cell: str) -> str:
    """A cell of the units row without the brackets some loggers put around it."""
    inner = re.fullmatch(r"[\[({<]\s*(.*?)\s*[\])}>]", cell)
    unit = inner.group(1) if inner else cell
    return "" if unit in ("-", "--", "–", "—", "1", "none", "n/a", "unitless", "[]") else unit


def _padded(cells: list[str], width: int) -> list[str]:
    return (cells + [""] * width)[:width]


def _title_rows(layout: Layout) -> list[tuple[Line, list[str]]]:
    """Rows above the data that may name its columns, nearest first; a lone word or rule between them is passed over."""
    rows: list[tuple[Line, list[str]]] = []
    lines = list(layout.above)
    passed = damaged = 0
    while lines and len(rows) < MOST_TITLE_ROWS:
        line = lines.pop()
        if not line.text.strip(layout.delimiter + " "):
            if rows and not all(all_units(cells) for _, cells in rows):
                break
            continue
        line, lines = _joined(line, lines, most=LINES_A_NAME * layout.width)
        cells = _cells_of_title(line, layout)
        if says_scale(line.text, layout.delimiter):
            continue
        if len(cells) == 1 and not rows and passed < MOST_LONE_LINES:
            passed += 1
            continue
        filled = sum(bool(cell) for cell in cells)
        full = len(cells) >= 0.6 * layout.width and filled >= 0.3 * layout.width and not _are_values(cells, layout)
        units = all_units(cells) and len(cells) >= 0.6 * layout.width
        names = not any(map(_names_channels, rows)) and _names_channels((line, cells))
        if not (names or ((full or units) and not damaged)):
            if rows or damaged >= MOST_LONE_LINES:
                break
            damaged += 1
            continue
        rows.append((line, without_label(cells, layout.width)))
    return rows


def _are_values(cells: list[str], layout: Layout) -> bool:
    """Whether half of a row's cells are numbers with decimals: a row that is odd otherwise, and no names."""
    values = [layout.decimal in cell and kind_of_cell(cell, layout.decimal) == "number" for cell in cells if cell]
    return 2 * sum(values) >= max(len(values), 1)


def _cells_of_title(line: Line, layout: Layout) -> list[str]:
    """The cells of a row above the data; by another delimiter where that alone gives a name to each column."""
    cells = split_line(line.text, layout.delimiter)
    if len(cells) > layout.width > 1:
        return _with_commas_within(cells, line.text, layout)
    if len(cells) > 1 or layout.width < 2:
        return cells
    for delimiter in DELIMITERS:
        others = split_line(line.text, delimiter)
        if delimiter != layout.delimiter and len(others) == layout.width and _names_channels((line, others)):
            return others
    return cells


def _with_commas_within(cells: list[str], line: str, layout: Layout) -> list[str]:
    """A row of names in which a name holds a comma and a blank, where that alone makes as many as the rows have."""
    written = line.split(layout.delimiter)
    if layout.delimiter != "," or len(written) != len(cells) or '"' in line:
        return cells
    within = [at for at, cell in enumerate(written) if at and cell[:1] == " " and cell.strip()]
    if len(cells) - len(within) != layout.width:
        return cells
    joined: list[str] = []
    for at, cell in enumerate(cells):
        if at in within:
            joined[-1] = f"{joined[-1]}, {cell}"
        else:
            joined.append(cell)
    return joined


def _without_legend(rows: list[tuple[Line, list[str]]]) -> list[tuple[Line, list[str]]]:
    """Title rows but for those that begin with a name which stands within a row below: they explain it."""
    kept: list[tuple[Line, list[str]]] = []
    for line, cells in rows:
        if not any(cells[0] and cells[0] in below[1:] for _, below in kept):
            kept.append((line, cells))
    return kept


def _in_pairs(rows: list[tuple[Line, list[str]]]) -> list[tuple[Line, list[str]]]:
    """Title rows, two that name pairs of a time and its values made one."""
    for at, ((_, lower), (line, upper)) in enumerate(itertools.pairwise(rows)):
        named = named_in_pairs(upper, lower)
        if named is not None:
            return [*rows[:at], (line, named), *rows[at + 2 :]]
    return rows


def _names_channels(row: tuple[Line, list[str]]) -> bool:
    """Whether half of a row's cells that hold anything are names known to be channels, and none is a number."""
    filled = [cell for cell in row[1] if cell]
    if len(filled) < 2 or any(kind_of_cell(cell, ".") in ("number", "clock") for cell in filled):
        return False
    return 2 * sum(bool(recognise_name(split_name_and_unit(cell)[0])) for cell in filled) >= len(filled)


def without_label(cells: list[str], width: int) -> list[str]:
    """A title row without the cell before its first that says what the row is, where it has one cell too many.

    Parameters
    ----------
    cells : list of str
        The row.
    width : int
        Cells of a row of data.

    Examples
    --------
    >>> without_label(["Units", "s", "rpm"], 2), without_label(["Time", "RPM", "MAP"], 2)
    (['s', 'rpm'], ['Time', 'RPM', 'MAP'])
    """
    last = max((at for at, cell in enumerate(cells, start=1) if cell), default=0)
    return cells[1:] if last > width and cells[0].casefold().rstrip(" :=") in _LABELS else cells


def _joined(line: Line, lines: list[Line], *, most: int) -> tuple[Line, list[Line]]:
    """A row whose quoted cells hold line breaks, put together again out of a number of lines at most."""
    if line.text.count('"') % 2 == 0:
        return line, lines
    texts, rest = [line.text], list(lines)
    odd = True
    while odd and rest and len(texts) < most:
        first = rest.pop()
        texts.insert(0, first.text)
        odd ^= first.text.count('"') % 2 == 1
    return (line, lines) if odd else (Line("\n".join(texts), first.number, first.start), rest)


def all_units(cells: list[str]) -> bool:
    """Whether every cell that holds anything is a unit."""
    filled = {cell for cell in cells if cell}
    return bool(filled) and all(is_unit(_bare_unit(cell) or "-") for cell in filled)


def _choose(rows: list[tuple[Line, list[str]]]) -> tuple[int | None, int | None]:
    """Which of the rows holds the names and which the units."""
    if not rows:
        return None, None
    unit_share = [_share(cells, lambda cell: is_unit(_bare_unit(cell) or "-")) for _, cells in rows]
    known = [_share(cells, lambda cell: bool(recognise_name(split_name_and_unit(cell)[0]))) for _, cells in rows]
    units_at = next(
        (i for i, share in enumerate(unit_share) if share >= 0.5 and share > known[i] and len(rows) > 1), None
    )
    named = [i for i in range(len(rows)) if i != units_at and unit_share[i] < 0.8] or [
        i for i in range(len(rows)) if i != units_at
    ]
    names_at = max(named, key=lambda i: (round(known[i], 1), -i))
    return names_at, units_at


def _with_groups(
    rows: list[tuple[Line, list[str]]], names_at: int | None, units_at: int | None
) -> list[tuple[Line, list[str]]]:
    """The rows, that of the names put together with the one above or below where only both together name channels."""
    if names_at is None:
        return rows
    known = _known(rows[names_at][1])
    best = rows
    for upper in (names_at, names_at + 1):
        lower = upper - 1
        if lower < 0 or upper >= len(rows) or units_at in (lower, upper):
            continue
        groups, names = rows[upper][1], rows[lower][1]
        for above in (groups, _spread(groups)):
            both = [f"{group} {name}".strip() for group, name in itertools.zip_longest(above, names, fillvalue="")]
            if _known(both) >= known + FEWEST_NAMED_BY_BOTH:
                known = _known(both)
                best = [*rows]
                best[names_at] = (rows[upper][0], both)
    return _alike_by_group(best, names_at, units_at) if best is rows else best


def _under_few_groups(
    rows: list[tuple[Line, list[str]]], names_at: int | None, layout: Layout
) -> list[tuple[Line, list[str]]]:
    """The rows, names that mean nothing alone put together with the group in the mostly blank row above them."""
    if names_at is None:
        return rows
    line, names = rows[names_at]
    above = next((one for one in reversed(layout.above) if one.number < line.number), None)
    groups = [as_meant(cell) for cell in split_line(above.text, layout.delimiter)] if above is not None else []
    filled = [cell for cell in groups if cell]
    if not 2 <= len(groups) <= len(names) + 1 or not filled or all(groups) or any(map(_is_number, filled)):
        return rows
    both = [
        f"{group} {name}" if group and not _known([name]) and _known([f"{group} {name}"]) else name
        for group, name in zip(_padded(_spread(groups), len(names)), names, strict=True)
    ]
    changed = sum(one != name for one, name in zip(both, names, strict=True))
    return [*rows[:names_at], (line, both), *rows[names_at + 1 :]] if changed >= FEWEST_NAMED_BY_BOTH else rows


def _is_number(cell: str) -> bool:
    return kind_of_cell(cell, ".") in ("number", "clock")


def _alike_by_group(
    rows: list[tuple[Line, list[str]]], names_at: int, units_at: int | None
) -> list[tuple[Line, list[str]]]:
    """The rows, names that stand twice put together with their groups' where these tell them apart."""
    line, names = rows[names_at]
    again = {name for name, times in Counter(names).items() if name and times > 1}
    if not again or names_at + 1 >= len(rows) or names_at + 1 == units_at:
        return rows
    groups = _spread(rows[names_at + 1][1])
    both = [
        f"{group} {name}" if name in again and _says_which(group, name) else name
        for group, name in zip(_padded(groups, len(names)), names, strict=True)
    ]
    told = {name for name in again if len({one for one, was in zip(both, names, strict=True) if was == name}) > 1}
    made = [one if was in told else was for one, was in zip(both, names, strict=True)]
    return [*rows[:names_at], (line, made), *rows[names_at + 1 :]] if told else rows


def _says_which(group: str, name: str) -> bool:
    """Whether a group makes a channel of a name, or something else than a measured one: ``Target`` over ``RPM``."""
    known = recognise_name(split_name_and_unit(f"{group} {name}")[0])
    return bool(known) or not CHANGES_MEANING.isdisjoint(plain_words(group))


def _known(cells: list[str]) -> int:
    return sum(bool(recognise_name(split_name_and_unit(cell)[0])) for cell in cells if cell)


def _spread(groups: list[str]) -> list[str]:
    """Each group's name over the empty cells right of it."""
    spread: list[str] = []
    for cell in groups:
        spread.append(cell or (spread[-1] if spread else ""))
    return spread


def _share(cells: list[str], holds: object) -> float:
    filled = [cell for cell in cells if cell]
    return sum(bool(holds(cell)) for cell in filled) / max(len(filled), 1)  # type: ignore[operator]


def tell_apart(cells: list[str]) -> list[str]:
    """Names with duplicates and empty ones told apart.

    Examples
    --------
    >>> tell_apart(["Time", "RPM", "RPM", ""])
    ['Time', 'RPM', 'RPM (2)', 'Column 4']
    """
    named = [cell or f"Column {at}" for at, cell in enumerate(cells, start=1)]
    taken = Counter(named)
    seen: Counter[str] = Counter()
    apart: list[str] = []
    for name in named:
        seen[name] += 1
        if seen[name] == 1:
            apart.append(name)
            continue
        number = seen[name]
        while f"{name} ({number})" in taken:
            number += 1
        apart.append(f"{name} ({number})")
        taken[apart[-1]] += 1
    return apart


def _legend(cells: list[str], preamble: tuple[tuple[str, str], ...]) -> dict[int, str]:
    """By place, what names stand for that lines above explain, as "Ch1 = Engine Speed [rpm]"."""
    said = {
        key.casefold(): re.split(r"\s*[,;\t|]\s*", value, maxsplit=1)
        for key, value in preamble
        if key and value and scale_said(value) is None
    }
    explained = {
        at: " ".join([name, *(f"[{unit.strip('[]() ')}]" for unit in units if is_unit(_bare_unit(unit)))])
        for at, cell in enumerate(cells)
        for name, *units in [said.get(cell.casefold(), [""])]
        if name and not recognise_name(split_name_and_unit(cell)[0])
    }
    if not any(recognise_name(split_name_and_unit(name)[0]) for name in explained.values()):
        return {}
    return explained


def _without_formulas(preamble: tuple[tuple[str, str], ...], names: list[str]) -> tuple[tuple[str, str], ...]:
    """Lines that explain a name and say how its counts become values, as two: ``ne: engine speed = raw / 4 [rpm]``."""
    known = {name.casefold() for name in names if name}
    parted: list[tuple[str, str]] = []
    for key, value in preamble:
        name, mark, formula = value.rpartition("=")
        if key.casefold() in known and mark and name.strip() and scale_said(formula) is not None:
            parted += [(key, name.strip()), (key, formula.strip())]
        else:
            parted.append((key, value))
    return tuple(parted)


def _named_by_place(preamble: tuple[tuple[str, str], ...], width: int) -> list[str]:
    """Names that lines above rows without a header give, as "Column 3: MAP [kPa]"; none unless each column has one."""
    named = {int(match[1]): value for key, value in preamble if (match := _PLACE.fullmatch(key)) and value}
    return [named[at] for at in range(1, width + 1)] if all(at in named for at in range(1, width + 1)) else []


_PLACE = re.compile(
    r"(?i)(?:column|col|channel|ch|field|spalte|kanal|colonne|columna|coluna|colonna|kolom|kolumn)\.? ?(\d{1,4})"
)


def _read_preamble(lines: list[Line], delimiter: str) -> tuple[tuple[str, str], ...]:
    pairs: list[tuple[str, str]] = []
    for line in sorted(lines, key=lambda line: line.number):
        text = line.text.strip().lstrip("#;%").removeprefix("//").strip()
        if not text.strip(delimiter + " "):
            continue
        pairs.append(_key_and_value(text, delimiter))
    return tuple(pairs)


def _key_and_value(text: str, delimiter: str) -> tuple[str, str]:
    prose = text[1:-1] if re.fullmatch(r'"[^"]+"', text) else text  # in quotes
    explained = re.fullmatch(r"([^\W\d]\w{0,11}) +[-–—] +([^\W\d].*)", prose)
    if explained:
        return explained.group(1), explained.group(2)
    cells = split_line(text, delimiter)
    if len(cells) >= 2 and cells[0] and not re.search(r"[:=].*[^\s:=]", cells[0]):
        return cells[0].rstrip(": ="), (delimiter + " ").join(cell for cell in cells[1:] if cell).strip()
    match = re.match(r"^([^:=]{1,60}?)\s*[:=]\s*(.*)$", prose, re.DOTALL)
    if match:
        return match.group(1).strip(), match.group(2).strip().strip(delimiter)
    return "", text


_WITH_UNIT = re.compile(r"(.{1,60}?)\s*(?:=|:|->|\[|\()\s*([^=:;]{1,20}?)[\])]?")


def _units_in_a_line(line: str, names: list[str]) -> dict[str, str]:
    """Units that one line states for several columns: ``units: time = s; oil temp = deg C``."""
    if len(line) < 2 or not any(mark in line for mark in ";,|"):
        return {}
    known = {name.casefold() for name in names if name}
    found: dict[str, str] = {}
    for piece in re.split(r"\s*[;,|]\s*", re.sub(r"[{}\"']", "", line)):
        behind = re.split(r"[:=]\s*", piece, maxsplit=1)[-1]
        match = next((one for text in (piece, behind) if (one := _WITH_UNIT.fullmatch(text.strip()))
                      and one[1].casefold() in known), None)  # fmt: skip
        if match and match[1].casefold() in known and is_unit(match[2]):
            found[match[1].casefold()] = match[2]
    return found if len(found) > 1 else {}


def units_from_preamble(preamble: tuple[tuple[str, str], ...], names: list[str]) -> list[str]:
    """Units that the preamble states: one line for each column, or one line for all.

    Parameters
    ----------
    preamble : tuple of pairs
        Key and value of each line.
    names : list of str
        Names of the columns without units.

    Returns
    -------
    list of str
        One for each name; empty where none is stated.
    """
    stated: dict[str, str] = {}
    for key, value in preamble:
        unit = re.sub(r"(?i)^\s*(?:units?\s*[:=]?|(?:ticks?|counts?|steps?)\s+(?:of|in))\s*", "", value).strip(" []()")
        plain_key = re.sub(r"(?i)\s*\b(units?|einheit)\b\s*", " ", key).strip().casefold()
        if unit and is_unit(unit):
            stated[plain_key] = unit
        stated |= _units_in_a_line(f"{key} = {value}" if key else value, names)
        if re.fullmatch(r"(?i)\s*units?\s*", key):
            cells = [cell.strip() for cell in re.split(r"[,;\t|]", value)]
            if len(cells) == len(names) and 2 * sum(is_unit(cell or "-") for cell in cells) >= len(cells):
                return ["" if cell == "-" else cell for cell in cells]
    stated = units_tabled(preamble) | stated
    return [stated.get(name.casefold(), "") for name in names]
