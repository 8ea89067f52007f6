"""How many of a thing there are, in a sentence.

Public: `counted`, `are`, `were`.
"""

from __future__ import annotations


def counted(number: int, what: str) -> str:
    """A number and what it counts.

    Parameters
    ----------
    number : int
        How many.
    what : str
        One of them.

    Examples
    --------
    >>> counted(1, "cell"), counted(3, "cell")
    ('1 cell', '3 cells')
    """
    return f"{number} {what}{'s' if number != 1 else ''}"


def are(number: int) -> str:
    """The verb for so many.

    Parameters
    ----------
    number : int
        How many.
    """
    return "are" if number != 1 else "is"


def were(number: int) -> str:
    """The verb for so many, of what is over.

    Parameters
    ----------
    number : int
        How many.
    """
    return "were" if number != 1 else "was"
