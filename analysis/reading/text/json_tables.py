"""A table in one object of JSON: rows with names, columns with names, or names beside rows.

Public: `rows_of_json`, `SAYS_NOTHING`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

FEWEST_ROWS, FEWEST_COLUMNS = 3, 2
"""Of a table; less is what describes one."""
DEEPEST = 6
"""Objects within objects that are looked into."""
MOST_NAMES = 2000
"""Different names in rows; more is damage."""
MOST_TOLD = 60
"""Single values beside the table that are kept as lines above it: a rate, a name, a date."""
_NAMES = ("name", "channel", "label", "title", "id", "header", "signal")
_UNITS = ("unit", "units", "u", "einheit", "unité", "unite", "unidad", "unidade", "unità", "unita", "eenheid", "enhet")
_VALUES = ("value", "val", "v", "wert", "valeur", "valor", "valore", "waarde", "värde", "verdi")
_MOMENT = re.compile(r"\s*(?:\d{4}-\d\d-\d\d[T ])?(?:\d+(?:\.\d*)?|\d{1,2}:\d\d(?::\d\d(?:[.,]\d+)?)?)Z?\s*")
SAYS_NOTHING = frozenset(
    "props properties data values signals fields channels payload sensors measurements metrics readings".split()
)
"""Names of objects in a row that say nothing of the values in them; of others ("oil") they do."""


@dataclass(frozen=True, slots=True)
class _Table:
    """A table that was found."""

    rows: list[list[str]]
    """Names first."""
    above: list[list[str]]
    """Names and values that stand beside it, outermost first."""


def rows_of_json(text: str) -> list[list[str]] | None:
    """The rows of the largest table in an object or a list of JSON, what is said beside it above them.

    Parameters
    ----------
    text : str
        The whole file.

    Returns
    -------
    list of list of str
        Numbers as they are written; null is an empty cell. None where it is no JSON, or no table is in it.

    Examples
    --------
    >>> rows_of_json('{"rate_hz": 50, "data": {"t": [0, 1, 2], "rpm": [900, 950, 1e3]}}')
    [['rate_hz:', '50'], ['t', 'rpm'], ['0', '900'], ['1', '950'], ['2', '1e3']]
    >>> rows_of_json('[{"t": 0, "oil": {"p": 4}}, {"t": 1, "oil": {"p": null}}, {"t": 2}]')
    [['t', 'oil p'], ['0', '4'], ['1', ''], ['2', '']]
    """
    try:
        whole = json.loads(text, parse_float=str, parse_int=str)
        found = max(_tables(whole, [], 0), key=lambda table: len(table.rows) * len(table.rows[0]), default=None)
    except (ValueError, RecursionError):
        return None
    return None if found is None else [*found.above[:MOST_TOLD], *found.rows]


def _tables(value: Any, above: list[list[str]], depth: int) -> Iterator[_Table]:
    """Every table in a value, and in what it holds."""
    if depth > DEEPEST or not isinstance(value, (dict, list)):
        return
    if isinstance(value, dict):
        told = [[f"{_cell(key)}:", _cell(one)] for key, one in value.items() if _is_plain(one) and one is not None]
        above = [*above, *told[:MOST_TOLD]]
    made = (_by_columns(value), _by_moments(value), _by_series(value), _by_records(value), _by_lists(value))
    for rows in made:
        if rows is not None:
            yield _Table(rows, above)
            return
    if isinstance(value, dict):
        rows = _names_beside(value)
        if rows is not None:
            yield _Table(rows, above)
            return
    for one in value.values() if isinstance(value, dict) else value[:MOST_NAMES]:
        yield from _tables(one, above, depth + 1)


def _is_plain(value: Any) -> bool:
    return value is None or isinstance(value, (str, bool, int, float))


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return " ".join(str(value).split()) if not isinstance(value, bool) else str(value).lower()


def _is_column(value: Any) -> bool:
    return isinstance(value, list) and len(value) >= FEWEST_ROWS and all(map(_is_plain, value))


def _by_columns(value: Any) -> list[list[str]] | None:
    """Names, each with a list of values; those of one length are a table."""
    if not isinstance(value, dict):
        return None
    columns = {key: one for key, one in value.items() if _is_column(one)}
    longest = max(map(len, columns.values()), default=0)
    columns = {key: one for key, one in columns.items() if len(one) == longest}
    return _upright(list(columns), list(columns.values()))


def _upright(names: list[str], columns: list[list[Any]]) -> list[list[str]] | None:
    if len(columns) < FEWEST_COLUMNS:
        return None
    return [[_cell(name) for name in names], *([_cell(one) for one in row] for row in zip(*columns, strict=True))]


def _by_records(value: Any) -> list[list[str]] | None:
    """Objects one after the other, each a row; an object within one gives its name to its values."""
    if not isinstance(value, list) or len(value) < FEWEST_ROWS or not all(isinstance(one, dict) for one in value):
        return None
    flat = [_flat(one) for one in value]
    names = list(dict.fromkeys(name for one in flat for name in one))
    if not FEWEST_COLUMNS <= len(names) <= MOST_NAMES:
        return None
    return [names, *([one.get(name, "") for name in names] for one in flat)]


def _by_moments(value: Any) -> list[list[str]] | None:
    """Objects that are each under the time at which they were."""
    if (
        not isinstance(value, dict)
        or len(value) < FEWEST_ROWS
        or not all(isinstance(one, dict) for one in value.values())
    ):
        return None
    if not all(_MOMENT.fullmatch(key) for key in value):
        return None
    return _by_records([{"time": key, **one} for key, one in value.items()])


def _flat(record: dict[str, Any], depth: int = 0) -> dict[str, str]:
    plain: dict[str, str] = {}
    for name, value in record.items():
        if isinstance(value, dict) and (measured := _measured(name, value)):
            plain |= measured
            continue
        if isinstance(value, dict) and depth < DEEPEST:
            inside = _flat({key: one for key, one in value.items() if isinstance(one, dict)}, depth + 1)
            group = "" if str(name).lower() in SAYS_NOTHING else name
            plain |= {_cell(f"{group} {inner}"): one for inner, one in inside.items()}
        within = value.items() if isinstance(value, dict) else [("", value)]
        group = "" if str(name).lower() in SAYS_NOTHING and isinstance(value, dict) else name
        plain |= {_cell(f"{group} {inner}"): _cell(one) for inner, one in within if _is_plain(one)}
    return plain


def _measured(name: str, value: dict[str, Any]) -> dict[str, str]:
    """A value with its unit beside it, under its name and unit; empty where an object holds something else."""
    lower = {str(key).lower(): one for key, one in value.items()}
    unit = next((lower[key] for key in _UNITS if key in lower), None)
    numbers = [lower[key] for key in _VALUES if key in lower]
    if len(lower) != 2 or not isinstance(unit, str) or len(numbers) != 1 or not _is_plain(numbers[0]):
        return {}
    return {_cell(f"{name} [{unit}]" if unit else name): _cell(numbers[0])}


def _by_series(value: Any) -> list[list[str]] | None:
    """Objects of which each describes one column: its name, its unit and a list of its values."""
    if isinstance(value, dict) and all(isinstance(one, dict) for one in value.values()):
        value = [{"name": key, **one} for key, one in value.items()]
    if not isinstance(value, list) or len(value) < FEWEST_COLUMNS or not all(isinstance(one, dict) for one in value):
        return None
    names, columns = [], []
    for one in value:
        lower = {str(key).lower(): inner for key, inner in one.items()}
        name = next((lower[key] for key in _NAMES if isinstance(lower.get(key), str)), "")
        unit = next((lower[key] for key in _UNITS if isinstance(lower.get(key), str)), "")
        lists = [inner for inner in one.values() if _is_column(inner) or _are_points(inner)]
        if not name or len(lists) != 1:
            return None
        names.append(f"{name} [{unit}]" if unit else name)
        columns.append(lists[0])
    if all(map(_are_points, columns)):
        return _beside_each_other(names, columns)
    if any(map(_are_points, columns)) or len(set(map(len, columns))) != 1:
        return None
    return _upright(names, columns)


def _are_points(value: Any) -> bool:
    """Whether a list holds pairs of a time and a value."""
    if not isinstance(value, list) or len(value) < FEWEST_ROWS:
        return False
    return all(isinstance(one, list) and len(one) == 2 and all(map(_is_plain, one)) for one in value)


def _beside_each_other(names: list[str], columns: list[list[Any]]) -> list[list[str]]:
    """Each column behind one of its own times, the shorter ones blank at their ends."""
    heads = [head for at, name in enumerate(names, start=1) for head in (f"Time {at}", name)]
    rows = zip_longest(*columns, fillvalue=("", ""))
    return [heads, *([_cell(one) for pair in row for one in pair] for row in rows)]


def _by_lists(value: Any) -> list[list[str]] | None:
    """Lists one after the other, of which the first holds the names."""
    if not _is_grid(value) or not all(isinstance(name, str) for name in value[0]) or _are_numbers(value[0]):
        return None
    return [[_cell(one) for one in row] for row in value]


def _is_grid(value: Any) -> bool:
    return (
        isinstance(value, list)
        and len(value) >= FEWEST_ROWS
        and all(isinstance(row, list) and all(map(_is_plain, row)) for row in value)
        and len(value[0]) >= FEWEST_COLUMNS
    )


def _are_numbers(cells: list[Any]) -> bool:
    return any(str(cell).replace(".", "", 1).lstrip("-").isdecimal() for cell in cells)


def _names_beside(value: dict[str, Any]) -> list[list[str]] | None:
    """Rows beside a list of as many names, and perhaps one of as many units."""
    grid = max((one for one in value.values() if _is_grid(one)), key=len, default=None)
    if grid is None:
        return None
    width = len(grid[0])
    lists = {str(key).lower(): one for key, one in value.items() if isinstance(one, list) and len(one) == width}
    words = {key: [_name_of(one) for one in held] for key, held in lists.items()}
    words = {key: held for key, held in words.items() if all(isinstance(one, str) for one in held)}
    units = next((words[key] for key in _UNITS if key in words), [])
    names = next((held for key, held in words.items() if key not in _UNITS and all(held)), None)
    if names is None or _are_numbers(names):
        return None
    heads = [f"{name} [{unit}]" if unit else str(name) for name, unit in zip_longest(names, units, fillvalue="")]
    return [heads, *([_cell(one) for one in row] for row in grid)]


def _name_of(one: Any) -> Any:
    """A name, or that of an object which describes a column."""
    if not isinstance(one, dict):
        return one
    name = next((one[key] for key in _NAMES if isinstance(one.get(key), str)), None)
    unit = next((one[key] for key in _UNITS if isinstance(one.get(key), str)), "")
    return f"{name} [{unit}]" if name and unit else name
