"""The command line: review, read, what runs say of each other and of changes, serving, keeping a library.

Nothing heavy is imported before a command asks for it, so that a mistyped word is answered at once.

Public: `main`.
"""

from __future__ import annotations

import argparse
import atexit
import gc
import os
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from passband.service.reviewing.threads import one_algebra_thread

if TYPE_CHECKING:
    from passband.service.commands.printing import Form

WRONG_INPUT = 2
"""Exit status where the files or what was given cannot be used."""
PORT = 8080


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str, optional
        What stands behind ``passband``; the process's own by default.

    Returns
    -------
    int
        0, or 2 where the files cannot be read as a run; the reason stands on stderr.
    """
    options = _parser().parse_args(_joined(sys.argv[1:] if arguments is None else arguments))
    if arguments is None and options.command in (_review, _read):
        _leave_garbage()
    one_algebra_thread()
    from passband.analysis.channels.log import LogError
    from passband.service.given.facts import GivenError

    try:
        status: int = options.command(options)
    except (LogError, GivenError) as error:
        print(error, file=sys.stderr)
        return WRONG_INPUT
    except BrokenPipeError:  # who reads us has seen enough, as in `passband read ecu.csv | head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        print(f"{error.filename or 'A file'} cannot be used: {error.strerror or error}.", file=sys.stderr)
        return WRONG_INPUT
    except KeyboardInterrupt:
        return 130
    return status


def _joined(arguments: Sequence[str]) -> list[str]:
    """``--mass -30lb`` as ``--mass=-30lb``: a change downwards is no option of its own."""
    joined: list[str] = []
    for one in arguments:
        if re.match(r"-\d", one) and joined and re.fullmatch(r"--[a-z-]+", joined[-1]):
            joined[-1] += f"={one}"
        else:
            joined.append(one)
    return joined


def _leave_garbage() -> None:
    """Look for no garbage in a process that ends before any could gather: its 200 rounds are a tenth of the time."""
    gc.disable()
    atexit.register(gc.freeze)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="passband", description="Reads the data-logger files of a drag run and says what the engine did."
    )
    commands = parser.add_subparsers(
        required=True,
        metavar="review | read | weekend | compare | change | whatif | turbo | bench | "
        "serve | access | load | demo | backup | restore | recheck | review-again | trash",
    )

    review = commands.add_parser("review", help="review the run or runs in one trip's logs")
    review.add_argument("logs", nargs="+", type=Path, metavar="LOG", help="the ECU's log, then the dash's and others")
    review.add_argument("--car", type=Path, help="the car, .toml or .json")
    review.add_argument(
        "--slip", type=Path, action="append", default=[], help="timing slip; once for each run, in order"
    )
    review.add_argument("--air", type=Path, help="the day's air, .toml or .json")
    review.add_argument("--finish", type=int, default=1320, choices=(660, 1000, 1320), help="finish line in feet")
    review.add_argument("--units", choices=("us", "metric"), default="us", help="units of the print")
    review.add_argument("--json", action="store_true", help="print JSON instead of a page")
    review.set_defaults(command=_review)

    read = commands.add_parser("read", help="say what was understood of one log")
    read.add_argument("log", type=Path, metavar="LOG")
    read.add_argument("--car", type=Path, help="the car whose mapping of channels is used")
    read.add_argument("--json", action="store_true", help="print JSON instead of a table")
    read.add_argument("--out", type=Path, help="write the log as understood, .parquet or .csv, SI")
    read.set_defaults(command=_read)

    _add_runs(commands)

    serve = commands.add_parser("serve", help="serve the page and the API")
    serve.add_argument("--host", default="127.0.0.1")
    serve.add_argument("--port", type=int, default=PORT)
    serve.add_argument("--data", type=Path, help="folder of the library")
    serve.add_argument(
        "--open", action="store_true", help="beyond this machine without names: everybody may do everything"
    )
    serve.set_defaults(command=_serve)

    _add_keeping(commands)
    return parser


def _add_keeping(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Commands over a library as a whole."""
    backup = commands.add_parser("backup", help="back up a library, also while it is served")
    backup.add_argument("target", type=Path, metavar="TARGET", help="a folder that is absent or empty, or a .tar file")
    backup.add_argument("--data", type=Path, help="folder of the library")
    backup.set_defaults(command=_backup)

    restore = commands.add_parser("restore", help="put a backup back into an empty folder")
    restore.add_argument("target", type=Path, metavar="TARGET", help="the backup, a folder or a .tar file")
    restore.add_argument("--data", type=Path, help="folder for the library, absent or empty")
    restore.set_defaults(command=_restore)

    access = commands.add_parser("access", help="teams, people and what each may do")
    access.add_argument("--data", type=Path, help="folder of the library")
    steps = access.add_subparsers(required=True, metavar="begin | team | invite | password | list")
    begin = steps.add_parser("begin", help="ask for names from now on; the library that is here is the first team's")
    team = steps.add_parser("team", help="another team, with a library of its own")
    for step in (begin, team):
        step.add_argument("team", metavar="TEAM", help="its name")
        step.add_argument("--owner", required=True, metavar="NAME", help="who owns it; the password is asked for")
        step.add_argument("--password-file", type=Path, help="a file that holds the password instead")
        step.add_argument("--quota-gb", type=float, help="most logs that it may keep, in GB")
    invite = steps.add_parser("invite", help="a link for one person")
    invite.add_argument("team", metavar="TEAM")
    invite.add_argument("--role", default="crew", choices=("reader", "crew", "owner"))
    password = steps.add_parser("password", help="another password for somebody who forgot it; all sessions end")
    password.add_argument("name", metavar="NAME")
    password.add_argument("--password-file", type=Path, help="a file that holds the password")
    password.add_argument("--revoke-tokens", action="store_true", help="also end every program's token that they made")
    steps.add_parser("list", help="teams and their people")
    for name, step in steps.choices.items():
        step.set_defaults(command=_access, step=name)

    demo = commands.add_parser("demo", help="serve a weekend of our own invention")
    demo.add_argument("--port", type=int, default=PORT)
    demo.add_argument("--data", type=Path, help="folder of the library; a passing one by default")
    demo.add_argument("--no-browser", action="store_true", help="do not open a browser")
    demo.set_defaults(command=_demo)

    load = commands.add_parser("load", help="put every run of a list into a library")
    load.add_argument("list", type=Path, metavar="RUNS.toml", help="the list of runs")
    load.add_argument("--data", type=Path, help="folder of the library; end the service on it first")
    load.add_argument("--car", type=Path, help="the car of all runs that name none of their own")
    load.set_defaults(command=_load)

    recheck = commands.add_parser("recheck", help="check every file of a library and mend what can be mended")
    recheck.add_argument("--data", type=Path, help="folder of the library; end the service on it first")
    recheck.set_defaults(command=_recheck)

    again = commands.add_parser("review-again", help="review the stored runs again, all or those of an event or a car")
    again.add_argument("--data", type=Path, help="folder of the library; end the service on it first")
    again.add_argument("--event", help="only runs of this event")
    again.add_argument("--car", help="only runs of the car of this name")
    again.set_defaults(command=_review_again)

    trash = commands.add_parser("trash", help="list what was deleted, restore it, or let it go")
    trash.add_argument("--data", type=Path, help="folder of the library; end the service on it first")
    wanted = trash.add_mutually_exclusive_group()
    wanted.add_argument("--restore", metavar="ENTRY", help="bring an entry back as it was")
    wanted.add_argument("--empty", action="store_true", help="let go of all that lies in it, for good")
    trash.set_defaults(command=_trash)


def _add_runs(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Commands over a list of runs."""
    compare = commands.add_parser("compare", help="where runs lost time against one, and what each part cost")
    compare.add_argument("--base", required=True, metavar="LABEL", help="the run that the others are held against")
    compare.add_argument("--with", dest="others", required=True, action="append", metavar="LABEL", help="another run")
    compare.set_defaults(command=_compare)

    change = commands.add_parser("change", help="what a change did: runs before it against runs after it")
    change.add_argument("--before", required=True, metavar="GROUP", help="group of the runs before the change")
    change.add_argument("--after", required=True, metavar="GROUP", help="group of the runs after it")
    change.set_defaults(command=_change)

    weekend = commands.add_parser("weekend", help="lay the runs of a list on one sheet")
    weekend.add_argument("--out", type=Path, metavar="SHEET", help="write the sheet, .csv or .parquet")
    weekend.set_defaults(command=_weekend)

    turbo = commands.add_parser("turbo", help="lay a run over the compressor's map")
    turbo.add_argument("--run", required=True, metavar="LABEL", help="the run")
    turbo.add_argument("--map", type=Path, metavar="MAP.csv", help="points along its speed lines; else the list's")
    turbo.add_argument("--compressors", type=int, metavar="N", help="alike and side by side")
    turbo.add_argument(
        "--volumetric-efficiency", metavar="SHARE", help='on the density in the manifold, such as "0.95 +- 0.04"'
    )
    turbo.add_argument("--inlet-loss", metavar="PRESSURE", help="before the compressor, at most flow")
    turbo.add_argument("--charge-loss", metavar="PRESSURE", help="cooler and pipes, at most flow")
    turbo.add_argument("--picture", type=Path, metavar="FILE.svg", help="write a picture of it")
    turbo.set_defaults(command=_turbo)

    bench = commands.add_parser("bench", help="lay a flow sheet and a dynamometer's curve beside a run")
    bench.add_argument("--run", required=True, metavar="LABEL", help="the run")
    bench.add_argument("--flow", type=Path, metavar="SHEET.csv", help="the flow bench's sheet")
    bench.add_argument("--flow-before", type=Path, metavar="SHEET.csv", help="the same before a change of the head")
    bench.add_argument("--dyno", type=Path, metavar="CURVE.csv", help="the dynamometer's curve")
    bench.add_argument("--dyno-before", type=Path, metavar="CURVE.csv", help="the same before a change of the engine")
    bench.add_argument("--picture", type=Path, metavar="FILE.svg", help="write a picture of both curves")
    bench.set_defaults(command=_bench)

    _add_whatif(commands)
    for command in (change, weekend, turbo, bench, commands.choices["whatif"]):
        command.add_argument("--units", choices=("us", "metric"), default="us", help="units of the print")
    for command in (compare, change, weekend, turbo, bench, commands.choices["whatif"]):
        command.add_argument("list", type=Path, metavar="RUNS.toml", help="the list of runs")
        command.add_argument("--car", type=Path, help="the car of all runs that name none of their own")
        command.add_argument("--json", action="store_true", help="print JSON instead of tables")


def _add_whatif(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    whatif = commands.add_parser("whatif", help="what another shift point, mass, gearing, air or power would have done")
    whatif.add_argument("--run", required=True, metavar="LABEL", help="the run")
    whatif.add_argument("--shift-rpm", default="", metavar="RPM", help='"+250" for all, "2=+300,3=10900" by gear left')
    whatif.add_argument("--mass", default="", metavar="MASS", help='"+30 kg", or the new one')
    whatif.add_argument("--final-drive", type=float, metavar="RATIO")
    whatif.add_argument("--gear-ratios", default="", metavar="RATIOS", help='"2.26,1.82,1.43"')
    whatif.add_argument("--tire-circumference", default="", metavar="LENGTH", help='of the driven tires, "84 in"')
    whatif.add_argument("--boost", default="", metavar="PRESSURE", help='"+1 psi", or the new one')
    whatif.add_argument("--air", type=Path, metavar="AIR", help="another day's air, .toml or .json")
    whatif.add_argument(
        "--power", default="", metavar="CURVE.csv",
        help="this engine curve on this track; \"dynamometer\", \"dynamometer_before\": the list's",
    )  # fmt: skip
    whatif.add_argument("--power-gain", default="", metavar="GAIN", help='"7500=3 %%" above it, "7000..8000=2 %%"')
    whatif.add_argument("--worth", action="store_true", help="what 1 %% of torque wins in each 500 rpm")
    whatif.add_argument(
        "--search", default="", metavar="WHAT", help='"shift-rpm", final drives "4.1..4.7", "gear 2=1.70..1.95"'
    )
    whatif.add_argument("--aim", default="elapsed", choices=("elapsed", "under-band"), help="what a search makes least")
    whatif.add_argument("--check", type=Path, metavar="CHANGES.toml", help="foretold against runs with a known change")
    whatif.set_defaults(command=_whatif)


def _whatif(options: argparse.Namespace) -> int:
    from passband.service.answers.search_asked import read_search
    from passband.service.answers.whatif_answered import Beside
    from passband.service.commands.what_if import print_whatif
    from passband.service.given.facts import read_file, read_given

    if options.check is not None:
        from passband.service.commands.forecast_check import print_forecast_check

        return print_forecast_check(
            options.list, label=options.run, known=options.check, car=options.car, as_json=options.json
        )
    from passband.service.answers.whatif_asked import WhatIfAsked

    asked = {
        "shift_rpm": options.shift_rpm, "mass": options.mass, "final_drive": options.final_drive,
        "gear_ratios": options.gear_ratios, "tire_circumference": options.tire_circumference, "boost": options.boost,
        "power_gain": options.power_gain, "power": options.power,
        "air": read_file(options.air, what="air") if options.air else None,
    }  # fmt: skip
    beside = Beside(options.worth, read_search(options.search) if options.search else None, options.aim)
    return print_whatif(
        options.list, label=options.run, asked=read_given(WhatIfAsked, asked, what="change"), car=options.car,
        beside=beside, form=_form(options),
    )  # fmt: skip


def _form(options: argparse.Namespace) -> Form:
    return "json" if options.json else options.units


def _compare(options: argparse.Namespace) -> int:
    from passband.service.commands.printing_runs import print_compare

    return print_compare(options.list, base=options.base, others=options.others, car=options.car, as_json=options.json)


def _change(options: argparse.Namespace) -> int:
    from passband.service.commands.printing_runs import print_change

    return print_change(
        options.list,
        before=options.before,
        after=options.after,
        car=options.car,
        as_json=options.json,
        units=options.units,
    )


def _weekend(options: argparse.Namespace) -> int:
    from passband.service.commands.printing_runs import print_weekend

    return print_weekend(options.list, car=options.car, as_json=options.json, out=options.out, units=options.units)


def _turbo(options: argparse.Namespace) -> int:
    from passband.service.commands.bench_and_map import TurboFile, print_turbo

    turbo = TurboFile(
        options.map, options.compressors, options.volumetric_efficiency, options.inlet_loss, options.charge_loss
    )
    return print_turbo(
        options.list, label=options.run, car=options.car, turbo=turbo, picture=options.picture, form=_form(options)
    )


def _bench(options: argparse.Namespace) -> int:
    from passband.service.commands.bench_and_map import SheetFiles, print_bench

    return print_bench(
        options.list, label=options.run, car=options.car, picture=options.picture,
        files=SheetFiles(options.flow, options.flow_before, options.dyno, options.dyno_before),
        form=_form(options),
    )  # fmt: skip


def _review(options: argparse.Namespace) -> int:
    from passband.analysis.given.car import Air, Slip
    from passband.service.commands.printing import print_reviews
    from passband.service.given.facts import NO_CAR, read_file, read_given

    car = read_file(options.car, what="car") if options.car else NO_CAR
    slips = [read_given(Slip, read_file(path, what="slip"), what="slip") for path in options.slip]
    air = read_given(Air, read_file(options.air, what="air"), what="air") if options.air else None
    return print_reviews(
        options.logs, car, slips, air, finish_ft=options.finish, as_json=options.json, units=options.units
    )


def _read(options: argparse.Namespace) -> int:
    from passband.service.commands.printing import print_log
    from passband.service.given.facts import read_car, read_file

    car = read_car(read_file(options.car, what="car")) if options.car else None
    return print_log(options.log, car, as_json=options.json, out=options.out)


def _serve(options: argparse.Namespace) -> int:
    from passband.service.serving import serve

    return serve(host=options.host, port=options.port, data=options.data, open_to_all=options.open)


def _backup(options: argparse.Namespace) -> int:
    from passband.service.commands.keeping import print_backup

    return print_backup(options.target, options.data)


def _restore(options: argparse.Namespace) -> int:
    from passband.service.commands.keeping import print_restore

    return print_restore(options.target, options.data)


def _access(options: argparse.Namespace) -> int:
    from passband.service.access.commands import run_step

    return run_step(options.step, options, data=options.data)


def _demo(options: argparse.Namespace) -> int:
    from passband.service.commands.demo import serve_demo

    return serve_demo(port=options.port, data=options.data, browser=not options.no_browser)


def _load(options: argparse.Namespace) -> int:
    from passband.service.commands.loading import print_load

    return print_load(options.list, data=options.data, car=options.car)


def _recheck(options: argparse.Namespace) -> int:
    from passband.service.commands.mending import print_recheck

    return print_recheck(data=options.data)


def _review_again(options: argparse.Namespace) -> int:
    from passband.service.commands.reviewing_again import print_review_again

    return print_review_again(data=options.data, event=options.event, car=options.car)


def _trash(options: argparse.Namespace) -> int:
    from passband.service.commands.mending import print_trash

    return print_trash(data=options.data, restore=options.restore, empty=options.empty)


if __name__ == "__main__":
    sys.exit(main())
