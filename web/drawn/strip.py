"""The strip: one lane per run from start to finish line, read by shape, pattern and text as well as by colour.

Public: `strip_svg`, `strips_svg`, `strip_text`.

A lane, from above: limits passed (lettered diamonds); the engine against its band as a skyline (over it: raised,
striped one way; in it: solid; under it: sunk, striped the other way) with each shift a numbered flag; boost at or above
its threshold as a line with gaps; wheelspin as a zigzag; the marks with their elapsed times; the margin of each limit
passed, its dips under the limit filled. The picture stretches to
any width without its letters changing size.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from textwrap import shorten, wrap

import polars as pl

from passband.analysis.results.review import Review
from passband.web.drawn.lane import AT_MARK, Lane, MarginLine, Spot, Stretch, lane_of, scale_ft
from passband.web.wording.units import UnitSystem

# Heights in px. A raised, a sunk and a level block differ by a third of their height, which the eye tells at once.
_FLAGS, _RAISE, _LEVEL, _SINK, _BOOST, _SPIN, _FOOT = 24, 12, 26, 12, 12, 12, 40
_TITLE, _LINE, _MARGIN = 24, 19, 46
_GUTTER = 3.0
"""Blank at either side, so that what stands on the first and the last foot is not cut. [% of the width]"""
_CLOSE = 0.055
"""Flags nearer than this share of the lane would cover each other on a phone: the second goes a row higher. [-]"""
_LETTERS = 39
"""Letters of a line that fit beside each other on a phone 360 px wide. [-]"""
_BLOCKS = {  # where a block of the skyline begins below the lane's top, and how high it is
    "over": (0, _RAISE + _LEVEL),
    "inside": (_RAISE, _LEVEL),
    "under": (_RAISE + _LEVEL - 8, 8 + _SINK),
}


def strip_svg(review: Review, table: pl.DataFrame | None = None, *, units: UnitSystem = "us") -> str:
    """The strip of one run.

    Parameters
    ----------
    review : Review
        Of one run.
    table : polars.DataFrame, optional
        The run's channels, as `analysis.report.as_table` gives them; without them the band is not drawn.
    units : {"us", "metric"}
        For what is told in words.

    Returns
    -------
    str
        One ``<svg>`` element with a title and a description in words; names in it are escaped.
    """
    return strips_svg([review], [table], units=units)


def strips_svg(reviews: list[Review], tables: list[pl.DataFrame | None], *, units: UnitSystem = "us") -> str:
    """The strips of several runs, one above the other, on one scale.

    Parameters
    ----------
    reviews : list of Review
        In the order to be shown.
    tables : list of polars.DataFrame or None
        Their channels; one for each.
    units : {"us", "metric"}
        For what is told in words.

    Returns
    -------
    str
        One ``<svg>`` element.

    Raises
    ------
    ValueError
        If there is no run, or not one table for each.
    """
    if not reviews or len(reviews) != len(tables):
        raise ValueError(f"strips need one table for each run, got {len(reviews)} runs and {len(tables)} tables")
    lanes = [lane_of(review, table, units=units) for review, table in zip(reviews, tables, strict=True)]
    length = scale_ft(lane.length_ft for lane in lanes)
    parts, top = [], 0
    for lane in lanes:
        drawn, height = _draw_lane(lane, length, top=_TITLE if len(lanes) > 1 else 4)
        parts.append(f'<g transform="translate(0 {top})">{drawn}</g>')
        top += height
    parts.append(f'<g transform="translate(0 {top})">{_key()}</g>')
    name = "The strip of " + ", ".join(lane.title for lane in lanes)
    return (
        f'<svg class="strip" xmlns="http://www.w3.org/2000/svg" width="100%" height="{top + 22}" role="img" '
        f'aria-labelledby="strip-title strip-desc" font-family="ui-monospace, monospace" font-size="13">'
        f'<title id="strip-title">{escape(name)}</title>'
        f'<desc id="strip-desc">{escape(" ".join(describe(lane) for lane in lanes))}</desc>'
        f"{_PATTERNS}{''.join(parts)}</svg>"
    )


# Stripes leaning either way, and a zigzag; the line under each keeps its edge seen.
_PATTERNS = (
    '<defs><pattern id="strip-under" width="7" height="7" patternUnits="userSpaceOnUse">'
    '<rect class="s-under-bg" width="7" height="7" fill="#fff"/>'
    '<path class="s-under-ln" d="M-1 8 8 -1M-1 1 1 -1M6 8 8 6" stroke="#8a5a00" stroke-width="2.4"/></pattern>'
    '<pattern id="strip-over" width="7" height="7" patternUnits="userSpaceOnUse">'
    '<rect class="s-over-bg" width="7" height="7" fill="#fff"/>'
    '<path class="s-over-ln" d="M-1 -1 8 8M6 -1 8 1M-1 6 1 8" stroke="#b3261a" stroke-width="3"/></pattern>'
    '<pattern id="strip-spin" width="8" height="10" patternUnits="userSpaceOnUse">'
    '<path class="s-spin-ln" d="M0 9 4 1 8 9" fill="none" stroke="#1b1e24" stroke-width="2"/></pattern>'
    '<pattern id="strip-spun" width="8" height="9" patternUnits="userSpaceOnUse">'
    '<rect class="s-spun-bg" width="8" height="9" fill="#fff"/>'
    '<path class="s-spin-ln" d="M0 8 4 1 8 8" fill="none" stroke="#1b1e24" stroke-width="1.6"/></pattern></defs>'
)
_FILLS = {"inside": "#14578f", "under": "url(#strip-under)", "over": "url(#strip-over)"}

_EDGES = {"under": ' stroke="#8a5a00" stroke-width="1.5"', "over": ' stroke="#b3261a" stroke-width="3"'}


def _draw_lane(lane: Lane, length_ft: float, *, top: int) -> tuple[str, int]:
    beyond = tuple(sorted(lane.passed, key=lambda spot: spot.at_ft))
    rows, beyond_rows = _rows(lane.shifts, length_ft), _rows(beyond, length_ft)
    flags = _FLAGS * (1 + max(rows, default=0))
    passed = _FLAGS * (1 + max(beyond_rows, default=-1))
    sky = top + passed + flags
    boost = sky + _RAISE + _LEVEL + _SINK + 8
    spin = boost + _BOOST + 6
    margins = spin + (_SPIN + 4 if lane.spin else 0)
    foot = margins + _MARGIN * len(lane.margins)
    inner = [
        _marks(lane, length_ft, top=top + passed, bottom=foot),
        f'<rect class="s-ground" y="{sky + _RAISE}" width="100%" height="{_LEVEL}" fill="#0001"/>',
        "".join(_block(stretch, sky, length_ft) for stretch in lane.band),
        "".join(_bar(_SPUN, one, sky + _RAISE, length_ft) for one in lane.spin if lane.band),
        f'<rect class="s-rest" y="{boost + 5}" width="{_pc(lane.length_ft, length_ft)}" height="1.5" fill="#666"/>',
        "".join(_bar(_ON_BOOST, stretch, boost, length_ft) for stretch in lane.boost),
        "".join(_zigzag(stretch, spin, length_ft) for stretch in lane.spin),
        "".join(_margin(line, margins + _MARGIN * n, length_ft) for n, line in enumerate(lane.margins)),
        "".join(_flag(spot, row, sky, length_ft) for spot, row in zip(lane.shifts, rows, strict=True)),
        "".join(_lift(spot, sky, length_ft) for spot in lane.lifts),
        "".join(
            _diamond(spot, top + passed - (row + 0.5) * _FLAGS, length_ft)
            for spot, row in zip(beyond, beyond_rows, strict=True)
        ),
    ]
    said = [f"{spot.sign} outside: {spot.text}" for spot in lane.passed] + [lane.band_text, lane.boost_text]
    said += [f"\N{MULTIPLICATION SIGN} {spot.text}" for spot in lane.shifts if spot.wrong]
    said += [f"\N{BLACK DOWN-POINTING TRIANGLE} {spot.text}" for spot in lane.lifts]
    below = foot + _FOOT
    said_below, words = _said_below([sentence[:1].upper() + sentence[1:] for sentence in said], below)
    title = shorten(f"{lane.title}  {lane.boards}", _LETTERS, placeholder="…")
    head = f'<text class="s-title" y="16" font-weight="bold">{escape(title)}</text>' if top == _TITLE else ""
    body = f'<svg x="{_GUTTER}%" width="{100 - 2 * _GUTTER}%" overflow="visible">{"".join(inner)}</svg>'
    return head + body + said_below, below + _LINE * words + 8


def _said_below(sentences: list[str], below: int) -> tuple[str, int]:
    """Sentences wrapped for a phone, and whole for a page with room, which its style shows instead; lines taken."""
    narrow = [line for sentence in sentences for line in wrap(sentence, _LETTERS)]
    if len(narrow) == len(sentences):
        return _text_lines(narrow, below), len(narrow)
    wide = f'<g class="s-wide" display="none">{_text_lines(sentences, below)}</g>'
    return f'<g class="s-narrow">{_text_lines(narrow, below)}</g>{wide}', len(narrow)


def _text_lines(lines: list[str], below: int) -> str:
    return "".join(f'<text y="{below + _LINE * n + 13}">{escape(line)}</text>' for n, line in enumerate(lines))


def _pc(feet: float, length_ft: float) -> str:
    return f"{100 * feet / length_ft:.3f}%"


def _block(stretch: Stretch, sky: int, length_ft: float) -> str:
    top, height = _BLOCKS[stretch.mark]
    x, width = _pc(stretch.start_ft, length_ft), _pc(stretch.end_ft - stretch.start_ft, length_ft)
    fill = _FILLS[stretch.mark]
    edge = _EDGES.get(stretch.mark, "")
    return (
        f'<rect class="s-{stretch.mark}" x="{x}" y="{sky + top}" width="{width}" height="{height}" '
        f'fill="{fill}"{edge}/>'
    )


@dataclass(frozen=True, slots=True)
class _Bar:
    """How a stretch is filled."""

    name: str
    height: int
    fill: str


_SPUN = _Bar("s-spun", _LEVEL, "url(#strip-spun)")
_SPINS = _Bar("s-spin", _SPIN, "url(#strip-spin)")
_ON_BOOST = _Bar("s-boost", _BOOST, "#1b1e24")


def _bar(bar: _Bar, stretch: Stretch, top: int, length_ft: float) -> str:
    x, width = _pc(stretch.start_ft, length_ft), _pc(stretch.end_ft - stretch.start_ft, length_ft)
    return f'<rect class="{bar.name}" x="{x}" y="{top}" width="{width}" height="{bar.height}" fill="{bar.fill}"/>'


def _zigzag(stretch: Stretch, top: int, length_ft: float) -> str:
    """However short the wheelspin, two teeth show where it began."""
    teeth = '<path class="s-spin-ln" d="M0 10 4 2 8 10 12 2 16 10" fill="none" stroke="#1b1e24" stroke-width="2"/>'
    begun = f'<svg x="{_pc(stretch.start_ft, length_ft)}" y="{top}" overflow="visible">{teeth}</svg>'
    return _bar(_SPINS, stretch, top, length_ft) + begun


def _margin(line: MarginLine, top: int, length_ft: float) -> str:
    """The dashed line is the limit; the margin's own line stretches with the width, but not its thickness."""
    height = _MARGIN - 18
    middle = height / 2
    path = " ".join(f"{1000 * feet / length_ft:.1f} {middle - share * (middle - 1):.1f}" for feet, share in line.points)
    first, last = (1000 * line.points[place][0] / length_ft for place in (0, -1))
    bars = "".join(
        f'<rect class="s-beyond" x="{_pc(one.start_ft, length_ft)}" y="{top + 16 + middle - 4}" '
        f'width="{_pc(one.end_ft - one.start_ft, length_ft)}" height="8" fill="#b3261a"/>'
        for one in line.outside
    )
    name = shorten(f"{line.sign} margin to {line.text}".strip(), _LETTERS - 2, placeholder="…")
    return (
        f'<text class="s-label" x="8" y="{top + 12}" font-size="12" stroke="#fff" stroke-width="5" '
        f'paint-order="stroke">{escape(name[:1].upper() + name[1:])}</text>'
        f'<svg y="{top + 16}" width="100%" height="{height}" viewBox="0 0 1000 {height}" preserveAspectRatio="none">'
        f'<path class="s-limit" d="M0 {middle}H1000" stroke="#1b1e24" stroke-dasharray="4 4" '
        'vector-effect="non-scaling-stroke"/>'
        f'<path class="s-margin" d="M{path}" fill="none" stroke="#1b1e24" stroke-width="1.8" '
        'vector-effect="non-scaling-stroke"/>'
        f'<path class="s-room" d="M{first:.1f} {middle} {path} {last:.1f} {middle}z" fill="#14578f" '
        'fill-opacity=".16"/>'
        f"</svg>{bars}"
    )


def _rows(spots: tuple[Spot, ...], length_ft: float) -> list[int]:
    """The lowest row in which each sign, from the start line on, covers none before it."""
    last: list[float] = []
    rows = []
    for spot in spots:
        row = next((n for n, feet in enumerate(last) if spot.at_ft - feet >= _CLOSE * length_ft), len(last))
        last[row : row + 1] = [spot.at_ft]
        rows.append(row)
    return rows


def _flag(spot: Spot, row: int, sky: int, length_ft: float) -> str:
    height = _FLAGS * (row + 1)
    return (
        f'<svg x="{_pc(spot.at_ft, length_ft)}" y="{sky - height}" overflow="visible">'
        f"<title>{escape(spot.text)}</title>"
        f'<path class="s-pole" d="M0 2V{height + _RAISE + _LEVEL + _SINK}" stroke="#1b1e24" stroke-width="2"/>'
        '<rect class="s-flag" x="-1" y="1" width="17" height="18" fill="#1b1e24"/>'
        f'<text class="s-flag-no" x="7.5" y="15" text-anchor="middle" font-weight="bold" fill="#fff">'
        f"{spot.sign}</text>{_cross(height + _RAISE + 5) if spot.wrong else ''}</svg>"
    )


def _cross(top: int) -> str:
    """Over the engine's block where a shift went wrong, whatever its colour."""
    path = f"M-8 {top}l16 16m0 -16l-16 16"
    return (
        f'<path class="s-wrong" d="{path}" stroke="#fff" stroke-width="7"/>'
        f'<path class="s-wrong-ln" d="{path}" stroke="#b3261a" stroke-width="3.5"/>'
    )


def _lift(spot: Spot, sky: int, length_ft: float) -> str:
    """A triangle hanging from the top of the engine's block: the foot came off, or the limiter held."""
    return (
        f'<svg x="{_pc(spot.at_ft, length_ft)}" y="{sky + _RAISE}" overflow="visible">'
        f"<title>{escape(spot.text)}</title>"
        '<path class="s-lift" d="M-9 -3h18l-9 17z" fill="#fff" stroke="#b3261a" stroke-width="2.5"/></svg>'
    )


def _diamond(spot: Spot, middle: float, length_ft: float) -> str:
    return (
        f'<svg x="{_pc(spot.at_ft, length_ft)}" y="{middle:.0f}" overflow="visible"><title>{escape(spot.text)}</title>'
        '<path class="s-passed" d="M0 -12 12 0 0 12 -12 0z" fill="#b3261a" stroke="#1b1e24" stroke-width="1.5"/>'
        f'<text class="s-passed-no" y="5" text-anchor="middle" font-weight="bold" fill="#fff">{spot.sign}</text></svg>'
    )


def _marks(lane: Lane, length_ft: float, *, top: int, bottom: int) -> str:
    drawn = [f'<path class="s-start" d="M0 {top}V{bottom + 4}" stroke="#1b1e24" stroke-width="3"/>']
    for spot in lane.marks:
        last = spot.at_ft >= AT_MARK * length_ft
        anchor = "end" if last else "middle"
        x = _pc(spot.at_ft, length_ft)
        weight, dash, shift = (3, "", 4) if last else (1, ' stroke-dasharray="2 3"', 0)
        at = f'x="{shift}" text-anchor="{anchor}"'
        drawn.append(
            f'<svg x="{x}" overflow="visible">'
            f'<path class="s-mark" d="M0 {top}V{bottom + 4}" stroke="#1b1e24" stroke-width="{weight}"{dash}/>'
            f'<text y="{bottom + 18}" {at}>{spot.at_ft:,.0f}</text>'
            f'<text class="s-et" y="{bottom + 34}" {at} font-weight="bold">{escape(spot.sign)}</text></svg>'
        )
    return "".join(drawn)


def _key() -> str:
    """The key stands under the lanes: the same blocks, with their words."""
    words = (
        (0, '<rect class="s-inside" y="3" width="16" height="13" fill="#14578f"/>', "in band"),
        (77, '<rect class="s-under" y="7" width="16" height="12" fill="url(#strip-under)" stroke="#8a5a00"/>', "under"),
        (
            140,
            '<rect class="s-over" width="16" height="16" fill="url(#strip-over)" stroke="#b3261a" stroke-width="1"/>',
            "over",
        ),
        (196, '<rect class="s-boost" y="4" width="16" height="12" fill="#1b1e24"/>', "boost"),
        (259, '<rect class="s-spun" y="3" width="16" height="13" fill="url(#strip-spun)"/>', "spin"),
    )
    return "".join(
        f'<svg x="{x}" overflow="visible">{shape}<text x="19" y="15" font-size="12">{word}</text></svg>'
        for x, shape, word in words
    )


def describe(lane: Lane) -> str:
    """A lane in words, for who does not see it.

    Parameters
    ----------
    lane : Lane
        Any.

    Returns
    -------
    str
        Whole sentences: where it left its band, where it was off boost, shifts, wheelspin, limits broken.
    """
    said = [f"{lane.title}: {lane.boards}."]
    outs = [f"{one.mark} from {one.start_ft:,.0f} to {one.end_ft:,.0f} ft" for one in lane.band if one.mark != "inside"]
    said.append(f"{lane.band_text}: {'; '.join(outs) if outs else 'in it all the way' if lane.band else 'unknown'}.")
    ons = [f"{one.start_ft:,.0f} to {one.end_ft:,.0f} ft" for one in lane.boost]
    said.append(f"{lane.boost_text}{': ' + '; '.join(ons) if ons else ''}.")
    spots = (*lane.shifts, *lane.lifts, *(Spot(p.at_ft, p.sign, f"limit broken: {p.text}") for p in lane.passed))
    said += [f"{spot.text}." for spot in spots]
    said += [f"wheelspin from {one.start_ft:,.0f} to {one.end_ft:,.0f} ft." for one in lane.spin]
    return " ".join(sentence[:1].upper() + sentence[1:] for sentence in said)


def strip_text(review: Review, table: pl.DataFrame | None = None, *, units: UnitSystem = "us", width: int = 72) -> str:
    """The strip of one run for a terminal or a plain page.

    Parameters
    ----------
    review, table, units
        As in `strip_svg`.
    width : int
        Columns from start to finish line.

    Returns
    -------
    str
        Lines: shifts by number; band with ``^`` over, ``=`` in, ``_`` under; boost with ``#`` at or above its
        threshold; ``x`` wheelspin; limits by letter; marks and elapsed times.
    """
    lane = lane_of(review, table, units=units)
    length = scale_ft([lane.length_ft])
    signs = {"inside": "=", "under": "_", "over": "^"}
    rows = [("shift", _spots_row(lane.shifts, length, width))]
    if lane.band:
        rows.append(("band", _stretch_row(lane.band, signs, length, width)))
    if lane.boost:
        rows.append(("boost", _stretch_row(lane.boost, {"inside": "#"}, length, width, blank=".")))
    if lane.spin:
        rows.append(("spin", _stretch_row(lane.spin, {"caution": "x"}, length, width)))
    if lane.lifts:
        rows.append(("lift", _spots_row(tuple(Spot(one.at_ft, "v", "") for one in lane.lifts), length, width)))
    if lane.passed:
        rows.append(("limit", _spots_row(lane.passed, length, width)))
    rows.append(("ft", _words_row([(spot.at_ft, spot.text.removesuffix(" ft")) for spot in lane.marks], length, width)))
    rows.append(("ET s", _words_row([(spot.at_ft, spot.sign) for spot in lane.marks], length, width)))
    lines = [f"{name:<6}{row}".rstrip() for name, row in rows]
    said = [f"{spot.sign} outside: {spot.text}" for spot in lane.passed]
    key = "= in band  _ under  ^ over" if lane.band else ""
    lines.append(
        "   ".join(filter(None, (key, "# on boost  . below" if lane.boost else "", "x spin" if lane.spin else "")))
    )
    said += [text for drawn, text in ((lane.band, lane.band_text), (lane.boost, lane.boost_text)) if not drawn]
    lines += [line for sentence in said for line in wrap(sentence, width + 6, subsequent_indent="  ")]
    return "\n".join(line for line in lines if line)


def _column(feet: float, length_ft: float, width: int) -> int:
    return min(max(int(feet / length_ft * width), 0), width - 1)


def _spots_row(spots: tuple[Spot, ...], length_ft: float, width: int) -> str:
    return _words_row([(spot.at_ft, spot.sign) for spot in spots], length_ft, width)


def _stretch_row(
    stretches: tuple[Stretch, ...], signs: dict[str, str], length_ft: float, width: int, *, blank: str = " "
) -> str:
    """Each column shows what held over most of it; a stretch shorter than a column keeps its one sign all the same."""
    row = [blank] * width
    for stretch in sorted(stretches, key=lambda one: one.start_ft - one.end_ft):
        first, last = _column(stretch.start_ft, length_ft, width), _column(stretch.end_ft, length_ft, width)
        for column in range(first, max(last, first + 1)):
            row[column] = signs[stretch.mark]
    return "".join(row)


def _words_row(words: list[tuple[float, str]], length_ft: float, width: int) -> str:
    row = ""
    for feet, word in words:
        column = _column(feet, length_ft, width)
        column = min(column, width - len(word)) if feet >= AT_MARK * length_ft else column
        row = row.ljust(max(column, len(row) + (1 if row else 0))) + word
    return row
