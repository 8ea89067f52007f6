"""A column judged by the others of its log: units in use, which wheel a speed is of, what is named twice.

Public: `resolve_jointly`.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import replace

import numpy as np

from passband.analysis.channels.catalogue import CATALOGUE, family_of
from passband.analysis.channels.foreign_wheels import SAYS_DRIVEN, SAYS_UNDRIVEN
from passband.analysis.channels.numbers_in_names import is_one_of_several, may_number_an_input
from passband.analysis.channels.recognition import WEAK, recognise_name
from passband.analysis.channels.units import conversion_for, is_turning, plain_unit
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.columns.engine_in_thousands import engine_in_thousands
from passband.analysis.reading.columns.refuted_units import without_refuted_units
from passband.analysis.reading.columns.scaled_names import scaled_columns
from passband.analysis.reading.columns.understood import AS_WRITTEN, Columns, Understood, own_name
from passband.analysis.reading.columns.unit_by_values import unit_assumed
from passband.analysis.reading.columns.unit_of_a_kind import units_of_one_kind
from passband.analysis.reading.columns.unnamed_channels import ask_for_unnamed
from passband.analysis.reading.columns.unnamed_engine_speed import ENGINE_KINDS, engine_speed_unnamed
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.fits import quantiles


def resolve_jointly(columns: Columns) -> Columns:
    """Judge each column of a log once more, knowing all of them.

    Parameters
    ----------
    columns : Columns
        Each column on its own.

    Returns
    -------
    Columns
        The same columns. A catalogue name is given once: to the surest; others keep their own header.
    """
    columns = scaled_columns(columns)
    columns = engine_in_thousands(columns)
    columns = units_of_one_kind(columns)
    columns = _units_jointly(columns)
    columns = engine_speed_unnamed(columns)
    columns = without_refuted_units(columns)
    columns = _read_speeds_jointly(columns)
    columns = _tell_units_of_other_kinds(columns)
    columns = ask_for_unnamed(columns)
    return _one_of_each(_numbered_in_order(_without_numbers_of_inputs(columns)))


def _without_numbers_of_inputs(columns: Columns) -> Columns:
    """``Lambda C5`` alone is the car's lambda, as C5 may be a pin; beside ``Lambda C4`` it is the fifth cylinder's."""
    understood, header = columns.understood, columns.header
    families = {at: family_of(one.channel) for at, one in understood.items()}
    members = Counter(families.values())
    alone = {
        at: replace(understood[at], channel=family)
        for at, family in families.items()
        if family != understood[at].channel
        and at not in columns.given
        and members[family] == 1
        and may_number_an_input(header.bare[at])
    }
    return columns.with_read(alone)


ALIKE = 0.98
"""Share of two columns' values that are the same where one is a copy of the other. [-]"""
AS_PRINTED = 0.003
"""What printing in other units or digits leaves between copies, of their middle. [-]"""


def _numbered_in_order(columns: Columns) -> Columns:
    """Columns of one name that the car has several of, as lambda, are its first, second and so on, unless copies."""
    understood, header, samples = columns.understood, columns.header, columns.samples
    out: dict[int, Understood] = {}
    for channel in dict.fromkeys(one.channel for one in understood.values()):
        if channel not in CATALOGUE or not CATALOGUE[channel].numbered:
            continue
        alike = [at for at, one in understood.items() if one.channel == channel]
        named = {header.bare[at].strip().casefold() for at in alike}
        others = any(one.channel.startswith(f"{channel}_") for one in understood.values())
        if len(alike) < 2 or len(named) > 1 or others or columns.given.keys() & set(alike):
            continue
        in_si = [samples[at] * understood[at].conversion.scale + understood[at].conversion.offset for at in alike]
        if any(_is_copy(one, other) for one, other in itertools.combinations(in_si, 2)):
            continue
        text = (
            f"{len(alike)} columns are named {header.bare[alike[0]]} and hold different values: they are taken for "
            f"{channel.replace('_', ' ')} 1 to {len(alike)} in the order in which they stand."
        )
        for number, at in enumerate(alike, start=1):
            found = (Finding("numbered-in-order", "note", text, header.names[at]),) if number == 1 else ()
            own = understood[at]
            out[at] = replace(own, channel=f"{channel}_{number}", findings=(*own.findings, *found))
    return columns.with_read(out)


def _is_copy(one: FloatArray, other: FloatArray) -> bool:
    if one.size != other.size or not one.size:
        return False
    return bool(np.mean(np.abs(one - other) <= AS_PRINTED * float(np.median(np.abs(one)))) >= ALIKE)


def _tell_units_of_other_kinds(columns: Columns) -> Columns:
    """Tell of columns named as a channel that no other column is, whose unit is of something else: "Throttle [V]"."""
    understood, header, samples = columns.understood, columns.header, columns.samples
    held = {family_of(column.channel) for column in understood.values()}
    out: dict[int, Understood] = {}
    for at, column in understood.items():
        unit = header.units[at]
        if column.channel == "engine_speed" and plain_unit(unit) == "hz" and at not in columns.given:
            out[at] = replace(column, findings=(*column.findings, _pulses(header.names[at])))
        if column.channel.startswith("wheel_speed") and plain_unit(unit) == "hz" and at not in columns.given:
            out[at] = _wheel_in_hz(column, header.names[at], samples[at], _top_speed_mps(columns))
        if column.confidence > 0.0 or column.findings or column.asked_with or at in columns.given or not unit:
            continue
        named = [match for match in recognise_name(header.bare[at]) if match.confidence >= WEAK]
        kinds = {family_of(match.channel) for match in named}
        if is_turning(unit) and kinds <= SWITCHED_AT:
            continue  # "Launch RPM": what a launch is set to
        if not kinds or kinds & (held | {"time", "latitude", "longitude", "fuel_flow"}):
            continue
        what = family_of(named[0].channel).replace("_", " ")
        text = (
            f"{header.names[at]} is named as {what} is, but {unit} is a unit of something else. It stays under its own "
            "header. Log it in a unit of that kind, or tell what it is."
        )
        found = (Finding("unit-not-known", "caution", text, header.names[at]),)
        out[at] = replace(column, findings=found)
    return columns.with_read(out)


def _units_jointly(columns: Columns) -> Columns:
    """Speeds and temperatures without a unit follow the log's others: mph and degF where these are written or sure."""
    fahrenheit = conversion_for("degF", kept="K")
    mph = conversion_for("mph", kept="m/s")
    american = {conversion.scale for conversion in (fahrenheit, mph) if conversion is not None}
    understood, header = columns.understood, columns.header
    if not any(column.unit in ("K", "m/s") and column.conversion.scale in american for column in understood.values()):
        return columns
    out: dict[int, Understood] = {}
    for at, column in understood.items():
        follows = {"K": (fahrenheit, "degF"), "m/s": (mph, "mph")}.get(column.unit)
        guessed = column.unit_guessed is not None
        if follows is None or follows[0] is None or not guessed or column.conversion.scale in american:
            continue
        found = (*unit_assumed(header.names[at], follows[1]), *column.findings[1:])
        out[at] = replace(column, conversion=follows[0], findings=found, unit_guessed=follows[1])
    return columns.with_read(out)


def _pulses(header: str) -> Finding:
    """Told of an engine speed in Hz: what a pick-up counts need not be turns."""
    text = (
        f"{header} is in Hz and is read as turns of the crankshaft a second. If its sensor gives several pulses a "
        "turn, or one every second turn, it is that many times too fast or slow. Log it in rev/min to be sure."
    )
    return Finding("unit-unusual", "caution", text, header)


QUICKEST_WHEEL_HZ = 90.0
"""No wheel turns oftener a second: 160 m/s, faster than any car on a strip, on a tire of 1.8 m around. [Hz]"""


TURN_M = (1.5, 2.8)
"""What a wheel of a car or motorcycle goes in a turn. Two pulses a turn of the largest would make 1.4 of it. [m]"""
TOP_SHARE = 0.98
"""A log's greatest speed is that quantile of it: spikes are rarer. [-]"""


def _top_speed_mps(columns: Columns) -> float | None:
    """The greatest speed of the car by its receiver; None where none is logged."""
    for at, column in columns.understood.items():
        if column.channel == "gps_speed" and column.unit == "m/s" and columns.samples[at].size:
            return float(quantiles(columns.samples[at], (TOP_SHARE,))[0]) * column.conversion.scale
    return None


def _wheel_in_hz(column: Understood, header: str, values: FloatArray, top_mps: float | None) -> Understood:
    """A wheel's turns or the pulses of its sensor, which may be many a turn: set aside where turns cannot be.

    Where the same log's receiver shows that each goes as far as a turn does, turns they are.
    """
    most = float(values.max()) if values.size else 0.0
    if most > QUICKEST_WHEEL_HZ:
        text = (
            f"{header} goes up to {most:.4g} Hz, more than any wheel turns: its sensor gives several pulses a turn, "
            "and how many stands nowhere. It is not used. Log it as a speed, or in rev/min."
        )
        return replace(
            column,
            channel=own_name(header),
            unit=column.unit_written,
            conversion=AS_WRITTEN,
            confidence=0.0,
            findings=(Finding("wheel-pulses", "caution", text, header),),
        )
    usual = float(quantiles(values, (TOP_SHARE,))[0]) if values.size else 0.0
    if top_mps is not None and TURN_M[0] * usual < top_mps < TURN_M[1] * usual:
        return column
    text = (
        f"{header} is in Hz and is read as turns of the wheel a second. If its sensor gives several pulses a turn, it "
        "is that many times too fast. Log it as a speed, or in rev/min, to be sure."
    )
    return replace(column, findings=(*column.findings, Finding("wheel-pulses", "caution", text, header)))


_COPY = re.compile(r"(?:\.\d{1,2}| \(\d{1,2}\))$")
"""How programs, and this reader, tell columns of one name apart."""
SWITCHED_AT = frozenset({"launch_switch", "shift_cut", "clutch"})
"""Switches whose name stands before an engine speed at which they are set to work."""
ROUNDED = 0.51
"""Share of a printed step by which a value may be off its own rounding; half, and what doubles lose. [-]"""
_SPEED_WORDS_OF_NO_WHEEL = (
    "ground",
    "true",
    "gps",
    "undriven",
    "corr",
    "over",
    "radar",
    "optical",
    "fifth",
    "non",
    "free",
    "reference",
    "ref",
)


def _read_speeds_jointly(columns: Columns) -> Columns:
    """A speed without a wheel's name is judged by the company it keeps: an engine computer has the driven wheel's."""
    understood, header, given = columns.understood, columns.header, columns.given
    families = {family_of(column.channel) for column in understood.values()}
    engine_log = len(families & ENGINE_KINDS) >= 2
    own_speeds = (
        any(family.startswith("wheel_speed_") and family != "wheel_speed_driven" for family in families)
        or "gps_speed" in families
    )
    out = dict(understood)
    wheels = [at for at in understood if at not in given and _is_plain_wheel(understood[at], header.bare[at])]
    speeds = [at for at in understood if at not in given and _is_plain_speed(understood[at], header.bare[at])]
    for alike in (wheels, speeds):
        if (
            len(alike) > 1
            and not _printed_twice(alike, columns)
            and any(is_one_of_several(header.bare[at]) for at in alike)
        ):
            out |= _wheels_not_given(alike, columns)
    for at, column in understood.items():
        if at in given or out[at] is not column:
            continue
        plain_wheel, plain_speed = at in wheels, at in speeds
        if plain_speed and not engine_log and families & {"latitude", "satellites"} and "gps_speed" not in families:
            out[at] = replace(column, channel="gps_speed", confidence=round(0.8 * column.confidence, 3))
        elif plain_wheel or (plain_speed and engine_log and not own_speeds):
            text = (
                f"{header.names[at]} does not say of which wheel it is; it is taken as the driven wheel's, which slips."
            )
            found = (*column.findings, Finding("speed-of-which-wheel", "note", text, header.names[at]))
            out[at] = replace(
                column, channel="wheel_speed_driven", confidence=round(0.65 * column.confidence, 3), findings=found
            )
        elif plain_speed:
            out[at] = replace(column, confidence=round(0.7 * column.confidence, 3))
    return columns.with_read(out)


def _printed_twice(alike: list[int], columns: Columns) -> bool:
    """Whether all have one name, told apart as programs tell copies, and are one speed, rounded more or less.

    No two then lie further apart than half the coarser one's steps.
    """
    if len({_COPY.sub("", columns.header.bare[at]).casefold() for at in alike}) > 1:
        return False
    in_si = [columns.samples[at] * columns.understood[at].conversion.scale for at in alike]
    if len({one.size for one in in_si}) > 1 or not in_si[0].size:
        return False
    steps = [float(np.diff(np.unique(one)).min(initial=np.inf)) for one in in_si]
    return all(
        bool(np.all(np.abs(one - other) <= ROUNDED * max(step, other_step)))
        for (one, step), (other, other_step) in itertools.combinations(zip(in_si, steps, strict=True), 2)
        if np.isfinite(max(step, other_step))
    ) and all(map(np.isfinite, steps))


def _is_plain_wheel(column: Understood, bare: str) -> bool:
    """Whether a column is some wheel's speed without a word of which."""
    words = bare.casefold()
    return column.channel == "wheel_speed_driven" and not any(
        word in words for word in {"driv", "powered", "slick", *SAYS_DRIVEN}
    )


def _is_plain_speed(column: Understood, bare: str) -> bool:
    """Whether a column is a speed without a word of where it is measured."""
    words = bare.casefold()
    return column.channel == "ground_speed" and not any(
        word in words for word in {*_SPEED_WORDS_OF_NO_WHEEL, *SAYS_UNDRIVEN}
    )


def _wheels_not_given(alike: list[int], columns: Columns) -> dict[int, Understood]:
    """Speeds told apart by side or number alone under their own headers: one may slip and another not."""
    understood, header = columns.understood, columns.header
    names = [header.names[at] for at in alike]
    text = (
        f"{', '.join(names[:-1])} and {names[-1]} do not say of which axle they are; one may slip and another not, so "
        "none is used. Tell which channel each is: wheel_speed_driven, or wheel_speed_fl, _fr, _rl, _rr."
    )
    apart = {
        at: replace(understood[at], channel=own_name(header.names[at]), confidence=0.0, findings=()) for at in alike
    }
    findings = (Finding("speed-of-which-wheel", "caution", text, names[0]),)
    asked = {at: replace(apart[at], asked_with=findings) for at in alike[1:]}
    return {**asked, alike[0]: replace(apart[alike[0]], findings=findings)}


_PEDALS = re.compile(
    r"(?i)pedal|accelerator|gas[ _]|^apps?$|^pps$|^aps$|pédale|педал|fahrp|(?:^|[ _])(?:ped|fp)(?:[ _\d]|$)"
)
"""Names of what the driver's foot moves: beside the throttle's plate, which the engine breathes through."""


_SHOWN = re.compile(r"(?i)(?<![^\W_])(?:dash|dashboard|cluster|display|displayed|shown)(?![^\W_])")
"""Names of what a dash shows: beside the same from where it is measured, a copy that is late and rounded."""
_INLET = re.compile(r"(?i)(?<![^\W_])(?:in|inlet|into|return|eintritt|rücklauf|entrada|entrée|ingresso)(?![^\W_])")
"""Names of coolant on its way into the engine: beside what leaves it, which is as hot as the engine."""
FROM_ELSEWHERE = 0.1
"""Confidence by which a dash's column must be the surer to be taken all the same. [-]"""


def _surer(at: int, held: int, columns: Columns) -> bool:
    """Whether one column is surer than another that means the same; a throttle's plate is surer than the pedal."""
    one, other = columns.understood[at], columns.understood[held]
    if one.channel == "throttle" and not {at, held} & columns.given.keys():
        pedals = [_PEDALS.search(columns.header.bare[place]) is not None for place in (at, held)]
        if pedals[0] != pedals[1]:
            return pedals[1]
    if one.channel == "coolant_temperature" and not {at, held} & columns.given.keys():
        inlets = [_INLET.search(columns.header.bare[place]) is not None for place in (at, held)]
        if inlets[0] != inlets[1]:
            return inlets[1]
    shown = [_SHOWN.search(columns.header.bare[place]) is not None for place in (at, held)]
    if shown[0] != shown[1] and abs(one.confidence - other.confidence) < FROM_ELSEWHERE:
        return shown[1]
    return one.confidence > other.confidence


def _one_of_each(columns: Columns) -> Columns:
    """Give each catalogue name to the surest column; others keep their own header."""
    understood, header = columns.understood, columns.header
    best: dict[str, int] = {}
    for at, column in understood.items():
        held = best.get(column.channel)
        if held is None or _surer(at, held, columns):
            best[column.channel] = at
    out: dict[int, Understood] = {}
    spare: list[str] = []
    for at, column in understood.items():
        if best[column.channel] == at:
            out[at] = column
        else:
            spare.append(f"{header.names[at]} (as {header.names[best[column.channel]]})")
            out[at] = replace(column, channel=own_name(header.names[at]), findings=())
    if spare:
        text = (
            f"{len(spare)} column{'s mean' if len(spare) > 1 else ' means'} the same as another and kept the "
            f"own header as name: {', '.join(spare[:4])}."
        )
        first = next(iter(out))
        out[first] = replace(
            out[first], findings=(*out[first].findings, Finding("same-channel-twice", "note", text, ""))
        )
    return columns.with_read(out)
