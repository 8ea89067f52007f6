"""Commands that print: a review for the trailer wall, and what was understood of a log.

Public: `Form`, `print_reviews`, `print_log`, `print_json`, `drawn_in`.
"""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import orjson

from passband.analysis.results.plain_values import Stored
from passband.service.commands.printing_doubts import doubts_printed, one_line
from passband.service.given.facts import GivenError, read_car

if TYPE_CHECKING:
    from passband.analysis.channels.log import Log
    from passband.analysis.given.car import Air, Car, Slip
    from passband.analysis.reading.description import ChannelDescription, LogDescription
    from passband.analysis.results.findings import Finding
    from passband.analysis.results.review import Review

Form = Literal["json", "us", "metric"]
"""JSON, or a page in one of the two systems of units."""


def drawn_in(form: Form) -> Literal["us", "metric"]:
    """Units of a picture: those of the page, US customary beside JSON."""
    return "us" if form == "json" else form


def print_reviews(
    paths: Sequence[Path],
    car_given: Stored,
    slips: Sequence[Slip],
    air: Air | None,
    *,
    finish_ft: int,
    as_json: bool,
    units: Literal["us", "metric"] = "us",
) -> int:
    """Review the runs in some logs and print them; below them one line for each finding goes to stderr.

    Parameters
    ----------
    paths : sequence of Path
        The ECU's log, then others.
    car_given : mapping
        The car as the user wrote it.
    slips, air
        The rest of what the user gave.
    finish_ft : int
        Where the finish line is. [ft]
    as_json : bool
        ``{"runs": [...]}`` instead of pages.
    units : {"us", "metric"}
        Units of the pages.

    Returns
    -------
    int
        0.

    Raises
    ------
    LogError
        If the files cannot be read as a run.
    GivenError
        If the car cannot be used.
    OSError
        If a file cannot be opened.

    Notes
    -----
    Beside JSON the lines are in SI as it is, beside pages in their units. Where pages and lines go to the same place,
    as on a terminal, the pages leave the findings to the lines: a reader meets each once. A page on its way to a file
    or a printer holds them too.
    """
    car = read_car(car_given)
    from passband.analysis.reading import read_as_whole, read_log

    logs = []
    for index, path in enumerate(paths):
        with _progress(f"reading {path.name}"):
            logs.append(
                read_log(path.read_bytes(), name=path.name, mapping=car.channels, layouts=car.layouts, index=index)
            )
    logs = read_as_whole(logs, lambda at: paths[at].read_bytes(), mapping=car.channels, layouts=car.layouts)
    from passband.analysis.report import as_table
    from passband.analysis.results.codec import as_json as given_as_json
    from passband.analysis.review import review

    with _progress("reviewing"):
        reviews = review(logs, car, slips, air, finish_ft=finish_ft)
    if as_json:
        print_json({"runs": [given_as_json(one) for one in reviews]})
        _print_findings_of_runs(reviews, str)
        return 0
    from passband.web.printed.review import print_review
    from passband.web.shown.car import limits_given
    from passband.web.wording.prose import in_units

    tables, limits = [as_table(one).frame for one in reviews], limits_given(car_given)
    told = [slip.model_dump() for slip in slips]
    pages = [
        print_review(one, units=units, given=limits, table=table, slip=slip, findings=not _in_one_place())
        for one, table, slip in zip_longest(reviews, tables, told[: len(reviews)])
    ]
    print("\n\n".join(page.rstrip() for page in pages), flush=True)
    _print_findings_of_runs(reviews, lambda text: in_units(text, units))
    return 0


def _in_one_place() -> bool:
    """Whether what is printed and what is said on stderr come before the same reader: one terminal, file or pipe."""
    try:
        return os.path.sameopenfile(sys.stdout.fileno(), sys.stderr.fileno())
    except (OSError, ValueError):  # one of them is no file
        return False


def _print_findings_of_runs(reviews: Sequence[Review], said: Callable[[str], str]) -> None:
    for number, one in enumerate(reviews, start=1):
        _print_findings(one.findings, said, before=f"run {number}: " if len(reviews) > 1 else "")


def print_log(path: Path, car: Car | None, *, as_json: bool, out: Path | None) -> int:
    """Say what was understood of one log, and write it out as understood if asked.

    Parameters
    ----------
    path : Path
        The log.
    car : Car, optional
        The car: what it says of headers is taken.
    as_json : bool
        JSON instead of a table.
    out : Path, optional
        ``.parquet`` or ``.csv`` file to write.

    Returns
    -------
    int
        0.

    Raises
    ------
    LogError
        If the file is no log.
    GivenError
        If `out` ends in something else.
    OSError
        If a file cannot be opened.
    """
    from passband.analysis.given.car import Car
    from passband.analysis.reading import check_between_channels, describe, read_log
    from passband.analysis.reading.description import description_json
    from passband.web.wording.channel_titles import by_title, channel_title

    if out is not None and out.suffix.lower() not in (".parquet", ".csv"):
        raise GivenError(f"--out {out} must end in .parquet or .csv.")
    with _progress(f"reading {path.name}"):
        logs = read_log(
            path.read_bytes(),
            name=path.name,
            mapping=car.channels if car else None,
            layouts=car.layouts if car else None,
        )
        logs = tuple(one for log in logs for one in check_between_channels([log], car or Car(name="no car given")))
    described = describe(logs)
    _print_findings(described.findings, str if as_json else by_title)
    if as_json:
        print_json(description_json(described))
    else:
        print(_log_table(described, channel_title))
        for line in doubts_printed(described.doubts):
            print(line)
    if out is not None:
        with _progress(f"writing {out.name}"):
            _write_out(logs, out)
    return 0


def _write_out(logs: Sequence[Log], out: Path) -> None:
    from passband.analysis.report import log_as_table
    from passband.service.reviewing.tables import as_csv, write_table

    table = log_as_table(logs)
    if out.suffix.lower() == ".csv":
        out.write_bytes(as_csv(table.frame, table.columns))
    else:
        write_table(table, out, exact=True)


def print_json(answer: Any) -> None:
    """Print plain values as one line of JSON."""
    sys.stdout.buffer.write(orjson.dumps(answer, option=orjson.OPT_APPEND_NEWLINE | orjson.OPT_SERIALIZE_NUMPY))
    sys.stdout.buffer.flush()


def _print_findings(findings: Iterable[Finding], said: Callable[[str], str], *, before: str = "") -> None:
    for finding in findings:
        where = f" ({said(finding.where)})" if finding.where else ""
        print(one_line(f"{before}{finding.level}: {said(finding.text)}{where}"), file=sys.stderr)


def _log_table(described: LogDescription, title: Callable[[str], str]) -> str:
    text, time = described.text, described.time
    packed = f", {text.compression}" if text.compression else ""
    names = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe", ".": "point", " ": "blanks"}
    lines = [
        f"text   {text.encoding}{packed}, parted by {names.get(text.delimiter, text.delimiter)}, "
        f"decimal {names.get(text.decimal, text.decimal)}, {text.rows} rows",
        f"time   {time.basis}: {_number(time.first_s)} to {_number(time.last_s)} s, "
        f"{_number(time.rate_hz)} rows a second",
        "",
    ]
    heads = ("header", "channel", "unit", "rate Hz", "samples", "sure", "least", "greatest")
    rows = [heads, *(_channel_cells(channel, title) for channel in described.channels)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(heads))]
    for row in rows:
        left = [cell.ljust(width) for cell, width in zip(row[:3], widths[:3], strict=True)]
        right = [cell.rjust(width) for cell, width in zip(row[3:], widths[3:], strict=True)]
        lines.append("  ".join([*left, *right]).rstrip())
    if any(row[2].endswith(" ?") for row in rows[1:]):
        lines += ["", "?: no unit is written; it was taken from the values."]
    return "\n".join(lines)


def _channel_cells(channel: ChannelDescription, title: Callable[[str], str]) -> tuple[str, ...]:
    return (
        one_line(channel.header),
        one_line(title(channel.channel) if channel.channel else "(its own name)"),
        _unit_shown(channel),
        _number(channel.rate_hz),
        str(channel.samples),
        f"{100 * channel.confidence:.0f} %",
        _number(channel.least_logged),
        _number(channel.greatest_logged),
    )


def _unit_shown(channel: ChannelDescription) -> str:
    """The unit that values were read in; one that is written nowhere with a question mark."""
    written, read = one_line(channel.unit), one_line(channel.unit_read)
    return (read if written else f"{read} ?") if read else "-"


def _number(value: float | None) -> str:
    return "-" if value is None or not math.isfinite(value) else f"{value:.6g}"


@contextmanager
def _progress(doing: str) -> Iterator[None]:
    """Say what is being done, on a terminal only, and wipe it away afterwards."""
    shown = sys.stderr.isatty()
    if shown:
        print(f"\r\x1b[K{doing} ...", end="", file=sys.stderr, flush=True)
    try:
        yield
    finally:
        if shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
