"""The rules of the web content accessibility guidelines, 2.2 AA, as axe tests them.

axe 4.12.1 as its makers give it out (`tests/web/axe-4.12.1`).
"""

from __future__ import annotations

from pathlib import Path

AXE = (Path(__file__).parents[1] / "axe-4.12.1" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
