"""The service held against what it says of itself, by a generator of questions that we do not write ourselves.

python -m tests.benchmarks.described --generator PATH/TO/schemathesis [--examples 200] [--seed 1] [its other options]

Schemathesis wants an environment of its own (``python3 -m venv generator && generator/bin/pip install schemathesis``);
the project does not depend on it. A server of our own gets the demo weekend, so that half of all questions are of runs
and cars that are there; then all checks run in all phases. Exit 0 where nothing was found and the log has no traceback.

Some answers are no fault: 413 of what is too much; 404 of what is not there; to well-formed questions 415 and 422 of
what is sent, since no schema can say that bytes are a log of a run, a text of the right unit and size, that times rise.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import tomllib
import urllib.request
from pathlib import Path
from typing import Any
from uuid import uuid4

import passband.demo_logs
from tests.benchmarks.slow_clients import served

WEEKEND = Path(passband.demo_logs.__file__).parent / "weekend"
CONFIG = """
continue-on-failure = true

[dictionaries]
runs = {{ values = {runs} }}
cars = {{ values = {cars} }}
events = {{ values = {events} }}
channels = {{ values = ["engine_speed", "boost", "speed_mps"] }}

[parameters]
"path.run_id" = {{ dictionary = "runs", probability = 0.5 }}
"path.car_id" = {{ dictionary = "cars", probability = 0.5 }}
"path.name" = {{ dictionary = "events", probability = 0.5 }}
"query.car" = {{ dictionary = "cars", probability = 0.3 }}
"query.event" = {{ dictionary = "events", probability = 0.3 }}
"body.car" = {{ dictionary = "cars", probability = 0.8 }}
"query.after" = {{ dictionary = "runs", probability = 0.5 }}

[[operations]]
include-path = ["/api/compare", "/api/overlay"]
parameters = {{ "query.runs" = {two} }}

[[operations]]
include-method = ["POST", "PUT", "PATCH"]
checks.positive_data_acceptance.expected-statuses = ["2xx", "404", "415", "422"]
checks.negative_data_rejection.expected-statuses = ["400", "403", "404", "405", "408", "413", "415", "422"]
"""


def ask(address: str, body: bytes, kind: str) -> dict[str, Any]:
    """Answer to something sent."""
    request = urllib.request.Request(address, body, {"Content-Type": kind})
    with urllib.request.urlopen(request, timeout=300) as answer:
        told: dict[str, Any] = json.load(answer)
    return told


def upload_weekend(here: str) -> dict[str, list[str]]:
    """Ids and names of what is there afterwards."""
    car = ask(
        f"{here}/api/cars", json.dumps(tomllib.loads((WEEKEND / "car.toml").read_text())).encode(), "application/json"
    )
    runs = tomllib.loads((WEEKEND / "runs.toml").read_text())["runs"]
    ids, events = [], []
    for run in runs:
        logs = [(name, (WEEKEND / name).read_bytes()) for name in run.pop("logs")]
        cut, body = uuid4().hex, b""
        for name, log in logs:
            head = f'--{cut}\r\nContent-Disposition: form-data; name="log"; filename="{name}"\r\n\r\n'
            body += head.encode() + log + b"\r\n"
        for name, text in (("car", car["id"]), ("details", json.dumps(run))):
            body += f'--{cut}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{text}\r\n'.encode()
        body += f"--{cut}--\r\n".encode()
        taken = ask(f"{here}/api/runs", body, f"multipart/form-data; boundary={cut}")["runs"]
        ids += [one["id"] for one in taken]
        events.append(run["event"])
    return {"runs": ids, "cars": [car["id"]], "events": sorted(set(events))}


def main() -> int:
    """Run it and print what the generator says."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--generator", required=True)
    parser.add_argument("--examples", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    told, more = parser.parse_known_args()
    with served(workers=2) as server, tempfile.TemporaryDirectory() as folder:
        here = f"http://127.0.0.1:{server.port}"
        there = upload_weekend(here)
        config = Path(folder) / "schemathesis.toml"
        # Two runs stay out of the dictionary, which also feeds deletion, so that there are some to lay side by side.
        lists = {**there, "runs": there["runs"][2:], "two": ",".join(there["runs"][:2])}
        config.write_text(CONFIG.format(**{name: json.dumps(values) for name, values in lists.items()}))
        command = [told.generator, "--config-file", str(config), "run", f"{here}/openapi.json", "--checks", "all"]
        command += ["--max-examples", str(told.examples), "--seed", str(told.seed), "--no-color", *more]
        found = subprocess.run(command, cwd=folder, check=False).returncode
        log = server.told()
    print(f"{log.count('Traceback')} tracebacks in the server's log of {log.count(chr(10))} lines")
    return 1 if found or "Traceback" in log else 0


if __name__ == "__main__":
    sys.exit(main())
