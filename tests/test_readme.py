"""The README tells the truth: its commands are those that run, its examples can be used as they stand."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

from passband.service.app import create_app
from passband.service.given.facts import read_car
from passband.service.settings import read_settings

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


def test_two_commands_of_one_line_do_all_set_up():
    first, second = (block.splitlines() for block in blocks("sh")[:2])
    assert len(first) == len(second) == 1
    for line in (first[0], second[0]):
        assert line.startswith("python3 -m venv .venv && .venv/bin/python -m pip install ")
    assert first[0].endswith("passband demo") and second[0].endswith("-m tests.check")


def test_the_submission_check_runs_the_readmes_own_command():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    extract = re.search(r"sed -n '([^']+)' README\.md", script)
    found = subprocess.run(
        ["sed", "-n", extract.group(1), "README.md"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert found.stdout == blocks("sh")[1]
    assert "tests.check" not in script


def test_the_car_of_the_readme_can_be_used_as_it_stands():
    car = read_car(tomllib.loads(blocks("toml")[0]))
    assert car.mass == pytest.approx(1111.3013, abs=1e-3)  # hand: 2450 lb
    assert [limit.during for limit in car.limits] == ["run", "run", "staging", "run", "run"]
    assert car.limits[-1].at_most == "80 degC"


def test_every_address_of_the_readme_is_there(tmp_path):
    routes = create_app(read_settings({}, data=tmp_path)).openapi()["paths"]
    patterns = [re.compile(re.sub(r"\{\w+\}", "[^/]+", path)) for path in routes]
    named = re.findall(r"\$here(/api[\w/-]*)", README)
    assert len(named) > 8
    assert [path for path in named if not any(pattern.fullmatch(path) for pattern in patterns)] == []


def test_no_exact_version_stands_outside_the_ranges_allowed():
    allowed = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = [*allowed["dependencies"], *allowed["optional-dependencies"]["test"]]
    exact = dict(line.split("==") for line in (ROOT / "constraints.txt").read_text().splitlines() if "==" in line)
    exact = {name.lower().replace("_", "-"): tuple(map(int, re.findall(r"\d+", v)[:3])) for name, v in exact.items()}
    for requirement in wanted:
        name, least, below = re.match(r"([\w-]+)>=([\d.]+),<([\d.]+)$", requirement).groups()
        assert tuple(map(int, least.split("."))) <= exact[name.lower()] < tuple(map(int, below.split("."))), requirement
