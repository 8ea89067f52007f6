"""Engine speed where no column is named so: one in rev/min, or by a formula's letter, asked of what else the log holds.

Letters are asked for evidence: a speed that they follow as a gearing does, or a copy of them, as a dash writes one.
A name that tells nothing is asked for more: that it follows a speed in steps. Otherwise the user is asked.

Public: `ENGINE_KINDS`, `engine_speed_unnamed`, `range_of`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from passband.analysis.channels.catalogue import family_of
from passband.analysis.channels.recognition import says_nothing_known
from passband.analysis.channels.units import NO_UNIT, conversion_for, plain_unit
from passband.analysis.quantities import Conversion, FloatArray
from passband.analysis.reading.columns.understood import AS_WRITTEN, Columns, Understood
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding

ENGINE_KINDS = frozenset(
    "throttle manifold_pressure boost ignition_advance injector_duty lambda fuel_pressure oil_pressure "
    "coolant_temperature intake_temperature "
    "exhaust_temperature fuel_flow".split()
)
"""Families that an engine's computer logs."""
WINDOWS, MOVED, ALIKE = 60, 0.05, 0.03
"""A log is held against a speed in so many pieces; one in which the speed changes by the share tells, and engine and
speed change alike where the shares differ by less. [-], [-], [-]"""
FEWEST_TELL, MOSTLY = 6, 0.3
"""So many pieces must tell, and such a share of them alike: a slipping converter and shifts take many. [-], [-]"""
SWING, FEWEST_TURNS = 0.08, 2
"""An engine's speed falls and rises by such a share of its greatest over a shift (a step of 1.09 is the closest that is
built), and turns back so often in a run. [-], -"""
STEPPED = 1.15
"""A shaft behind the gearbox has one ratio to the road, an engine a step between any two gears. [-]"""
COPY_WITHIN = 0.02
"""Copies of one speed differ by less at the median: a dash filters what it shows. [-]"""

_OTHER_TURNING = re.compile(
    r"(?i)shaft|wheel|whl|turb|limit|target|launch|shift|clutch|cam|fan|pump|line|input|output|idle|two|step|max|min|peak|err|"
    r"rate|alternator|gear|blower|super|trans|conv|set|demand|light|delta|diff|d/?s\b|drive"
)
_LONE = re.compile(r"(?i)n|n_?e|n_mot|nmot")
"""Letters that stand for a turning speed in formulas."""
_SPEEDS_LETTER = re.compile(r"(?i)v|vx|v_x")
"""A speed's in formulas: followed in steps it is one, and no voltage."""


def engine_speed_unnamed(columns: Columns) -> Columns:
    """The column that an engine could turn, in rev/min or by a lone letter, where none is named engine speed.

    Parameters
    ----------
    columns : Columns
        Each column, its own unit settled.

    Returns
    -------
    Columns
        With one column taken and told; with a finding on each that could be it where none can be told from another,
        or where a letter stands in a log without an engine's quantities and nothing speaks for it.
    """
    understood, header, samples = columns.understood, columns.header, columns.samples
    if any(column.channel == "engine_speed" for column in understood.values()):
        return columns
    fitting = [at for at in understood if _could_be(at, understood[at], header, samples[at])]
    if not fitting:
        return _by_behaviour(columns)
    geared = {at: speed for at in fitting if (speed := _follows(at, columns))}
    in_rpm = [at for at in fitting if _in_rpm(header.units[at])]
    with_engine = any(family_of(column.channel) in ENGINE_KINDS for column in understood.values())
    if len(fitting) > 1 and _are_copies([samples[at] for at in fitting]):
        others = ", ".join(header.names[at] for at in fitting[1:])
        return _taken(columns, fitting[0], f"{header.names[fitting[0]]} turns like an engine, as {others} does")
    for few in (fitting, in_rpm, list(geared)):
        if len(few) == 1 and (with_engine or few[0] in geared or few[0] in in_rpm):
            return _taken(columns, few[0], _why_it(few[0], fitting, geared, header))
    return _asked(columns, fitting)


def _could_be(at: int, column: Understood, header: Header, values: FloatArray) -> bool:
    return (
        column.confidence == 0.0
        and (_in_rpm(header.units[at]) or _is_lone(header, at, values))
        and not _OTHER_TURNING.search(header.bare[at])
        and _turns_like_an_engine(values * _conversion(header.units[at]).scale)
    )


def _in_rpm(unit: str) -> bool:
    """Whether a unit is of revolutions a minute or thousands of them; of those a second wheels are logged too."""
    conversion = conversion_for(unit, kept="rpm") if unit else None
    return conversion is not None and conversion.scale in (1.0, 1000.0)


def _conversion(unit: str) -> Conversion:
    """To revolutions a minute; as written where no unit says otherwise."""
    conversion = conversion_for(unit, kept="rpm") if _in_rpm(unit) else None
    return AS_WRITTEN if conversion is None else conversion


def _is_lone(header: Header, at: int, values: FloatArray) -> bool:
    """Whether a column goes by a formula's letter, and does not just count rows."""
    if header.units[at] or not _LONE.fullmatch(header.bare[at].strip()):
        return False
    return bool(np.any(np.diff(values) < 0))


def _by_behaviour(columns: Columns) -> Columns:
    """A column whose name tells nothing: taken where it alone follows a speed in steps, else asked about."""
    header, samples = columns.header, columns.samples
    fitting = [
        at
        for at, column in columns.understood.items()
        if column.confidence == 0.0
        and (not header.units[at] or plain_unit(header.units[at]) in NO_UNIT)
        and says_nothing_known(header.bare[at])
        and _turns_like_an_engine(samples[at])
        and _turns_back(samples[at])
    ]
    followed = {at: _follows(at, columns, stepped=True) for at in fitting}
    stepped = [at for at in fitting if followed[at]]
    if len(stepped) == 1:
        (at,) = stepped
        why = f"{header.names[at]} follows {followed[at]} in steps, as an engine does through its gears"
        return _taken(columns, at, why)
    return _asked(columns, fitting) if fitting else columns


def _turns_back(values: FloatArray) -> bool:
    """Whether values rise, fall and rise again by more than what noise moves them."""
    if not values.size:
        return False
    least = SWING * float(np.quantile(values, 0.99))
    turns, rising, edge = 0, True, float(values[0])
    for value in values.tolist():
        if (value > edge) == rising:
            edge = value
        elif abs(value - edge) > least:
            turns, rising, edge = turns + 1, not rising, value
    return turns >= FEWEST_TURNS


def _turns_like_an_engine(values: FloatArray) -> bool:
    return bool(values.size and values.min() >= 0 and 2500 <= np.quantile(values, 0.99) <= 20000)


def _follows(at: int, columns: Columns, *, stepped: bool = False) -> str:
    """The header of a speed that a column follows as an engine does in a gear; empty where there is none.

    `stepped` asks for more than one gear.
    """
    samples = columns.samples
    for other, column in columns.understood.items():
        speed = column.unit == "m/s" or (column.unit == "rpm" and column.channel == "driveshaft_speed")
        known = speed and column.confidence > 0.0
        letter = column.confidence == 0.0 and _SPEEDS_LETTER.fullmatch(columns.header.names[other]) is not None
        if (known or letter) and _go_together(samples[at], samples[other], stepped=stepped or letter):
            return columns.header.names[other]
    return ""


def _go_together(turning: FloatArray, speed: FloatArray, *, stepped: bool) -> bool:
    """Whether two change by the same share in a part of the pieces in which the second changes.

    `stepped` asks that the pieces stand at more than one ratio of the two.
    """
    if turning.size != speed.size:
        return False
    at = np.unique(np.linspace(0, turning.size - 1, WINDOWS + 1).astype(int))
    on_the_move = (speed[at] > 0.1 * float(speed.max())) & (turning[at] > 0)
    both = on_the_move[1:] & on_the_move[:-1]
    logs = [np.diff(np.log(np.where(on_the_move, values[at], 1.0)))[both] for values in (turning, speed)]
    tells = np.abs(logs[1]) > MOVED
    alike = tells & (np.abs(logs[0] - logs[1]) < ALIKE)
    if tells.sum() < FEWEST_TELL or np.mean(alike[tells]) < MOSTLY:
        return False
    ratios = (turning[at][:-1][both] / speed[at][:-1][both])[alike]
    return not stepped or bool(ratios.max() > STEPPED * ratios.min())


def _are_copies(columns: list[FloatArray]) -> bool:
    first = columns[0]
    return all(
        other.size == first.size and float(np.median(np.abs(other - first))) <= COPY_WITHIN * float(np.median(first))
        for other in columns[1:]
    )


def _why_it(at: int, fitting: list[int], geared: Mapping[int, str], header: Header) -> str:
    """What speaks for the one column taken."""
    only = "is the only one " + ("that an engine could turn, in rev/min" if len(fitting) == 1 else "in rev/min")
    follows = f"follows {geared[at]} as a gearing does" if at in geared else ""
    if len(fitting) > 1 and not _in_rpm(header.units[at]):
        return f"of those that could be it, only {header.names[at]} {follows}"
    return f"{header.names[at]} {only}" + (f", and {follows}" if follows else "")


def range_of(values: FloatArray) -> str:
    """Least and greatest of some values, for a sentence.

    Examples
    --------
    >>> range_of(np.array([1133.2, 8825.0]))
    '1133 to 8825'
    """
    return f"{float(values.min()):.4g} to {float(values.max()):.4g}"


def _taken(columns: Columns, at: int, why: str) -> Columns:
    text = f"No column is named engine speed; {why}, and is taken for it."
    sign = _in_rpm(columns.header.units[at]) and _LONE.fullmatch(columns.header.bare[at].strip()) is not None
    found = (Finding("engine-speed-assumed", "note" if sign else "caution", text, columns.header.names[at]),)
    taken = replace(columns.understood[at], channel="engine_speed", unit="rpm", confidence=0.5, findings=found)
    return columns.with_read({at: replace(taken, conversion=_conversion(columns.header.units[at]))})


def _asked(columns: Columns, fitting: list[int]) -> Columns:
    """Each column that could be it, under its own header, with the reason why it was not taken."""
    understood, header, samples = columns.understood, columns.header, columns.samples
    names = " and ".join(f"{header.names[at]} ({range_of(samples[at])})" for at in fitting)
    why = "they are not the same and nothing tells which" if len(fitting) > 1 else "nothing else in the log shows it"
    text = (
        f"No column is named engine speed; {names} could be it by the values, but {why}, so none is taken. Tell which "
        "column is engine_speed."
    )
    found = (Finding("engine-speed-unclear", "caution", text, header.names[fitting[0]]),)
    asked = {at: replace(understood[at], asked_with=found) for at in fitting[1:]}
    return columns.with_read({**asked, fitting[0]: replace(understood[fitting[0]], findings=found)})
