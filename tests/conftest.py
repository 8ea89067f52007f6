"""Options that make long tests of short ones, and one thread for linear algebra, as the command line has it."""

from __future__ import annotations

import os
import sys

import pytest

from passband.service.reviewing.threads import one_algebra_thread

one_algebra_thread()  # before a test imports numpy: on busy cores its threads wait for each other

# Some eighty processes start here, and each would compile the whole package anew where nothing is to be kept: 2 s.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--fuzz-count", type=int, default=60, help="damaged pairs of logs that are reviewed; the counts are printed"
    )
    parser.addoption("--read-fuzz-count", type=int, default=300, help="mutated logs that are read; likewise")
    parser.addoption(
        "--records", choices=("sqlite", "postgresql"), default="sqlite",
        help="where services of the tests keep their rows; postgresql starts a server of this machine's own packages",
    )  # fmt: skip
