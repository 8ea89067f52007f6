"""What the page's HTML asks for: our own styles and scripts, and the chart library made once and kept.

Public: `STATIC`, `TEMPLATES`, `chart_library`, `chart_script`.

The service serves `STATIC` at ``/static`` and the file that `chart_library` returns at ``/static/charts.js``.
"""

from __future__ import annotations

import os
import threading
from pathlib import Path

STATIC = Path(__file__).parent / "static"
"""Folder of styles and scripts, served as it is."""
TEMPLATES = Path(__file__).parent / "templates"
"""Folder of the page's templates; not served."""

SNIPPET = "window.vegaEmbed = vegaEmbed;"
"""What the library makes known to our scripts: the one function that draws a specification."""

_making = threading.Lock()


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
    start, not at a request. Written beside its place and moved there, so a crash leaves no half of it in place, and
    what it leaves beside is written over by the next call.
    """
    import vl_convert

    versions = f"{vl_convert.get_vega_version()}-{vl_convert.get_vegalite_versions()[-1]}"
    place = cache / f"charts-{versions}.js"
    with _making:
        if place.is_file():
            return place
        cache.mkdir(parents=True, exist_ok=True)
        beside = place.with_suffix(".part")
        try:
            beside.write_text(chart_script(), encoding="utf-8")
            os.replace(beside, place)
        finally:
            beside.unlink(missing_ok=True)
    return place


def chart_script() -> str:
    """The same script without keeping it: for a disk that has no room."""
    import vl_convert

    return str(vl_convert.javascript_bundle(SNIPPET))
