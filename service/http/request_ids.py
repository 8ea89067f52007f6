"""The id of the question that is being answered: in its answer, in its problem, and in each line of the log about it.

Public: `request_id`, `new_request_id`, `taken_or_new`, `path_for_log`, `REQUEST_ID`.
"""

from __future__ import annotations

import re
import secrets
from contextvars import ContextVar

REQUEST_ID = "X-Request-Id"
"""The header that brings an id and takes it back."""

request_id: ContextVar[str] = ContextVar("request_id", default="")
"""Empty outside of a question; threads that work for one have it too."""

_VALID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}", re.ASCII)
_KEY_IN_PATH = re.compile(r"(?<=^/join/).+")


def new_request_id() -> str:
    """An id that nobody else has: 16 hexadecimal digits."""
    return secrets.token_hex(8)


def taken_or_new(brought: str) -> str:
    r"""The id that a client or proxy brought, if it can be one.

    Parameters
    ----------
    brought : str
        As sent; anything.

    Returns
    -------
    str
        It, if it is 1 to 64 letters, digits, dots, dashes and underlines, the first a letter or digit; else a new one.

    Examples
    --------
    >>> taken_or_new("proxy-7.1"), taken_or_new("7\nERROR") == "7\nERROR"
    ('proxy-7.1', False)
    """
    return brought if _VALID.fullmatch(brought) else new_request_id()


def path_for_log(path: str) -> str:
    """A path as the log may show it: the key of an invitation is left out.

    Examples
    --------
    >>> path_for_log("/join/s3cret"), path_for_log("/runs/5")
    ('/join/...', '/runs/5')
    """
    return _KEY_IN_PATH.sub("...", path)
