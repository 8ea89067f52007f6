"""What `whatif` foretells against what a simulated car does when one thing is changed.

python -m tests.benchmarks.foretold [--seeds 1..6] [--kind NAME ...] [--jobs 2]

Each kind's car is driven as it is and with one change, same driver and same day; the run as it is is reviewed with its
slip and asked for the change. For each kind of change: how many, median and worst error of the elapsed time's change,
the share within 20 ms or 15 %, the share that the plus-minus covers, and the same for trap speed within 0.4 m/s.
"""

from __future__ import annotations

import argparse
import multiprocessing
import statistics
import tempfile
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from passband.analysis.report import as_table
from passband.analysis.review import FullReview
from passband.analysis.whatif.changes import Changes, PowerGain, ShiftPoint
from passband.analysis.whatif.foretell import Foretold, foretell
from passband.demo_logs.car_specs import CarSpec
from passband.demo_logs.case_plans import CasePlan
from passband.demo_logs.proving import plan_case, write_case
from tests.proving.cases import load_case, review_case

KINDS = ("plain_rear_lever", "plain_rear_natural", "plain_all_foot", "plain_front_foot", "plain_converter")
GAIN_ABOVE = 0.75
"""Power is raised above this share of the highest shift point. [-]"""


def _spec(plan: CasePlan, **changed: object) -> CasePlan:
    return replace(plan, car=replace(plan.car, **changed))


def _gained(plan: CasePlan, above: float, gain: float) -> CasePlan:
    points = plan.car.engine.torque_points
    fine = [r for r in range(0, int(points[-1][0]) + 1, 100)]
    from passband.demo_logs.engine_model import TABLE_STEP_RPM, _table

    rows = _table(points)
    at = [(float(r), rows[int(r / TABLE_STEP_RPM)] * (1.0 + gain if r > above else 1.0)) for r in fine]
    return _spec(plan, engine=replace(plan.car.engine, torque_points=tuple(at)))


def changes_of(car: CarSpec) -> dict[str, tuple[Callable[[CasePlan], CasePlan], Changes]]:
    """Each change: to the simulated car, and as it is asked."""
    second = (*car.gears[:1], car.gears[1] * 1.04, *car.gears[2:])
    above = GAIN_ABOVE * max(car.shift_rpm)

    def shifted(by: float) -> Callable[[CasePlan], CasePlan]:
        return lambda plan: _spec(plan, shift_rpm=tuple(one + by for one in car.shift_rpm))

    return {
        "shift +200": (shifted(200.0), Changes(shift_points=(ShiftPoint(None, 200.0, by=True),))),
        "shift -250": (shifted(-250.0), Changes(shift_points=(ShiftPoint(None, -250.0, by=True),))),
        "mass +30 kg": (lambda p: _spec(p, mass_kg=car.mass_kg + 30.0), Changes(mass_by_kg=30.0)),
        "final +4 %": (lambda p: _spec(p, final=car.final * 1.04), Changes(final_drive=car.final * 1.04)),
        "second +4 %": (lambda p: _spec(p, gears=second), Changes(gear_ratios=second)),
        "power +3 %": (lambda p: _gained(p, above, 0.03), Changes(power_gains=(PowerGain(above, 0.03),))),
    }


def foretold_rows(
    task: tuple[str, int], *, only: tuple[str, ...] = ()
) -> list[tuple[str, float, float, float, float, float]]:
    """Change, error, half-width and size of elapsed time; error and half-width of trap speed."""
    kind, seed = task
    plan = plan_case(kind, seed)
    plan = replace(plan, runs=plan.runs[:1])
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        write_case(Path(folder) / "base", plan, seed)
        case = load_case(Path(folder) / "base")
        full = review_case(case).reviews[0]
        assert isinstance(full, FullReview)
        for name, (make, asked) in changes_of(plan.car).items():
            if only and name not in only:
                continue
            write_case(Path(folder) / "other", make(plan), seed)
            other = load_case(Path(folder) / "other").truth["runs"][0]
            told = foretell(full, as_table(full).frame, case.car, asked)
            rows.append(_row(f"{name}", told, case.truth["runs"][0], other))
    return [row for row in rows if row is not None]


def _row(name: str, told: Foretold, base: dict, other: dict) -> tuple[str, float, float, float, float, float] | None:
    true = other["splits"]["1320ft"] - base["splits"]["1320ft"]
    if told.elapsed_time_s is None or told.trap_speed_mps is None:
        return (f"{name} refused", 0.0, 0.0, true, 0.0, 0.0)
    trap = other["trap_speeds"]["1320ft"] - base["trap_speeds"]["1320ft"]
    return (
        name,
        told.elapsed_time_s.value - true,
        told.elapsed_time_s.plus_minus,
        true,
        told.trap_speed_mps.value - trap,
        told.trap_speed_mps.plus_minus,
    )


def main() -> None:
    """Print one line a change."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.foretold", description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="1..3", help="one, or first..last")
    parser.add_argument("--kind", action="append", help="as often as wanted")
    parser.add_argument("--jobs", type=int, default=2, help="cars at a time")
    given = parser.parse_args()
    first, _, last = given.seeds.partition("..")
    tasks = [(kind, seed) for seed in range(int(first), int(last or first) + 1) for kind in given.kind or KINDS]
    by_change = defaultdict(list)
    with multiprocessing.get_context("spawn").Pool(given.jobs) as pool:
        for task, rows in zip(tasks, pool.map(foretold_rows, tasks, chunksize=1), strict=True):
            for row in rows:
                by_change[row[0]].append(row)
                print(task, row[0], *(f"{one:.4f}" for one in row[1:]), flush=True)
    heads = ("asked", "median s", "worst s", "within", "covered", "trap", "covered")
    print(f"{'change':20}" + "".join(f"{head:>9}" for head in heads))
    for name, rows in sorted(by_change.items()):
        off = [abs(row[1]) for row in rows]
        within = sum(e <= max(0.02, 0.15 * abs(row[3])) for e, row in zip(off, rows, strict=True)) / len(rows)
        covered = sum(e <= row[2] for e, row in zip(off, rows, strict=True)) / len(rows)
        trap = sum(abs(row[4]) <= 0.4 for row in rows) / len(rows)
        held = sum(abs(row[4]) <= row[5] for row in rows) / len(rows)
        shares = "".join(f"{share:9.0%}" for share in (within, covered, trap, held))
        print(f"{name:20}{len(rows):9}{statistics.median(off):9.4f}{max(off):9.4f}{shares}")


if __name__ == "__main__":
    main()
