"""Tests can disagree: none takes a number from the code that it tests and holds it up as the truth."""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from pathlib import Path

TESTS = Path(__file__).parent
ROOMS = ("analysis", "published", "demo_logs")
"""Tests of what computes; pages and doors may be asked for their own limits."""


def _numbers_taken(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.ImportFrom) or not (node.module or "").startswith("passband."):
            continue
        for alias in node.names:
            value = getattr(importlib.import_module(node.module or ""), alias.name, None)
            parts = value if isinstance(value, tuple) else (value,)
            if any(isinstance(part, float | int) and not isinstance(part, bool) for part in parts):
                yield f"{path.relative_to(TESTS)}: {alias.name}; write what it should be, with a source or 'planted'"


def test_no_test_takes_a_number_from_the_code_under_test() -> None:
    wrong = [line for room in ROOMS for path in sorted((TESTS / room).rglob("*.py")) for line in _numbers_taken(path)]
    assert wrong == []
