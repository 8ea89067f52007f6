"""Rows that a word processor keeps among marks of its own (rich text), or a forum among marks in brackets.

Public: `plain_of_rich_text`, `in_angle_brackets`.
"""

from __future__ import annotations

import re

_TOKEN = re.compile(
    r"\\'(?P<byte>[0-9a-fA-F]{2})|\\u(?P<letter>-?\d{1,6})\??|\\(?P<word>[a-z]{1,32})(?:-?\d{1,10})? ?|"
    r"\\(?P<sign>[^a-z])|(?P<brace>[{}])|(?P<end>[\r\n]+)|(?P<plain>[^\\{}\r\n]+)"
)
_INSTEAD = {"tab": "\t", "cell": "\t", "par": "\n", "line": "\n", "row": "\n"}
"""What the words of rich text stand for that part rows and cells."""
_UNSEEN = frozenset("fonttbl colortbl stylesheet info pict header footer generator listtable".split())
"""Groups that hold no text of the page."""
_IN_BRACKETS = re.compile(
    r"(?i)\[(/?)(table|thead|tbody|tr|td|th|b|i|u|s|size|color|font|left|right|center)(?:=[^\]\n]{0,60})?\]"
)


def plain_of_rich_text(text: str) -> str | None:
    r"""The text that a file of rich text shows.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    str or None
        Lines parted by line feeds, cells by tabs; None where it is no rich text.

    Examples
    --------
    >>> plain_of_rich_text(r"{\rtf1\ansi{\fonttbl{\f0 Mono;}}\f0 Time\tab Oil [\'b0C]\par 0.1\tab 84\par}")
    'Time\tOil [°C]\n0.1\t84\n'
    """
    if not text.startswith("{\\rtf"):
        return None
    shown: list[str] = []
    depth, unseen_from = 0, 0  # how deep in braces, and from where on nothing is shown
    for match in _TOKEN.finditer(text):
        if match["brace"]:
            depth += 1 if match["brace"] == "{" else -1
            unseen_from = 0 if depth < unseen_from else unseen_from
        elif match["word"] in _UNSEEN or match["sign"] == "*":
            unseen_from = unseen_from or depth
        elif not unseen_from:
            shown.append(_shown(match))
    return "".join(shown)


def _shown(match: re.Match[str]) -> str:
    """What one mark or stretch of rich text shows."""
    if match["byte"]:
        return bytes.fromhex(match["byte"]).decode("cp1252", "replace")
    if match["letter"]:
        return chr(int(match["letter"]) % 0x10000)
    if match["word"]:
        return _INSTEAD.get(match["word"], "")
    if match["sign"]:
        return {"~": " ", "\n": "\n", "\r": "\n", "-": "", "_": "-"}.get(match["sign"], match["sign"])
    return match["plain"] or ""


def in_angle_brackets(text: str) -> str | None:
    """A forum's table as one of a page: ``[tr][td]`` becomes ``<tr><td>``; None where there is none.

    Examples
    --------
    >>> in_angle_brackets("[table][tr][td]RPM[/td][/tr][/table]"), in_angle_brackets("[1, 2]")
    ('<table><tr><td>RPM</td></tr></table>', None)
    """
    if not re.search(r"(?i)\[tr\]\s*\[t[dh]\b", text[:200_000]):
        return None
    return _IN_BRACKETS.sub(r"<\1\2>", text.replace("<", "&lt;"))
