"""A run's review as one sheet of A4, drawn: the head, the strip, and all that the printed page says, in two columns.

Drawn as SVG and turned into PDF or pixels by the library that draws our charts: it brings its own letters and needs no
browser and no library of the system's. More lines than usual make smaller print, never a second sheet.

Public: `run_paper`, `as_pdf`, `as_png`, `svg_text`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

import polars as pl

from passband.analysis.results.review import Review
from passband.web.drawn.strip import strip_svg
from passband.web.printed.page import WIDTH
from passband.web.printed.review import print_parts
from passband.web.shown.car import LimitGiven
from passband.web.wording.units import UnitSystem

HEIGHT_OVER_WIDTH = 297 / 210
"""Of A4."""
A4_PT = 595.0, 842.0
"""Width and height of A4. [pt]"""
PIXELS_PER_PT = 150 / 72
"""Of a picture: 150 to the inch."""
HEAD_SIZE = 15.0
"""Size of the head, for reading from across the trailer."""
CHARACTER = 0.6
"""Width of a letter of the typeface, of its size."""
LINE = 1.2
"""Height of a line, of the typeface's size."""
FACE = "Liberation Mono, DejaVu Sans Mono, monospace"
COLUMNS = 2
SIZE = 10.0
"""Size of the print; the sheet is as wide as that asks for."""
EDGE, GUTTER = 36.0, 20.0
STRIP_WIDTH = 1150.0
"""Width in which the strip's letters are as large as the print's."""


def run_paper(
    review: Review, table: pl.DataFrame | None, *, given: Sequence[LimitGiven] = (), units: UnitSystem = "us"
) -> str:
    """A run's sheet.

    Parameters
    ----------
    review : Review
        Of one run.
    table : polars.DataFrame, optional
        The run's channels, for the strip.
    given : sequence of LimitGiven
        The car's limits as written: they are answered in the units they were written in.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        SVG, white ground, of the proportions of A4.
    """
    parts = print_parts(review, units=units, given=given)
    strip = strip_svg(review, table, units=units)
    height = float(re.search(r' height="([\d.]+)"', strip)[1])  # type: ignore[index]
    inner = COLUMNS * WIDTH * CHARACTER * SIZE + GUTTER
    head_height, strip_height = (len(parts.head) + 1) * HEAD_SIZE * LINE, height * inner / STRIP_WIDTH
    blocks = [*parts.sections, parts.foot]
    columns = _in_columns(blocks)
    longest = max(sum(len(block) + 1 for block in column) for column in columns) * SIZE * LINE
    needed = EDGE + head_height + strip_height + longest + EDGE
    width = max(inner + 2 * EDGE, needed / HEIGHT_OVER_WIDTH)
    left = (width - inner) / 2
    drawn = [svg_text(parts.head, left, EDGE + HEAD_SIZE, size=HEAD_SIZE, bold=2)]
    drawn.append(
        f'<svg x="{left:.1f}" y="{EDGE + head_height:.1f}" width="{inner:.1f}" height="{strip_height:.1f}" '
        f'viewBox="0 0 {STRIP_WIDTH:g} {height:g}" font-family="{FACE}" font-size="13">{strip}</svg>'
    )
    top = EDGE + head_height + strip_height + SIZE
    for at, column in enumerate(columns):
        lines = [line for block in column for line in (*block, "")]
        drawn.append(svg_text(lines, left + at * (WIDTH * CHARACTER * SIZE + GUTTER), top))
    view = f'width="{A4_PT[0]:g}" height="{A4_PT[1]:g}" viewBox="0 0 {width:.1f} {width * HEIGHT_OVER_WIDTH:.1f}"'
    ground = '<rect width="100%" height="100%" fill="#fff"/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {view}>{ground}{"".join(drawn)}</svg>'


def as_pdf(svg: str) -> bytes:
    """A sheet as PDF, A4."""
    import vl_convert

    return bytes(vl_convert.svg_to_pdf(svg))


def as_png(svg: str) -> bytes:
    """A sheet in pixels, 150 to the inch."""
    import vl_convert

    return bytes(vl_convert.svg_to_png(svg, scale=PIXELS_PER_PT))


def _in_columns(blocks: Sequence[Sequence[str]]) -> list[list[list[str]]]:
    """Blocks in order, the longest column as short as it can be without parting one."""
    whole = sum(len(block) + 1 for block in blocks)
    best: list[list[list[str]]] = []
    for cut in range(len(blocks) + 1):
        columns = [[list(block) for block in part] for part in (blocks[:cut], blocks[cut:])]
        length = max(sum(len(block) + 1 for block in column) for column in columns)
        if length < whole or not best:
            whole, best = length, columns
    return best


def svg_text(lines: Sequence[str], x: float, y: float, *, size: float = SIZE, bold: int = 0) -> str:
    """Lines of print.

    Parameters
    ----------
    lines : sequence of str
        One below the other; a line in capitals is a heading, and bold.
    x, y : float
        Where the first begins, its base line.
    size : float
        Of the letters.
    bold : int
        How many lines from the first are bold too.

    Returns
    -------
    str
        A group of SVG.
    """
    rows = "".join(
        f'<text x="{x:.1f}" y="{y + at * size * LINE:.1f}" xml:space="preserve"{weight}>{escape(line)}</text>'
        for at, line in enumerate(lines)
        for weight in (' font-weight="bold"' if at < bold or line.isupper() else "",)
        if line
    )
    return f'<g font-family="{FACE}" font-size="{size:g}" fill="#000">{rows}</g>'
