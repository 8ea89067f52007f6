"""The catalogue of findings says what the code makes: held by walking the code, so that neither can drift."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from passband.analysis.results.catalogue import FINDINGS

ROOT = Path(__file__).parents[3]
PACKAGES = ("analysis", "web", "service", "demo_logs")


def _literals(node: ast.expr) -> set[str]:
    """All texts that an argument may be; empty where it is made at run time."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return {node.value}
    if isinstance(node, ast.IfExp):
        one, other = _literals(node.body), _literals(node.orelse)
        return one | other if one and other else set()
    return set()


@cache
def _calls() -> tuple[tuple[str, set[str], set[str]], ...]:
    return tuple(_walked())


def _walked() -> Iterator[tuple[str, set[str], set[str]]]:
    """Every finding made anywhere: where, its codes, its levels."""
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Finding":
                    given = dict(zip(("code", "level"), node.args, strict=False))
                    given |= {keyword.arg: keyword.value for keyword in node.keywords if keyword.arg}
                    where = f"{path.relative_to(ROOT)}:{node.lineno}"
                    yield where, _literals(given["code"]), _literals(given["level"])


def test_every_finding_says_its_code_and_level_where_it_is_made() -> None:
    # A code that is put together at run time can be looked up nowhere.
    assert len(_calls()) > 100
    assert [where for where, codes, levels in _calls() if not codes or not levels] == []


def test_every_finding_made_is_in_the_catalogue_and_the_other_way_round() -> None:
    made = {code for _, codes, _ in _calls() for code in codes}
    assert made - FINDINGS.keys() == set()
    assert FINDINGS.keys() - made == set()


def test_levels_are_those_of_the_catalogue() -> None:
    made: dict[str, set[str]] = {}
    for _, codes, levels in _calls():
        for code in codes:
            made.setdefault(code, set()).update(levels)
    assert made == {code: set(entry.levels) for code, entry in FINDINGS.items()}


@pytest.mark.parametrize("entry", FINDINGS.values(), ids=FINDINGS.keys())
def test_an_entry_is_told_in_whole_sentences(entry) -> None:
    assert entry.code == entry.code.lower().strip("-") and "_" not in entry.code and " " not in entry.code
    for text in (entry.meaning, entry.to_do):
        assert text[0].isupper() and text.endswith(".")


def test_no_code_is_listed_twice() -> None:
    parts = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "analysis/results").glob("catalogue*.py"))]
    assert sum(part.count("    Entry(") for part in parts) == len(FINDINGS)
