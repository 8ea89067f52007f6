"""The rows of one table in a dump of a database: what its INSERT statements hold. Nothing is run.

Public: `may_be_a_dump`, `rows_of_sql`.
"""

from __future__ import annotations

import re

FEWEST_ROWS = 3
"""Of a table."""
LOOKED_AT = 4096
"""Letters within which the table is made; a dump has one soon after it begins."""
_BEGINS = re.compile(rb"(?i)\b(?:insert\s+into|create\s+table)\b")
_INSERT = re.compile(r"(?i)\binsert\s+into\s+(?P<table>[^\s(]{1,80})\s*(?P<names>\([^()]*\))?\s*values\s*")
_CREATE = re.compile(
    r"(?i)\bcreate\s+table\s+(?:if\s+not\s+exists\s+)?(?P<table>[^\s(]{1,80})\s*\((?P<columns>[^;]*)\)[^;)]*;"
)
_ROW = re.compile(r"\s*\(([^()]*)\)\s*,?")
_CELL = re.compile(r"'((?:[^']|'')*)'|([^,]+)")
_NO_COLUMN = re.compile(r"(?i)(?:primary|foreign|unique|key|constraint|check|index)\b")


def may_be_a_dump(start: bytes) -> bool:
    """Whether a file may be a dump of a database.

    Parameters
    ----------
    start : bytes
        Where the file begins.
    """
    return _BEGINS.search(start) is not None


def rows_of_sql(text: str) -> list[list[str]] | None:
    r"""The rows of the table that most rows are put into.

    Parameters
    ----------
    text : str
        The whole file.

    Returns
    -------
    list of list of str
        Names first, where the statements or the table's own say them; None where no such table is.

    Examples
    --------
    >>> rows_of_sql("INSERT INTO log (t, rpm) VALUES (0, 900),\n(1, 950), (2, NULL);")
    [['t', 'rpm'], ['0', '900'], ['1', '950'], ['2', '']]
    """
    names: dict[str, list[str]] = {}
    rows: dict[str, list[list[str]]] = {}
    for made in _CREATE.finditer(text[: 4 * LOOKED_AT]):
        columns = [one.strip() for one in re.sub(r"\([^()]*\)", "", made["columns"]).split(",")]
        names[_bare(made["table"])] = [_bare(one.split()[0]) for one in columns if one and not _NO_COLUMN.match(one)]
    for insert in _INSERT.finditer(text):
        table, at = _bare(insert["table"]), insert.end()
        if insert["names"]:
            names[table] = [_bare(one) for one in insert["names"][1:-1].split(",")]
        while (row := _ROW.match(text, at)) is not None:
            rows.setdefault(table, []).append(_cells(row[1]))
            at = row.end()
    table = max(rows, key=lambda one: len(rows[one]), default="")
    held = rows.get(table, [])
    return [names[table], *held] if len(held) >= FEWEST_ROWS and table in names else None


def _bare(name: str) -> str:
    """A name without the marks around it."""
    return name.strip().strip("`\"[]'")


def _cells(row: str) -> list[str]:
    cells = [(one[1] or "").strip() if one[1] is not None else one[2].strip() for one in _CELL.finditer(row)]
    return ["" if cell.casefold() == "null" else cell for cell in cells]
