"""All that must hold, in one command: format, lint, types, tests, doctests. Stops at the first that does not.

python -m tests.check [arguments for pytest]
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
CODE = ("analysis", "web", "service", "demo_logs")
STEPS: tuple[tuple[str, ...], ...] = (
    ("ruff", "format", "--check", "--quiet", *CODE, "tests"),
    ("ruff", "check", "--quiet", *CODE, "tests"),
    ("mypy",),
    ("pytest", "-q", "-n", "2", "--dist", "worksteal", "tests"),
)


def lay_out_for_types() -> None:
    """The folders as one package under `.typed`, by links: installed they are, but no type checker sees the map."""
    package = ROOT / ".typed" / "passband"
    package.mkdir(parents=True, exist_ok=True)
    links = {name: Path("../..") / name for name in CODE}
    links["__init__.py"] = Path("../../analysis/front_door/__init__.py")
    for name, target in links.items():
        if not (package / name).is_symlink():
            (package / name).symlink_to(target)


def main() -> int:
    """Run each step and return the status of the first that fails, else 0."""
    lay_out_for_types()
    for step in STEPS:
        more = sys.argv[1:] if step[0] == "pytest" else []
        print("==", " ".join((*step, *more)), flush=True)
        status = subprocess.run([sys.executable, "-m", *step, *more], cwd=ROOT, check=False).returncode
        if status:
            return status
    return 0


if __name__ == "__main__":
    sys.exit(main())
