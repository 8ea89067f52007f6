"""The shape of the house: imports go one way, files and bodies stay short, docstrings say what signatures say."""

from __future__ import annotations

import ast
import importlib
import inspect
import re
import subprocess
from collections.abc import Iterator
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGES = ("analysis", "web", "service", "demo_logs")
MAY_IMPORT = {
    "analysis": {"analysis"},
    "web": {"web", "analysis"},
    "service": {"service", "web", "analysis", "demo_logs"},
    "demo_logs": {"demo_logs", "analysis"},
}
FOREIGN_TO_ANALYSIS = {
    "fastapi", "starlette", "uvicorn", "sqlalchemy", "sqlite3", "http", "urllib", "socket", "requests", "httpx",
    "httpx2", "jinja2", "altair", "subprocess", "tempfile", "shutil", "pathlib", "os", "datetime", "random",
    "threading", "asyncio",
}  # fmt: skip
"""HTTP, disk, clock, chance and drawing: not the business of a pure computation."""
CLOCKS = {"time", "monotonic", "perf_counter", "sleep", "process_time"}

FILE_LINES_MAX = 600
BODY_LINES_MAX = 60
BODY_LINES_TARGET = 25
SHARE_WITHIN_TARGET = 0.9
AFTER_THE_DATA_MAX = 5
DUMPING_GROUNDS = re.compile(r"(utils?|helpers?|common|misc|manager)\.py")


def _sources(*packages: str) -> list[Path]:
    return [path for package in packages for path in sorted((ROOT / package).rglob("*.py"))]


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def _nodes(path: Path) -> tuple[ast.AST, ...]:
    """All of a file's nodes, read and walked once for all tests."""
    return tuple(ast.walk(_tree(path)))


def _imports(path: Path) -> Iterator[str]:
    for node in _nodes(path):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: write imports from the root"
            yield node.module or ""


def _functions(path: Path) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in _nodes(path):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            yield node


def _body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def _house(name: str) -> str:
    """Which of our packages an import is of; empty for others."""
    first, _, rest = name.partition(".")
    return rest.partition(".")[0] if first == "passband" else ""


@pytest.mark.parametrize("package", PACKAGES)
def test_imports_go_one_way(package: str) -> None:
    wrong = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in _sources(package)
        for name in _imports(path)
        if _house(name) in PACKAGES and _house(name) not in MAY_IMPORT[package]
    ]
    assert wrong == []


def test_the_house_has_these_rooms_and_no_stray_file() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("not a checkout")
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    names = {line.partition("/")[0] for line in listed.splitlines()}
    rooms = {"service", "analysis", "web", "tests", "demo_logs"}
    packaging = {"pyproject.toml", "setup.py", "constraints.txt", "Dockerfile"}
    assert {name for name in names if not name.startswith(".")} == rooms | packaging | {"README.md", "DEVELOPERS.md"}


def test_our_packages_go_by_one_name() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in _sources(*PACKAGES, "tests")
        for name in _imports(path)
        if name.partition(".")[0] in PACKAGES
    ]
    assert wrong == []


def _module(path: Path) -> str:
    return ".".join(("passband", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")


def _room(module: str) -> str:
    """The room of its package that a module lies in; rooms of the reading count each for itself."""
    parts = module.split(".")[2:]
    return ".".join(parts[:2]) if parts[0] == "reading" and len(parts) > 2 else parts[0]


LEAST_ROOMS = {"analysis": 15, "web": 7, "service": 13}


@pytest.mark.parametrize("package", LEAST_ROOMS)
def test_rooms_import_in_no_circle(package: str) -> None:
    paths = [path for path in _sources(package) if "front_door" not in path.parts]
    modules = {_module(path) for path in paths} - {f"passband.{package}"}
    needs: dict[str, set[str]] = {}
    for path in paths:
        if (module := _module(path)) in modules:
            rooms = {_room(name) for name in _imports(path) if name in modules}
            needs.setdefault(_room(module), set()).update(rooms - {_room(module)})
    assert len(list(TopologicalSorter(needs).static_order())) > LEAST_ROOMS[package]  # a circle would raise CycleError


def test_analysis_knows_no_http_disk_or_clock() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in _sources("analysis")
        for name in _imports(path)
        if name.split(".")[0] in FOREIGN_TO_ANALYSIS
    ]
    assert wrong == []


def test_analysis_asks_no_clock() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in _sources("analysis")
        for node in _nodes(path)
        if isinstance(node, ast.Attribute)
        and isinstance(node.value, ast.Name)
        and (node.value.id, node.attr) in {("time", clock) for clock in CLOCKS}
    ]
    assert wrong == []


def test_files_are_named_after_a_topic_and_short() -> None:
    paths = [*_sources(*PACKAGES), *_sources("tests")]
    too_long = [
        f"{path.relative_to(ROOT)}: {lines}"
        for path in paths
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > FILE_LINES_MAX
    ]
    assert too_long == []
    assert [path.name for path in paths if DUMPING_GROUNDS.fullmatch(path.name)] == []


def test_no_body_is_long_and_nine_in_ten_are_short() -> None:
    lengths = {
        f"{path.relative_to(ROOT)}:{function.lineno} {function.name}": _body_lines(function)
        for path in _sources(*PACKAGES)
        for function in _functions(path)
    }
    assert {where: lines for where, lines in lengths.items() if lines > BODY_LINES_MAX} == {}
    within = sum(lines <= BODY_LINES_TARGET for lines in lengths.values())
    assert within >= SHARE_WITHIN_TARGET * len(lengths)


MAY_SWALLOW = ("service/reviewing/review_files.py", "BaseException")
"""The one boundary at which any error of a review becomes an answer: an upload's bytes may make any library panic."""


def test_no_body_swallows_every_exception() -> None:
    wrong = [
        (path.relative_to(ROOT).as_posix(), node.type.id if isinstance(node.type, ast.Name) else "")
        for path in _sources(*PACKAGES)
        for node in _nodes(path)
        if isinstance(node, ast.ExceptHandler)
        and (node.type is None or (isinstance(node.type, ast.Name) and node.type.id in ("Exception", "BaseException")))
    ]
    assert wrong == [MAY_SWALLOW]


def _public_functions() -> list[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef]]:
    found = []
    for path in _sources("analysis"):
        tree = _tree(path)
        for node in tree.body:
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)) and not node.name.startswith("_"):
                found.append((f"{path.relative_to(ROOT)}:{node.lineno} {node.name}", node))
    return found


def _findings_beside(annotation: ast.AST | None) -> bool:
    """Whether a type holds a tuple in which several findings stand beside another thing."""
    return annotation is not None and any(
        ast.unparse(node.value) == "tuple"
        and isinstance(node.slice, ast.Tuple)
        and any(re.search(r"\[\W*Finding\b", ast.unparse(part)) for part in node.slice.elts)
        for node in ast.walk(annotation)
        if isinstance(node, ast.Subscript)
    )


@pytest.mark.parametrize(
    ("written", "beside"),
    [
        ("tuple[Log, list[Finding]]", True),
        ("tuple[float, tuple[Finding, ...]] | None", True),
        ("list[tuple[str, Sequence[Finding]]]", True),
        ("tuple[Finding, ...]", False),
        ("dict[str, tuple[Finding, ...]]", False),
        ("Iterator[tuple[str, Finding]]", False),
        ("Log | Unknown", False),
    ],
)
def test_findings_beside_a_thing_are_told_from_findings_alone(written: str, beside: bool) -> None:
    assert _findings_beside(ast.parse(written, mode="eval")) is beside


def _types_told(path: Path) -> Iterator[tuple[str, ast.AST | None]]:
    """Of one file, what each function returns, and what each name at its top stands for."""
    for function in _functions(path):
        yield function.name, function.returns
    for node in _tree(path).body:
        if isinstance(node, ast.Assign):
            yield ast.unparse(node.targets[0]), node.value


def test_results_own_their_findings() -> None:
    beside = {
        f"{path.relative_to(ROOT)}: {name}"
        for path in _sources("analysis")
        for name, annotation in _types_told(path)
        if _findings_beside(annotation)
    }
    assert beside == set()


NO_MEASURE = {"NEWEST"}
"""A number that is a name: the version a library's form has come to."""


def test_a_tests_numbers_are_its_own() -> None:
    """A threshold taken from the code would move with it, and the test could not disagree."""
    taken = [
        f"{path.relative_to(ROOT)}: {alias.name}"
        for path in _sources("tests")
        if "benchmarks" not in path.parts  # which measure and assert nothing
        for node in _nodes(path)
        if isinstance(node, ast.ImportFrom) and _house(node.module or "") in PACKAGES
        for alias in node.names
        if alias.name.isupper()
        and alias.name not in NO_MEASURE
        and isinstance(getattr(importlib.import_module(node.module or ""), alias.name), (int, float))
    ]
    assert taken == []


def _signature(function: ast.FunctionDef | ast.AsyncFunctionDef) -> list[str]:
    given = function.args
    names = [arg.arg for arg in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    if given.vararg:
        names.append(f"*{given.vararg.arg}")
    if given.kwarg:
        names.append(f"**{given.kwarg.arg}")
    return names


def _described(docstring: str) -> list[str]:
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\w[^\n]*\n-{3,}|\Z)", docstring, re.DOTALL | re.MULTILINE)
    heads = re.findall(r"^(\*{0,2}\w[\w*, ]*?) *(?::.*)?$", section.group(1), re.MULTILINE) if section else []
    return [name.strip() for head in heads for name in head.split(",")]


def test_public_functions_of_the_analysis_say_what_they_take() -> None:
    wrong = []
    for where, function in _public_functions():
        docstring = inspect.cleandoc(ast.get_docstring(function) or "")
        if not docstring:
            wrong.append(f"{where}: no docstring")
        elif not docstring.splitlines()[0].endswith((".", "?")):
            wrong.append(f"{where}: the first line is no sentence")
        elif sorted(_described(docstring)) != sorted(_signature(function)) and _described(docstring):
            wrong.append(f"{where}: says {_described(docstring)}, takes {_signature(function)}")
        elif len(_signature(function)) > 1 and not _described(docstring):
            wrong.append(f"{where}: does not say what {_signature(function)} are")
    assert wrong == []


MANY_FILES = 5
"""A room of more files says at its door where to begin."""


def test_a_rooms_door_names_each_of_its_files() -> None:
    unnamed: dict[str, list[str]] = {}
    for door in (path for path in _sources(*PACKAGES) if path.name == "__init__.py"):
        files = [path.stem for path in sorted(door.parent.glob("*.py")) if path != door]
        if len(files) > MANY_FILES and not re.match(r"(migrations|routes)$", door.parent.name):
            said = ast.get_docstring(_tree(door)) or ""
            unnamed[str(door.relative_to(ROOT))] = [name for name in files if f"`{name}`" not in said]
    assert {door: names for door, names in unnamed.items() if names} == {}


def test_a_file_of_the_analysis_says_what_it_is_read_for() -> None:
    """``Public:`` at its top names each public function, and nothing that is not there."""
    wrong = []
    for path in _sources("analysis"):
        said = re.search(r"^Public: (.*?)(?=\n\n|\Z)", ast.get_docstring(_tree(path)) or "", re.DOTALL | re.MULTILINE)
        if said is None or path.name == "__init__.py":
            continue
        names = set(re.findall(r"`(\w+)`", said.group(1)))
        here = {name for name in vars(importlib.import_module(_module(path)))}
        functions = {node.name for node in _tree(path).body if isinstance(node, ast.FunctionDef)}
        left_out = {name for name in functions - names if not name.startswith("_")}
        if names - here or left_out:
            wrong.append(f"{path.relative_to(ROOT)}: not there {names - here}, not named {left_out}")
    assert wrong == []


ROUTES = "service/routes/"
"""A route's parameters are what the framework hands to it: the library, settings, units, each part of the question."""


def test_functions_take_few_things_and_few_settings() -> None:
    """Private ones too, and not only settings: things in a row by place are no shorter for having no names."""
    wrong = [
        f"{path.relative_to(ROOT)}:{function.lineno} {function.name}: {things} and {len(given.kwonlyargs)}"
        for path in _sources(*PACKAGES)
        if ROUTES not in path.as_posix()
        for function in _functions(path)
        for given in (function.args,)
        for things in (len([one for one in (*given.posonlyargs, *given.args) if one.arg not in ("self", "cls")]),)
        if max(things, len(given.kwonlyargs)) > AFTER_THE_DATA_MAX
    ]
    assert wrong == []


UNTYPED = re.compile(r"\b(?:dict|Mapping)\[str, (?:Any|object)\]")
FRAMEWORKS = {
    "service/settings.py", "service/http/slow_clients.py", "service/store/migrating.py",
    "service/store/object_store.py", "service/store/postgres.py",
}  # fmt: skip
"""Where a framework hands in or takes arguments by name."""
NAMED = {"web/drawn/charts.py": "VegaSpec", "service/store/schema.py": "RowValues"}


def test_pages_and_service_hand_on_no_untyped_objects():
    """What is JSON by its nature goes by a name that says so; all else is a dataclass, or a model at the door."""
    found = [
        (str(path.relative_to(ROOT)), line.strip())
        for path in _sources("web", "service")
        for line in path.read_text(encoding="utf-8").splitlines()
        if UNTYPED.search(line)
    ]
    assert [one for one in found if one[0] not in FRAMEWORKS and not one[1].startswith(f"{NAMED.get(one[0])}:")] == []
