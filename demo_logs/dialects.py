"""Ways in which loggers write their tables as text.

Public: `Dialect`, `DIALECTS`, `write_log`.
"""

from __future__ import annotations

import gzip
import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from passband.demo_logs.loggers import Recording


@dataclass(frozen=True, slots=True)
class Dialect:
    """One way of writing a table."""

    says: str
    """In words."""
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    newline: str = "\n"
    units: str = "brackets"
    """``brackets``, ``parens``, ``row``, ``none``."""
    preamble: tuple[str, ...] = ()
    """Lines before the header; ``{rate}`` and ``{rows}`` are filled in."""
    time: str = "s"
    """``s``, ``ms``, ``hms``, ``none``."""
    time_from: float = 0.0
    """Added to the time column. [s]"""
    time_header: str = "Time"
    quote: bool = False
    """Headers in quotes."""
    trailing: bool = False
    """A delimiter at the end of each line."""
    comment: str = ""
    """Sign in front of the header line."""


DIALECTS: dict[str, Dialect] = {
    "brackets": Dialect("comma, units in brackets, time s, LF, UTF-8"),
    "euro": Dialect("semicolon, decimal comma, units row, Latin-1, CRLF", ";", ",", "cp1252", "\r\n", "row"),
    "tab": Dialect(
        "tab, units row, time s from a large value, CRLF", "\t", newline="\r\n", units="row", time_from=4711.25
    ),
    "pipe": Dialect("pipe, units in parentheses, time ms", "|", units="parens", time="ms", time_header="Timestamp"),
    "preamble": Dialect(
        "comma, preamble of key,value lines, quoted headers, trailing comma",
        quote=True,
        trailing=True,
        preamble=("Recorder,Logbox 4", 'Note,"soft tire, warm track"', "Rate,{rate} Hz", "Rows,{rows}", ""),
        encoding="utf-8-sig",
        newline="\r\n",
    ),
    "rate_only": Dialect(
        "comma, no time column, sample rate in the preamble",
        units="parens",
        time="none",
        preamble=("Car,test car", "Sample Rate,{rate} Hz", "Comment,first outing", ""),
    ),
    "wide": Dialect("UTF-16 with BOM, tab, units row, time h:m:s", "\t", encoding="utf-16", units="row", time="hms"),
    "bare": Dialect("semicolon, decimal comma, no units anywhere, time s", ";", ",", units="none", time_header="t"),
    "hash": Dialect(
        "comma, comment signs, units row, time s", preamble=("# exported table", "# rate {rate}"), units="row"
    ),
}


def write_log(path: Path, recording: Recording, dialect: Dialect, *, compress: bool = False) -> None:
    """Write a recording as text; gzip with no time stamp, so that the same recording gives the same bytes."""
    text = _table(recording, dialect)
    data = text.encode(dialect.encoding)
    if compress:
        packed = io.BytesIO()
        with gzip.GzipFile(filename="", mode="wb", fileobj=packed, compresslevel=9, mtime=0) as out:
            out.write(data)
        data = packed.getvalue()
    path.write_bytes(data)


def _table(recording: Recording, dialect: Dialect) -> str:
    lines = [
        line.format(rate=f"{recording.device.rate_hz:g}", rows=recording.time_s.size).replace(",", dialect.delimiter, 1)
        for line in dialect.preamble
    ]
    heads, units = _heads(recording, dialect)
    end = dialect.delimiter if dialect.trailing else ""
    lines.append(dialect.comment + dialect.delimiter.join(heads) + end)
    if dialect.units == "row":
        lines.append(dialect.delimiter.join(units) + end)
    columns = [] if dialect.time == "none" else [_times(recording, dialect)]
    columns += [
        _cells(values, sensor.digits, dialect.decimal)
        for sensor, values in zip(recording.sensors, recording.columns, strict=True)
    ]
    lines += [dialect.delimiter.join(row) + end for row in zip(*columns, strict=True)]
    return dialect.newline.join(lines) + dialect.newline


def _heads(recording: Recording, dialect: Dialect) -> tuple[list[str], list[str]]:
    heads, units = [], []
    if dialect.time != "none":
        heads.append(dialect.time_header)
        units.append({"s": "s", "ms": "ms", "hms": ""}[dialect.time])
    heads += [sensor.header for sensor in recording.sensors]
    units += [sensor.unit for sensor in recording.sensors]
    around = {"brackets": " [{}]", "parens": " ({})"}.get(dialect.units)
    if around:
        heads = [head + around.format(unit) if unit else head for head, unit in zip(heads, units, strict=True)]
    if dialect.quote:
        heads = [f'"{head}"' for head in heads]
    return heads, units


def _times(recording: Recording, dialect: Dialect) -> list[str]:
    shown = recording.time_s if recording.shown_time_s is None else recording.shown_time_s
    shown = shown + dialect.time_from
    if dialect.time == "ms":
        return _cells(shown * 1e3, 0 if recording.device.rate_hz <= 1000 else 1, dialect.decimal)
    if dialect.time == "hms":
        return [
            f"{int(t // 3600):02d}:{int(t % 3600 // 60):02d}:{t % 60:06.3f}".replace(".", dialect.decimal)
            for t in np.round(shown, 3).tolist()
        ]
    return _cells(shown, 4 if recording.device.rate_hz > 500 else 3, dialect.decimal)


def _cells(values: np.ndarray, digits: int, decimal: str) -> list[str]:
    form = f"{{:.{digits}f}}".format
    texts = ["" if value != value else form(value + 0.0) for value in values.tolist()]
    return [text.replace(".", ",") for text in texts] if decimal == "," else texts
