"""What the page's HTML asks for: our own styles and scripts, named by what they hold, so that a browser may keep them.

Public: `STATIC`, `TEMPLATES`, `STAMP`, `stamped`.

The service serves `STATIC` at ``/static`` and, for a year, at ``/static/STAMP``. The stamp is one of all files
together: scripts ask for each other by their plain names, beside themselves, so each stays as it was written.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

STATIC = Path(__file__).parent / "static"
"""Folder of styles and scripts, served as it is."""
TEMPLATES = Path(__file__).parent / "templates"
"""Folder of the page's templates; not served."""


def _stamp(folder: Path) -> str:
    whole = hashlib.sha256()
    for path in sorted(folder.iterdir()):
        whole.update(f"{path.name}\n{path.stat().st_size}\n".encode())
        whole.update(path.read_bytes())
    return whole.hexdigest()[:16]


STAMP = _stamp(STATIC)
"""What all files hold, in sixteen characters: another as soon as one of them is another."""


def stamped(page: str) -> str:
    """A page that asks for files by the stamp.

    Parameters
    ----------
    page : str
        HTML of our templates; what users wrote holds no bare quotation mark there.

    Returns
    -------
    str
        HTML.

    Examples
    --------
    >>> stamped('<link href="/static/icon.svg">') == f'<link href="/static/{STAMP}/icon.svg">'
    True
    """
    return page.replace('="/static/', f'="/static/{STAMP}/')
