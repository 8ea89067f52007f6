"""An event's sheet on one A4 across: at the left a column a run and a row a figure, beside it faults and notes.

Runs stand side by side and figures below each other, because an event has fewer runs than a run has figures. More runs
than fit side by side go below, and make smaller print.

Public: `event_paper`.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from passband.web.printed.paper import A4_PT, CHARACTER, EDGE, LINE, SIZE, svg_text
from passband.web.sheets.season import Season, SeasonRow

SIDE_BY_SIDE = 16
"""Runs in one block."""
NARROWEST = 8
"""Characters of a column at least."""
BESIDE = 76
"""Characters of a line of what stands beside the table."""
LEAST_WIDTH = 150
"""Characters of the sheet at least: few runs are not drawn larger than reads well."""
TITLE_LINES = 3
"""Lines that a run's name may take."""
HEAD_LINES = 2
GAP = 4
"""Characters between the table and what stands beside it."""


def event_paper(event: str, season: Season) -> str:
    """An event's sheet.

    Parameters
    ----------
    event : str
        Its name.
    season : Season
        Its table, in the reader's units.

    Returns
    -------
    str
        SVG, white ground, of the proportions of A4 lying across.
    """
    blocks = [season.rows[at : at + SIDE_BY_SIDE] for at in range(0, len(season.rows), SIDE_BY_SIDE)]
    tables = [_table(season, range(at * SIDE_BY_SIDE, at * SIDE_BY_SIDE + len(rows))) for at, rows in enumerate(blocks)]
    figures = [line for table in tables for line in (*table, "")]
    words = [line for said in _beside(season) for line in (wrap(said, BESIDE, subsequent_indent="  ") or [""])]
    wide = max(map(len, figures), default=0) + GAP
    inner = max(wide + BESIDE, LEAST_WIDTH) * CHARACTER * SIZE
    long = (max(len(figures), len(words)) + HEAD_LINES) * LINE * SIZE
    across = max(inner + 2 * EDGE, (long + 2 * EDGE) * A4_PT[1] / A4_PT[0])
    left, top = (across - inner) / 2, EDGE + SIZE
    below = top + HEAD_LINES * LINE * SIZE
    drawn = svg_text([event], left, top, size=1.5 * SIZE, bold=1)
    drawn += svg_text(figures, left, below) + svg_text(words, left + wide * CHARACTER * SIZE, below)
    view = f'width="{A4_PT[1]:g}" height="{A4_PT[0]:g}" viewBox="0 0 {across:.1f} {across * A4_PT[0] / A4_PT[1]:.1f}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {view}><rect width="100%" height="100%" fill="#fff"/>{drawn}</svg>'


def _table(season: Season, runs: range) -> list[str]:
    """Lines: the runs' names, then a figure a line."""
    figures = [(column.title, at) for at, column in enumerate(season.columns) if not column.text]
    named = max((len(title) for title, _ in figures), default=0) + 2
    cells = [[season.rows[run].cells[at].text or "–" for run in runs] for _, at in figures]
    wide = max([NARROWEST, *(len(cell) + 2 for row in cells for cell in row)])
    names = [_name(season.rows[run], wide - 2) for run in runs]
    deep = max(map(len, names), default=0)
    head = [[""] * (deep - len(name)) + name for name in names]
    lines = [" " * named + "".join(name[line].rjust(wide) for name in head) for line in range(deep)]
    lines.append("-" * (named + wide * len(runs)))
    return lines + [
        title.ljust(named) + "".join(cell.rjust(wide) for cell in row)
        for (title, _), row in zip(figures, cells, strict=True)
    ]


def _name(row: SeasonRow, wide: int) -> list[str]:
    """A run's name in lines of a column's width; a star marks the best, a diamond one with a fault."""
    mark = "★" if row.best else "◆" if not row.clean else ""
    lines = wrap(row.title, wide, max_lines=TITLE_LINES, placeholder="…") or ["–"]
    return [mark, *lines] if mark else lines


def _beside(season: Season) -> Sequence[str]:
    """What a table of figures cannot hold, a line a run, and the spread of the clean ones."""
    usual = any(row.usual_faults for row in season.rows)
    best, other = ("with no fault but that of most runs", "another") if usual else ("without a fault", "a")
    said = [f"★ the best of those {best}   ◆ {other} fault was found   – not known, or not reached", ""]
    for row in season.rows:
        texts = [
            f"{column.title}: {cell.text}"
            for column, cell in zip(season.columns, row.cells, strict=True)
            if column.text and cell.text
        ]
        limits = f"limits {row.standing.word}" + (f" ({row.standing.counts})" if row.standing.counts else "")
        parts = [
            limits,
            *([f"◆ {row.faults}"] if row.faults else []),
            *([row.engine.rstrip(".")] if row.engine else []),
            *texts,
        ]
        said.append(f"{row.title}: {'; '.join(parts)}")
    return [*said, "", *map(str, season.spreads)]
