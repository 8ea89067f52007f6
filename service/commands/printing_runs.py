"""Commands over a list of runs that print: what it cost, what a change did, the sheet of a weekend.

Public: `print_compare`, `print_change`, `print_weekend`.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from passband.service.answers.run_list import ListedPart, ListedRun, read_parts, read_run_list
from passband.service.commands.many_runs import ReviewedOne, review_listed
from passband.service.commands.printing import print_json
from passband.service.given.facts import GivenError

if TYPE_CHECKING:
    from passband.analysis.runs.digest import RunDigest
    from passband.analysis.runs.used_up import UsedUp
    from passband.web.wording.units import UnitSystem


def print_compare(path: Path, *, base: str, others: Sequence[str], car: Path | None, as_json: bool) -> int:
    """Hold runs of a list against one of them and print where time was lost.

    Parameters
    ----------
    path : Path
        The list of runs.
    base : str
        Label of the run that the others are held against.
    others : sequence of str
        Labels of those.
    car : Path, optional
        The car of runs that name none.
    as_json : bool
        JSON instead of tables.

    Returns
    -------
    int
        0.

    Raises
    ------
    GivenError
        If the list cannot be used, a label is not in it, or two runs share no track.
    """
    listed = read_run_list(path, car=car)
    wanted = _by_label(listed, [base, *others])
    reviewed = {one.compared.label: one for one in review_listed(wanted)}
    from passband.analysis.runs.as_json import costs_as_json
    from passband.analysis.runs.cost import compare_costs

    compared = []
    for label in dict.fromkeys(others):
        costs = compare_costs(reviewed[base].compared, reviewed[label].compared)
        if costs is None:
            raise GivenError(f"{base} and {label} share no track: one of them shows no motion from the start line on.")
        compared.append(costs)
    if as_json:
        print_json({"base": base, "others": [costs_as_json(costs) for costs in compared]})
        return 0
    from passband.web.printed.runs import print_costs

    print("\n".join(print_costs(base, costs) for costs in compared))
    return 0


def print_change(
    path: Path, *, before: str, after: str, car: Path | None, as_json: bool, units: UnitSystem = "us"
) -> int:
    """Hold a group of runs against another and print what the change between them did.

    Parameters
    ----------
    path : Path
        The list of runs.
    before, after : str
        The groups.
    car : Path, optional
        The car of runs that name none.
    as_json : bool
        JSON instead of tables.
    units : {"us", "metric"}
        Units of the print.

    Returns
    -------
    int
        0.

    Raises
    ------
    GivenError
        If the list cannot be used, or a group has no run in it.
    """
    listed = read_run_list(path, car=car)
    _check_groups(listed, before, after)
    reviewed = review_listed([one for one in listed if one.group in (before, after)])
    from passband.analysis.results.codec import plain
    from passband.analysis.runs.change import compare_groups

    sides = [[one.compared for one in reviewed if one.listed.group == group] for group in (before, after)]
    change = compare_groups(*sides, names=(before, after))
    if as_json:
        print_json(plain(change))
        return 0
    from passband.web.printed.runs import print_group_change

    print(print_group_change(change, units=units))
    return 0


def print_weekend(path: Path, *, car: Path | None, as_json: bool, out: Path | None, units: UnitSystem = "us") -> int:
    """Lay the runs of a list on one sheet, print it, and write it out if asked.

    Parameters
    ----------
    path : Path
        The list of runs.
    car : Path, optional
        The car of runs that name none.
    as_json : bool
        JSON instead of tables.
    units : {"us", "metric"}
        Units of the print.
    out : Path, optional
        ``.csv`` or ``.parquet`` file to write.

    Returns
    -------
    int
        0.

    Raises
    ------
    GivenError
        If the list cannot be used, or `out` ends in something else.
    """
    if out is not None and out.suffix.lower() not in (".csv", ".parquet"):
        raise GivenError(f"--out {out} must end in .csv or .parquet.")
    listed, parts = read_run_list(path, car=car), read_parts(path)
    reviewed = review_listed(listed)
    from passband.analysis.results.codec import plain
    from passband.analysis.runs.digest import digest_run
    from passband.analysis.runs.same_engine import hold_all_against_own
    from passband.analysis.runs.season_sheet import Noted, make_season_sheet

    entries, digests = [one.listed for one in reviewed], [digest_run(one.compared) for one in reviewed]
    engine = hold_all_against_own(digests, [one.group for one in entries])
    down = [one.fault if one is not None else "" for one in engine]
    sheet = make_season_sheet(digests, [Noted(one.at, one.group, one.notes) for one in entries], engine=down)
    used = [_used_up(one, reviewed, digests) for one in parts]
    if out is not None:
        from passband.service.answers.sheet_files import write_sheet

        write_sheet(sheet, out)
    if as_json:
        print_json(
            {
                "columns": plain(sheet.columns),
                "runs": plain(sheet.runs),
                "best": sheet.best,
                "spreads": plain(sheet.spreads),
                "by_car": plain(sheet.cars),
                "air_rules": list(sheet.air_rules),
                "same_engine": plain(engine),
                "used_up": plain(used),
            }
        )
        return 0
    from passband.web.printed.runs import print_season, print_used

    print(print_season(sheet, engine, units=units) + (print_used(used, units=units) if used else ""))
    return 0


def _used_up(part: ListedPart, reviewed: Sequence[ReviewedOne], digests: Sequence[RunDigest]) -> UsedUp:
    """What a part saw: all runs from its first to its last, as the list has them."""
    from passband.analysis.runs.used_up import Part, count_part

    of = [one.listed.label for one in reviewed]
    first = of.index(part.first) if part.first else 0
    last = len(of) - of[::-1].index(part.last) if part.last else len(of)
    some = slice(first, last)
    return count_part(Part(part.name, tuple(part.above_rpm)), digests[some], [one.listed.at for one in reviewed[some]])


def _check_groups(listed: Sequence[ListedRun], before: str, after: str) -> None:
    groups = list(dict.fromkeys(one.group for one in listed if one.group))
    for group in (before, after):
        if group not in groups:
            named = f"its groups are {', '.join(map(repr, groups))}" if groups else "no run in it names a group"
            raise GivenError(f"No run of the list is in group {group!r}: {named}.")
    if before == after:
        raise GivenError(f"--before and --after both name {before!r}: a change needs two groups.")


def _by_label(listed: Sequence[ListedRun], labels: Sequence[str]) -> list[ListedRun]:
    by_label = {one.label: one for one in listed}
    for label in labels:
        if label not in by_label:
            raise GivenError(
                f"No run of the list is labelled {label!r}; its labels are {', '.join(map(repr, by_label))}."
            )
    return [by_label[label] for label in dict.fromkeys(labels)]
