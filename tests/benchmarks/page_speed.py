"""When the largest thing of a page stands and how long its longest task is, on a phone whose processor is slowed.

python -m tests.benchmarks.page_speed [--slowed 4] [--rounds 5]

Starts a service with the demo weekend on a passing folder and opens each page anew, 360 px wide, nothing cached. Prints
the least and the median of the rounds, which on a busy machine lie apart. Exit 1 if the least of a page's largest
paint takes a second or the least of its longest task 200 ms.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from statistics import median

import uvicorn
from playwright.sync_api import Browser, sync_playwright

from passband.service.app import create_app
from passband.service.commands.demo import load_weekend
from passband.service.library import Library
from passband.service.settings import read_settings
from tests.web.in_browser.conftest import CHROMIUM, FLAGS

PAINT_MS, TASK_MS = 1000.0, 200.0
SETTLED_MS = 3000
WATCH = """
window.paint = 0; window.tasks = [0];
new PerformanceObserver((list) => { for (const one of list.getEntries()) window.paint = one.startTime; })
  .observe({ type: "largest-contentful-paint", buffered: true });
new PerformanceObserver((list) => { for (const one of list.getEntries()) window.tasks.push(one.duration); })
  .observe({ type: "longtask", buffered: true });
"""


@contextmanager
def weekend_served() -> Iterator[tuple[str, dict[str, str]]]:
    """Address of a service with the weekend, and its pages by name."""
    with tempfile.TemporaryDirectory() as folder:
        settings = read_settings({}, data=Path(folder))
        with closing(Library(settings)) as library:
            load_weekend(library)
            server = uvicorn.Server(uvicorn.Config(create_app(settings, library=library), port=0, log_level="error"))
            thread = threading.Thread(target=server.run)
            thread.start()
            while not server.started:
                time.sleep(0.05)
            port = server.servers[0].sockets[0].getsockname()[1]
            runs = [run.id for run in library.records.find_runs(event=None, car=None, limit=9, after=None)]
            eight, car = ",".join(runs[:8]), library.records.all_cars()[0].id
            yield f"http://127.0.0.1:{port}", {
                "start": "/", "run": f"/runs/{runs[5]}", "sheet": "/events/Lantern%20Weekend",
                "compare 8": f"/overlay?runs={eight}", "costs 8": f"/costs?runs={eight}", "car": f"/cars/{car}",
            }  # fmt: skip
            server.should_exit = True
            thread.join()


def measure(browser: Browser, address: str, slowed: float) -> tuple[float, float]:
    """Largest paint and longest task of a page opened for the first time [ms]."""
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, device_scale_factor=2, service_workers="block"
    )
    page = context.new_page()
    page.add_init_script(WATCH)
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    page.goto(address)
    page.wait_for_timeout(SETTLED_MS)
    found = page.evaluate("[window.paint, Math.max(...window.tasks)]")
    context.close()
    return found[0], found[1]


def main() -> int:
    """Measure each page in turn; 1 where one is slower than promised."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--slowed", type=float, default=4.0)
    options.add_argument("--rounds", type=int, default=5)
    asked = options.parse_args()
    slow = False
    with weekend_served() as (address, pages), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        print(f"{'':10} largest paint ms   longest task ms   (least, median of {asked.rounds})")
        for name, place in pages.items():
            rounds = [measure(browser, address + place, asked.slowed) for _ in range(asked.rounds)]
            paints, tasks = zip(*rounds, strict=True)
            print(f"{name:10} {min(paints):7.0f} {median(paints):7.0f}   {min(tasks):7.0f} {median(tasks):7.0f}")
            slow |= min(paints) >= PAINT_MS or min(tasks) >= TASK_MS
        browser.close()
    return int(slow)


if __name__ == "__main__":
    sys.exit(main())
