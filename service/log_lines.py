"""The server's own log: each line that starts at the margin is one event, whatever names and texts stand in it.

Public: `LineFormatter`, `log_by_the_line`, `TOLD`.
"""

from __future__ import annotations

import logging
import re
import sys

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
        """The line of an event."""
        return _CONTROLS.sub(lambda found: f"\\x{ord(found[0]):02x}", super().formatMessage(record).strip())

    def formatException(self, ei: object) -> str:
        """A traceback, each line set in."""
        lines = super().formatException(ei).splitlines()  # type: ignore[arg-type]
        return "\n".join(f"    {line}" for line in lines)


def _not_given_yet(record: logging.LogRecord) -> bool:
    error = record.exc_info[1] if record.exc_info else None
    return TOLD not in getattr(error, "__notes__", ())


def log_by_the_line() -> None:
    """Send what the server logs to its error output, one line for each event."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(LineFormatter())
    handler.addFilter(_not_given_yet)
    logging.basicConfig(level=logging.INFO, handlers=[handler])
