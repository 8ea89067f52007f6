"""A figure of a result that is None says in its docstring when it is; one that cannot be known is `Unknown` instead."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import passband.analysis.results

FILES = sorted(Path(passband.analysis.results.__file__).parent.glob("*.py"))
SAYS_WHEN = re.compile(r"\bNone (where|until|if|for)\b")


def may_be_none(annotation: ast.expr) -> bool:
    return "None" in {part.strip() for part in ast.unparse(annotation).split("|")}


def fields_of(tree: ast.Module):
    """Each field of each class that may be None, with its docstring."""
    for kind in (node for node in tree.body if isinstance(node, ast.ClassDef)):
        for field, after in zip(kind.body, [*kind.body[1:], None], strict=True):
            if isinstance(field, ast.AnnAssign) and may_be_none(field.annotation):
                said = after.value if isinstance(after, ast.Expr) else None
                yield f"{kind.name}.{ast.unparse(field.target)}", getattr(said, "value", "")


def test_every_field_that_may_be_none_says_when_it_is() -> None:
    found = [one for path in FILES for one in fields_of(ast.parse(path.read_text(encoding="utf-8")))]
    assert len(found) > 10
    assert [name for name, said in found if not SAYS_WHEN.search(" ".join(said.split()))] == []


def test_a_field_without_a_word_of_it_is_found() -> None:
    # Hand
    tree = ast.parse('class A:\n    x: int | None\n    """How many."""\n    y: int | None\n    z: int\n')
    assert list(fields_of(tree)) == [("A.x", "How many."), ("A.y", "")]
