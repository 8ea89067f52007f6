"""Every example in a docstring runs as it stands."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import passband
import passband.analysis
import passband.demo_logs
import passband.service
import passband.web

HOUSE = (passband.analysis, passband.web, passband.service, passband.demo_logs)
MODULES = [
    "passband",
    *(found.name for one in HOUSE for found in pkgutil.walk_packages(one.__path__, f"{one.__name__}.")),
]


@pytest.mark.parametrize("name", [name for name in MODULES if "front_door" not in name])
def test_examples_run(name: str) -> None:
    module = importlib.import_module(name)
    examples = [test for test in doctest.DocTestFinder().find(module) if test.examples]
    runner = doctest.DocTestRunner()
    for test in examples:
        runner.run(test)
    assert runner.summarize(verbose=False).failed == 0
