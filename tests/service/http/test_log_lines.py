"""The server's own log: a line is an event."""

from __future__ import annotations

import logging
import sys

import passband.service.http.log_lines
from passband.service.http.log_lines import TOLD, LineFormatter


def written(text: str, error: object = None) -> str:
    return LineFormatter().format(logging.LogRecord("passband", logging.ERROR, "", 0, "%s came", (text,), error))


def test_no_name_begins_a_line_of_its_own():
    said = written("ecu.csv\r\nINFO passband: all is well\x1b[2J\u2028more")
    assert said == "ERROR passband: ecu.csv\\x0d\\x0aINFO passband: all is well\\x1b[2J\\x2028more came"


def test_a_traceback_is_set_in_under_its_line():
    try:
        raise RuntimeError("broken\nINFO passband: all is well")
    except RuntimeError:
        lines = written("x", sys.exc_info()).split("\n")
    assert lines[0] == "ERROR passband: x came" and len(lines) > 3
    assert all(line.startswith("    ") for line in lines[1:])


def test_what_is_in_the_log_is_not_told_again(monkeypatch, capsys):
    monkeypatch.setattr(logging.getLogger(), "handlers", [])
    for name in ("uvicorn", "uvicorn.error"):  # a server of another test may have kept its lines to itself
        monkeypatch.setattr(logging.getLogger(name), "propagate", True)
        monkeypatch.setattr(logging.getLogger(name), "disabled", False)
    passband.service.http.log_lines.log_by_the_line()
    for note in ("", TOLD):
        error = RuntimeError("broken")
        error.add_note(note)
        logging.getLogger("uvicorn.error").error("an error %r", note, exc_info=error)
    said = capsys.readouterr().err
    assert "an error ''" in said and TOLD not in said
