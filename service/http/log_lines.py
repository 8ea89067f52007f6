"""The server's own log: each line that starts at the margin is one event, whatever names and texts stand in it.

As plain text, or each event as a JSON object on one line.

Public: `LineFormatter`, `JsonFormatter`, `log_by_the_line`, `TOLD`.
"""

from __future__ import annotations

import json
import logging
import re
import sys
from datetime import UTC, datetime
from typing import Literal

from passband.analysis.results.plain_values import JsonObject
from passband.service.http.request_ids import request_id

TOLD = "told in the log"
"""Note on an exception that stands in the log already: the server beneath us would tell it once more."""

_CONTROLS = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")


class LineFormatter(logging.Formatter):
    r"""Writes control characters out, so that no name can begin a line of its own; a traceback is set in.

    Examples
    --------
    >>> record = logging.LogRecord("passband", logging.INFO, "", 0, "%s came", ("ecu\nERROR all is lost",), None)
    >>> print(LineFormatter().format(record))
    INFO passband: ecu\x0aERROR all is lost came
    """

    def __init__(self) -> None:
        super().__init__("%(levelname)s %(name)s: %(message)s")

    def formatMessage(self, record: logging.LogRecord) -> str:
        """The line of an event, with the id of the question that it is about."""
        line = _CONTROLS.sub(lambda found: f"\\x{ord(found[0]):02x}", super().formatMessage(record).strip())
        return f"{line} (request {request_id.get()})" if request_id.get() else line

    def formatException(self, ei: object) -> str:
        """A traceback, each line set in."""
        lines = super().formatException(ei).splitlines()  # type: ignore[arg-type]
        return "\n".join(f"    {line}" for line in lines)


class JsonFormatter(logging.Formatter):
    r"""Writes an event as one JSON object in ASCII on one line: ``at, level, logger, text``, then what else is known.

    Also ``request``, the id of the question that it is about; what `entry` of the record says, each under its name;
    ``trace``, a traceback.

    Examples
    --------
    >>> record = logging.LogRecord("passband", logging.INFO, "", 0, "%s came", ("ecu\nERROR all is lost",), None)
    >>> JsonFormatter().format(record).partition("level")[2]
    '": "INFO", "logger": "passband", "text": "ecu\\nERROR all is lost came"}'
    """

    def format(self, record: logging.LogRecord) -> str:
        """The line of an event."""
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        entry: JsonObject = {"at": at, "level": record.levelname, "logger": record.name}
        entry["text"] = record.getMessage()
        if request_id.get():
            entry["request"] = request_id.get()
        entry.update(getattr(record, "facts", {}))
        if record.exc_info:
            entry["trace"] = self.formatException(record.exc_info)
        return json.dumps(entry, default=str)


def _not_given_yet(record: logging.LogRecord) -> bool:
    error = record.exc_info[1] if record.exc_info else None
    return TOLD not in getattr(error, "__notes__", ())


def log_by_the_line(form: Literal["text", "json"] = "text") -> None:
    """Send what the server logs to its error output, one line for each event, as plain text or as JSON."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonFormatter() if form == "json" else LineFormatter())
    handler.addFilter(_not_given_yet)
    logging.basicConfig(level=logging.INFO, handlers=[handler])
    logging.getLogger("alembic.runtime.plugins").setLevel(logging.WARNING)  # six lines of what it has, and none uses
