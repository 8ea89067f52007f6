"""The plain page that every printed answer stands on: 80 columns, nothing that a terminal would act on.

Public: `WIDTH`, `page`, `sentences`, `printable`.
"""

from __future__ import annotations

from collections.abc import Iterable
from textwrap import wrap

from passband.analysis.results.findings import Finding
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem

WIDTH = 80
"""Columns of the page: what a terminal and a sheet of paper both hold."""


def page(lines: Iterable[str]) -> str:
    """Lines as one text, each ended, no blanks behind any."""
    return printable("\n".join(line.rstrip() for line in lines) + "\n")


def printable(text: str) -> str:
    """A text without what a terminal would act on: names come from files."""
    return "".join(letter if letter == "\n" or letter.isprintable() else "?" for letter in text)


def sentences(findings: Iterable[Finding], *, units: UnitSystem = "metric") -> list[str]:
    """What was found, each by its level, in the reader's units, an empty line above; nothing where nothing was."""
    told = [f"{one.level}: {in_units(one.text, units)}".replace("±", "+- ").replace("−", "-") for one in findings]
    lines = [line for text in told for line in wrap(text, WIDTH, subsequent_indent="  ")]
    return ["", *lines] if lines else []
