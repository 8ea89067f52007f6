"""A table of a run, written in any of the dialects that loggers use. Ground truth for the reader's tests."""

from __future__ import annotations

import gzip
import io
import zipfile
from dataclasses import dataclass, field, replace

import numpy as np

BLANK = ""


@dataclass(frozen=True)
class Dialect:
    """How a table is put into bytes."""

    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    line_end: str = "\n"
    units: str = "brackets"
    """brackets, parentheses, comma, slash, row, row in brackets, preamble, nowhere."""
    preamble: tuple[str, ...] = ()
    quoted_header: bool = False
    quoted_cells: bool = False
    trailing: bool = False
    time: str = "s"
    """s, ms, us, ns, h:m:s, iso, iso zone, counter, none."""
    rate_hz: float = 100.0
    start_s: float = 0.0
    compression: str = ""
    last_line_end: bool = True
    padded: bool = False


@dataclass(frozen=True)
class Sheet:
    """The truth: names, units and printed cells."""

    names: tuple[str, ...]
    units: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    """Rows of cells printed with a decimal point; an empty cell is blank."""

    def column(self, name: str) -> np.ndarray:
        """What is printed, as numbers; blanks left out."""
        at = self.names.index(name)
        return np.array([float(row[at]) for row in self.cells if row[at] != BLANK])


@dataclass(frozen=True)
class Written:
    """Bytes, and where things stand in them."""

    data: bytes
    header_line: int
    units_line: int | None = None
    times_s: np.ndarray = field(default_factory=lambda: np.empty(0))


def write(sheet: Sheet, dialect: Dialect) -> Written:
    """Put a sheet into bytes."""
    lines = [line.replace("{d}", dialect.delimiter) for line in dialect.preamble]
    names, units = list(sheet.names), list(sheet.units)
    times = np.arange(len(sheet.cells)) / dialect.rate_hz
    if dialect.time == "none":
        lines.append(f"Sample Rate{dialect.delimiter}{_number(f'{dialect.rate_hz:g}', dialect)} Hz")
    else:
        if dialect.time == "counter":
            lines.append(f"Sample Rate: {dialect.rate_hz:g} Hz")
        names.insert(0, "Sample" if dialect.time == "counter" else "Time")
        units.insert(0, dialect.time if dialect.time in ("s", "ms", "us", "ns") else "")
    if dialect.units == "preamble":
        lines += [f"{name} unit: {unit}" for name, unit in zip(names, units, strict=True) if unit]
    header = [_heading(name, unit, dialect) for name, unit in zip(names, units, strict=True)]
    lines.append(_row([_in_quotes(cell, dialect) for cell in header], dialect))
    header_line = len(lines)
    if dialect.units.startswith("row"):
        inner = [f"[{unit}]" if dialect.units == "row in brackets" and unit else unit for unit in units]
        lines.append(_row([_in_quotes(cell, dialect) for cell in inner], dialect))
    for at, cells in enumerate(sheet.cells):
        shown = [_number(cell, dialect) for cell in cells]
        if dialect.time != "none":
            shown.insert(0, _time(at, dialect))
        lines.append(_row([_cell(cell, dialect) for cell in shown], dialect))
    text = dialect.line_end.join(lines) + (dialect.line_end if dialect.last_line_end else "")
    units_line = header_line + 1 if dialect.units.startswith("row") else None
    return Written(_packed(_encoded(text, dialect.encoding), dialect.compression), header_line, units_line, times)


def _heading(name: str, unit: str, dialect: Dialect) -> str:
    forms = {
        "brackets": f"{name} [{unit}]",
        "parentheses": f"{name} ({unit})",
        "comma": f"{name}, {unit}",
        "slash": f"{name} / {unit}",
    }
    return forms.get(dialect.units, name) if unit else name


def _in_quotes(cell: str, dialect: Dialect) -> str:
    return f'"{cell}"' if dialect.quoted_header or dialect.delimiter in cell else cell


def _cell(cell: str, dialect: Dialect) -> str:
    if dialect.quoted_cells and cell:
        return f'"{cell}"'
    return f"  {cell}" if dialect.padded else cell


def _row(cells: list[str], dialect: Dialect) -> str:
    return dialect.delimiter.join(cells) + dialect.delimiter * dialect.trailing


def _number(cell: str, dialect: Dialect) -> str:
    return cell.replace(".", dialect.decimal)


def _time(at: int, dialect: Dialect) -> str:
    seconds = dialect.start_s + at / dialect.rate_hz
    if dialect.time == "counter":
        return str(at)
    if dialect.time in ("h:m:s", "iso", "iso zone"):
        hours, rest = divmod(round(seconds * 1000), 3_600_000)
        minutes, millis = divmod(rest, 60_000)
        clock = f"{hours:02d}:{minutes:02d}:{millis // 1000:02d}.{millis % 1000:03d}"
        date = {"h:m:s": "", "iso": "2026-05-01T", "iso zone": "2026-05-01T"}[dialect.time]
        return date + clock + ("+02:00" if dialect.time == "iso zone" else "")
    scale = {"s": 1.0, "ms": 1e3, "us": 1e6, "ns": 1e9}[dialect.time]
    text = f"{seconds:.3f}" if dialect.time == "s" else f"{seconds * scale:.0f}"
    return _number(text, dialect)


def _encoded(text: str, encoding: str) -> bytes:
    if encoding in ("utf-16-le", "utf-16-be"):
        return "\ufeff".encode(encoding) + text.encode(encoding)
    return text.encode(encoding)


def _packed(data: bytes, compression: str) -> bytes:
    if compression == "gzip":
        return gzip.compress(data, mtime=0)
    if compression == "zip":
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("run.csv", data)
        return buffer.getvalue()
    return data


def a_run(rows: int = 400, *, seed: int = 1, rate_hz: float = 100.0) -> Sheet:
    """A plausible short run: idle, launch, one shift."""
    rng = np.random.default_rng(seed)
    time = np.arange(rows) / rate_hz
    going = np.clip(time - 0.25 * time[-1], 0, None)
    rpm = 950 + 5000 * np.tanh(going) + 25 * rng.standard_normal(rows)
    speed = 3.6 * 9.0 * going
    pressure = 35 + 180 * np.tanh(going) + rng.standard_normal(rows)
    columns = {
        ("Engine Speed", "rpm"): [f"{value:.0f}" for value in rpm],
        ("Throttle", "%"): [
            f"{value:.1f}" for value in np.clip(100 * np.tanh(3 * going), 0.8, 99.8) + 0.1 * rng.random(rows)
        ],
        ("Manifold Pressure", "kPa"): [f"{value:.1f}" for value in pressure],
        ("Coolant Temp", "°C"): [f"{value:.1f}" for value in 74 + 0.1 * rng.standard_normal(rows)],
        ("Driven Wheel Speed", "km/h"): [f"{value:.2f}" for value in speed],
        ("Nitrous Bottle", "bar"): [f"{value:.3f}" for value in 60 - 0.5 * going + 0.01 * rng.standard_normal(rows)],
    }
    names, units = zip(*columns, strict=True)
    return Sheet(names, units, tuple(zip(*columns.values(), strict=True)))


def with_blanks(sheet: Sheet, name: str, every: int) -> Sheet:
    """The same with one channel at a lower rate: blank on all rows but every so many."""
    at = sheet.names.index(name)
    cells = tuple(
        tuple(BLANK if column == at and row % every else cell for column, cell in enumerate(cells))
        for row, cells in enumerate(sheet.cells)
    )
    return replace(sheet, cells=cells)
