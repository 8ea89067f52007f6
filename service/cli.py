"""The command line: review, read, weekend, compare, change, serve, load, demo, backup, restore, recheck, trash.

Nothing heavy is imported before a command asks for it, so that a mistyped word is answered at once.

Public: `main`.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from passband.service.threads import one_algebra_thread

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
    told = _parser().parse_args(arguments)
    one_algebra_thread()
    from passband.analysis.channels.log import LogError
    from passband.service.given import GivenError

    try:
        status: int = told.command(told)
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


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="passband", description="Reads the data-logger files of a drag run and says what the engine did."
    )
    commands = parser.add_subparsers(
        required=True,
        metavar="review | read | weekend | compare | change | serve | load | demo | backup | restore | recheck | trash",
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

    for command in (change, weekend):
        command.add_argument("--units", choices=("us", "metric"), default="us", help="units of the print")
    for command in (compare, change, weekend):
        command.add_argument("list", type=Path, metavar="RUNS.toml", help="the list of runs")
        command.add_argument("--car", type=Path, help="the car of all runs that name none of their own")
        command.add_argument("--json", action="store_true", help="print JSON instead of tables")


def _compare(told: argparse.Namespace) -> int:
    from passband.service.printing_runs import print_compare

    return print_compare(told.list, base=told.base, others=told.others, car=told.car, as_json=told.json)


def _change(told: argparse.Namespace) -> int:
    from passband.service.printing_runs import print_change

    return print_change(
        told.list, before=told.before, after=told.after, car=told.car, as_json=told.json, units=told.units
    )


def _weekend(told: argparse.Namespace) -> int:
    from passband.service.printing_runs import print_weekend

    return print_weekend(told.list, car=told.car, as_json=told.json, out=told.out, units=told.units)


def _review(told: argparse.Namespace) -> int:
    from passband.analysis.given.car import Air, Slip
    from passband.service.given import read_file, read_given
    from passband.service.printing import print_reviews
    from passband.service.reviewing import NO_CAR

    car = read_file(told.car, what="car") if told.car else NO_CAR
    slips = [read_given(Slip, read_file(path, what="slip"), what="slip") for path in told.slip]
    air = read_given(Air, read_file(told.air, what="air"), what="air") if told.air else None
    return print_reviews(told.logs, car, slips, air, finish_ft=told.finish, as_json=told.json, units=told.units)


def _read(told: argparse.Namespace) -> int:
    from passband.service.given import read_car, read_file
    from passband.service.printing import print_log

    mapping = read_car(read_file(told.car, what="car")).channels if told.car else None
    return print_log(told.log, mapping, as_json=told.json, out=told.out)


def _serve(told: argparse.Namespace) -> int:
    from passband.service.serving import serve

    return serve(host=told.host, port=told.port, data=told.data)


def _backup(told: argparse.Namespace) -> int:
    from passband.service.keeping import print_backup

    return print_backup(told.target, told.data)


def _restore(told: argparse.Namespace) -> int:
    from passband.service.keeping import print_restore

    return print_restore(told.target, told.data)


def _demo(told: argparse.Namespace) -> int:
    from passband.service.demo import serve_demo

    return serve_demo(port=told.port, data=told.data, browser=not told.no_browser)


def _load(told: argparse.Namespace) -> int:
    from passband.service.loading import print_load

    return print_load(told.list, data=told.data, car=told.car)


def _recheck(told: argparse.Namespace) -> int:
    from passband.service.mending import print_recheck

    return print_recheck(data=told.data)


def _trash(told: argparse.Namespace) -> int:
    from passband.service.mending import print_trash

    return print_trash(data=told.data, restore=told.restore, empty=told.empty)


if __name__ == "__main__":
    sys.exit(main())
