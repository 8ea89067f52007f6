"""Options that make long tests of short ones."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--fuzz-count", type=int, default=60, help="damaged pairs of logs that are reviewed; the counts are printed"
    )
