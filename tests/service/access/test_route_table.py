"""The table of routes, asked of a real service once: nobody gets what they may not have."""

from __future__ import annotations

import sys

from tests.service.access import route_table


def test_nobody_gets_what_they_may_not_have(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["route_table", "--asks", "1"])
    assert route_table.main() == 0
    said = capsys.readouterr().out
    assert "0 answers as they must not be" in said
    assert said.count("401") >= 3 * 40
