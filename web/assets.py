"""What the page's HTML asks for: our own styles and scripts, and the chart library made once and kept.

Public: `STATIC`, `TEMPLATES`, `chart_library`.

The service serves `STATIC` at ``/static`` and the file that `chart_library` returns at ``/static/charts.js``.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

STATIC = Path(__file__).parent / "static"
"""Folder of styles and scripts, served as it is."""
TEMPLATES = Path(__file__).parent / "templates"
"""Folder of the page's templates; not served."""

SNIPPET = "window.vegaEmbed = vegaEmbed;"
"""What the library makes known to our scripts: the one function that draws a specification."""


def chart_library(cache: Path) -> Path:
    """The script that draws charts in the browser: Vega, Vega-Lite and their embedding in one file.

    Parameters
    ----------
    cache : Path
        Folder to keep it in; made where it does not exist.

    Returns
    -------
    Path
        The file, some 900 kB; its name holds the versions, so an update makes a new one.

    Notes
    -----
    Made from an installed package without any network, in about two seconds, by the first call only: at
    start, not at a request. Written beside its place and moved there, so a crash or a second process leaves no
    half of it.
    """
    import vl_convert

    versions = f"{vl_convert.get_vega_version()}-{vl_convert.get_vegalite_versions()[-1]}"
    place = cache / f"charts-{versions}.js"
    if place.is_file():
        return place
    cache.mkdir(parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(prefix="charts-", suffix=".part", dir=cache)
    with os.fdopen(handle, "w", encoding="utf-8") as part:
        part.write(vl_convert.javascript_bundle(SNIPPET))
    os.replace(beside, place)
    return place
