"""How a refusal quotes what it found: the first lines, cut and escaped, in one sentence.

Public: `quoted_start`, `quoted_lines`.
"""

from __future__ import annotations

MOST_SHOWN = 60
"""Characters of a line that a refusal quotes: enough to know the file again, short enough for one sentence."""


def quoted_start(text: str, *, most: int = MOST_SHOWN) -> str:
    r"""The start of a text in quotation marks, with what cannot be printed escaped.

    Parameters
    ----------
    text : str
        Any.
    most : int
        Letters shown at the most.

    Examples
    --------
    >>> print(quoted_start("a\tb\x00"))
    "a\tb\x00"
    """
    cut = text[:most]
    safe = "".join(_printable(letter) for letter in cut)
    return f'"{safe}{"..." if len(text) > most else ""}"'


def _printable(letter: str) -> str:
    if letter.isprintable() and letter not in '"\\':
        return letter
    return {'"': "'", "\\": "\\\\"}.get(letter) or letter.encode("unicode_escape").decode("ascii")


def quoted_lines(lines: list[str], *, most: int = 2) -> str:
    """The first lines that hold anything, quoted.

    Parameters
    ----------
    lines : list of str
        Any; empty ones are passed over.
    most : int
        Lines shown at the most.

    Examples
    --------
    >>> quoted_lines(["", "Dear all,", "see below", "yours"])
    '"Dear all,", "see below", ...'
    """
    held = [line.strip() for line in lines if line.strip()]
    shown = [quoted_start(line) for line in held[:most]]
    return ", ".join(shown + (["..."] if len(held) > most else [])) or "nothing"
