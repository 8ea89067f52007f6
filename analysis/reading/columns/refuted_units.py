"""Written units that their own values refute: mended where one other unit alone fits, refused where none does.

A log that holds an engine at idle and at full load shows each quantity's whole range: manifold pressure comes near the
air outside, oil pressure follows engine speed. A reading far off that range is no reading of such an engine.

Public: `without_refuted_units`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from passband.analysis.channels.catalogue import family_of, kind_of
from passband.analysis.channels.recognition import NameMatch
from passband.analysis.channels.units import NO_UNIT, conversion_for, plain_unit
from passband.analysis.quantities import Conversion, FloatArray
from passband.analysis.reading.columns.plausibility import MOSTLY_IMPOSSIBLE, understand_as
from passband.analysis.reading.columns.understood import AS_WRITTEN, Columns, Understood, own_name
from passband.analysis.reading.columns.unit_by_values import share_possible
from passband.analysis.reading.columns.warm_engine import would_be_warm
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.fits import middle, quantiles

LOADED_RPM = 4000.0
"""A log whose engine reaches this holds load. [rev/min]"""
IDLE_SHARE = 0.5
"""One that falls below this share of its highest holds idle too. [-]"""
FOLLOWS, PUSHED = 0.5, 0.35
"""Of a column's range, the part by which it must move with the engine's load or speed to be its working sensor; an
accelerometer's range holds braking too. [-]"""
STEADY = 0.5
"""A pressure that nothing moves is a sensor's own if its least is above this share of its greatest. [-]"""
UNMOVED = 0.8
"""The least of an oil's pressure by its greatest that it never has between idle and load: its pump turns four times as
fast. Chosen by hand, no source. [-]"""
FEWEST_BESIDE = 2
"""Temperatures of a log whose unit is refuted that speak for a third in it: one may have a wrong unit of its own."""
FEWEST = 20
"""Values that show a range."""
FAR_OFF = 0.5
"""Part of a temperature's range by which an open contact's reading stands alone, and of its values that may be it."""
DOUBTED, UNUSUAL = 0.6, 0.8
"""Factors on the confidence of a column whose written unit was not believed, or is asked about."""
MENDED = (
    "{header} cannot be in {unit}: over idle and full load it would go from {low} to {high}, which no engine does. "
    "Its figures, {figures}, fit {taken} alone and are read so; check the unit in the logger."
)
AS_NEIGHBOURS = (
    "{header} would go from {low} to {high} in {unit}, and another pressure of this log cannot be in {unit}. Like that "
    "one it is read in {taken}; check the unit in the logger."
)
AS_HEAT_BESIDE = (
    "{header} is in {unit}, and {many} other temperatures of this log cannot be in {unit}. Like them it is read in "
    "{taken}, in which its figures, {figures}, are usual too; check the unit in the logger."
)
WITH_ANOTHER = (
    "{header} is in {unit}, like another temperature of this log that is unusual so. Its figures, {figures}, are usual "
    "in degC too. It is read as written; check the unit in the logger."
)
WITH_MANIFOLD = (
    "{header} in {unit} would rise by {compared} than the manifold's pressure does; in {taken} it rises as much, as "
    "behind a regulator that follows the manifold. It is read in {taken}; check the unit in the logger."
)
TURNED_ROUND = (
    "{} is wide open where the engine idles and shut where it turns fastest, as if it were counted from the other end. "
    "It is read as written; check the sensor's two ends in the logger."
)
REFUSED = (
    "{header} cannot be in {unit}: it would go from {low} to {high}, which no engine does, and {others}. It is set "
    "aside under its own header. Tell its unit, or mend it in the logger."
)


SWAPPED = (
    "{header} cannot be in {unit}: it would go from {low} to {high}, which no engine does. Its figures, {figures}, are "
    "those of {other}, and that one's move with engine speed as this pressure does. They are read with their headers "
    "changed over; check both in the logger."
)


@dataclass(frozen=True, slots=True)
class _Range:
    """Where the least and the greatest of a quantity lie, in the catalogue's unit."""

    can_be: tuple[float, float, float, float]
    """Least from, to, greatest from, to: outside of it a written unit is refuted."""
    usual: tuple[float, float, float, float]
    """The same within which another unit is believed."""
    units: tuple[str, ...]
    """Units that may have been meant; of those that fit, the first of one system stands for it."""
    follows: str = ""
    """What it rises with: load, speed, push (load, unless it is far too large); or steady."""


@dataclass(frozen=True)
class _Written:
    """One column as its logger wrote it, and what it is taken for."""

    column: Understood
    header: str
    unit: str
    values: FloatArray

    @cached_property
    def edges(self) -> tuple[float, float]:
        """From where to where it goes, in its own unit; stray samples left aside."""
        least, most = quantiles(self.values, (0.01, 0.99))
        return float(least), float(most)

    def shown(self, written: Conversion) -> dict[str, str]:
        """The same in words, read as written."""
        return _shown(*self.edges, written, self.column.unit)


_PRESSURES = ("kPa", "psi", "bar", "mbar", "Pa")
_TEMPERATURES = ("degC", "degF", "K")
_RANGES: dict[str, _Range] = {
    "manifold_pressure": _Range((4e3, 1.5e5, 4.2e4, 9e5), (8e3, 1.1e5, 7e4, 6.5e5), _PRESSURES, "load"),
    "boost": _Range((-1.05e5, 6e4, 3e3, 7e5), (-9.5e4, 3e4, 2e4, 5.5e5), _PRESSURES, "load"),
    "oil_pressure": _Range((-1e5, 1.2e6, 3e4, 1.8e6), (2e4, 8e5, 1.5e5, 1.1e6), _PRESSURES, "speed"),
    "fuel_pressure": _Range((-1e5, 3e7, 5e4, 3.5e7), (1e5, 1.2e6, 1.5e5, 2e6), _PRESSURES, "steady"),
    "coolant_temperature": _Range((240.0, 400.0, 250.0, 415.0), (263.0, 390.0, 273.0, 400.0), _TEMPERATURES),
    "oil_temperature": _Range((240.0, 425.0, 250.0, 450.0), (263.0, 410.0, 273.0, 430.0), _TEMPERATURES),
    "intake_temperature": _Range((230.0, 400.0, 240.0, 490.0), (253.0, 370.0, 258.0, 450.0), _TEMPERATURES),
    "exhaust_temperature": _Range((240.0, 1250.0, 280.0, 1450.0), (260.0, 1200.0, 450.0, 1330.0), _TEMPERATURES),
    "acceleration": _Range((-60.0, 40.0, 1.5, 70.0), (-35.0, 3.0, 2.0, 55.0), ("m/s2", "g", "mG"), "push"),
    "throttle": _Range((-0.1, 1.1, 0.04, 1.3), (-0.06, 0.5, 0.4, 1.1), ("share", "%", "‰"), "load"),
    "injector_duty": _Range((-0.1, 1.2, 0.02, 2.0), (-0.01, 0.4, 0.2, 1.3), ("share", "%", "‰"), "load"),
    "barometer": _Range((5.5e4, 1.1e5, 5.5e4, 1.1e5), (6e4, 1.08e5, 6e4, 1.08e5), (*_PRESSURES, "inHg", "mmHg")),
}  # fmt: skip
"""Common practice of engine builders, as in `unit_of_a_kind`; what can be is wider than of any engine, from memory."""
_BYTE = 255.0
"""What a count of one byte shows at its full scale. By definition."""
_OF_BYTE = "counts of 255"
_SHARES = {"share": 1.0, "%": 0.01, "‰": 0.001, _OF_BYTE: 1.0 / _BYTE}
_TOLD = frozenset({"boost", "manifold_pressure", "oil_pressure", "fuel_pressure"})
"""Where a reading that can be, but would be unusual where another unit's is usual, is told."""
_OPENINGS = frozenset({"throttle", "injector_duty"})
"""What no engine reaches full load without, so that a hundredth of it is told whatever it moves with."""
_RAIL = re.compile(r"(?i)rail|direct|high|hoch|\bhp|\bd\.?i\b|gdi")
"""Names of a pump's high side, whose bars are as many as psi elsewhere."""
AS_MUCH, MOVES_ALIKE = (0.8, 1.25), 0.9
"""How much a fuel pressure behind a regulator that follows the manifold rises with it, and the least correlation at
which the two are held against each other. [-], [-]"""
_SAME_ZERO = {"K": "degC"}
"""A kelvin without its 273.15 is likelier than a change of scale."""


def without_refuted_units(columns: Columns) -> Columns:
    """Read columns in another unit where the written one cannot be.

    Parameters
    ----------
    columns : Columns
        Each column, read in its written unit.

    Returns
    -------
    Columns
        The same columns. A column of several or no fitting units keeps its own header. Every change is told.

    Notes
    -----
    A range that idle and full load must show is asked for only where engine speed shows both; a value that never
    changes is left to the sensors' health.
    """
    understood, header, samples = columns.understood, columns.header, columns.samples
    engine = next((at for at, column in understood.items() if column.channel == "engine_speed"), None)
    turning = samples[engine] * understood[engine].conversion.scale if engine is not None else np.empty(0)
    if not _idles_and_pulls(turning):
        return columns
    swapped = _headers_swapped(columns, turning)
    out = {**understood, **swapped}
    order = sorted(understood.keys() - swapped.keys(), key=lambda at: (understood[at].channel != "throttle", at))
    load = turning
    for at in order:
        column, ranges = out[at], _RANGES.get(family_of(out[at].channel))
        if ranges is None or at in columns.given or not header.units[at] or samples[at].size < FEWEST:
            continue
        angle = column.channel == "throttle" and any(one.code == "unit-unusual" for one in column.findings)
        if angle:  # it was read as one, which its unit's size in radians would refute
            load = samples[at] * column.conversion.scale
            continue
        if family_of(column.channel) in ("throttle", "acceleration") or plain_unit(header.units[at]) not in NO_UNIT:
            values = _off_the_rail(samples[at]) if ranges.units == _TEMPERATURES else samples[at]
            out[at] = _judged(_Written(column, header.names[at], header.units[at], values), ranges, turning, load)
        if out[at].channel == "throttle":
            load = samples[at] * out[at].conversion.scale
    out |= _fuel_with_manifold(columns.with_read(out))
    for at, column in out.items():
        if column.channel == "throttle" and at not in columns.given and _is_turned_round(samples[at], turning):
            found = Finding("unit-unusual", "caution", TURNED_ROUND.format(header.names[at]), header.names[at])
            out[at] = replace(column, findings=(*column.findings, found))
    out = _heat_as_beside(columns, _as_their_neighbours(columns, out))
    return columns.with_read(_asked_with_their_neighbours(columns, out))


def _heat_as_beside(columns: Columns, out: dict[int, Understood]) -> dict[int, Understood]:
    """Temperatures in the written unit of two others at least that cannot be in it: read as those are."""
    written, header, samples = columns.understood, columns.header, columns.samples
    refuted: dict[tuple[str, str], int] = {}
    for at, column in out.items():
        if column.unit == "K" and "unit-doubted" in {one.code for one in column.findings}:
            for unit in _TEMPERATURES:
                if column.conversion == _conversion(unit, column):
                    pair = (plain_unit(header.units[at]), unit)
                    refuted[pair] = refuted.get(pair, 0) + 1
    for (unit, taken), many in refuted.items():
        for at, column in out.items():
            ranges = _RANGES.get(family_of(column.channel))
            same = column is written[at] and column.unit == "K" and plain_unit(header.units[at]) == unit
            other = _conversion(taken, column)
            if many < FEWEST_BESIDE or not same or ranges is None or at in columns.given or other is None:
                continue
            said = _Written(column, header.names[at], header.units[at], samples[at])
            if samples[at].size >= FEWEST and _within(ranges.usual, *said.edges, other):
                text = AS_HEAT_BESIDE.replace("{many}", str(many))
                out[at] = _read_in(taken, said, column.conversion, text=text)
    return out


def _headers_swapped(columns: Columns, turning: FloatArray) -> dict[int, Understood]:
    """A pressure and a temperature of one fluid that stand under each other's headers, read the other way round."""
    header, samples = columns.header, columns.samples
    said = {
        column.channel: at
        for at, column in columns.understood.items()
        if at not in columns.given and header.units[at] and samples[at].size >= FEWEST
    }
    out: dict[int, Understood] = {}
    for name in _RANGES:
        pressure, temperature = said.get(name), said.get(name.replace("_pressure", "_temperature"))
        if pressure is None or temperature is None or pressure == temperature or _RANGES[name].follows != "speed":
            continue
        of_pressure, of_temperature = (
            _Written(columns.understood[at], header.names[at], header.units[at], samples[at])
            for at in (pressure, temperature)
        )
        ways = [_conversion(one.unit, one.column) for one in (of_pressure, of_temperature)]
        if ways[0] is None or ways[1] is None or _within(_RANGES[name].can_be, *of_pressure.edges, ways[0]):
            continue
        hot = _RANGES[of_temperature.column.channel].usual
        usual = _within(_RANGES[name].usual, *of_temperature.edges, ways[0]) and _within(
            hot, *of_pressure.edges, ways[1]
        )
        stands = of_pressure.edges[0] > UNMOVED * of_pressure.edges[1]
        if usual and stands and _works(of_temperature.values, "speed", turning, turning):
            text = SWAPPED.format(
                header=of_pressure.header,
                unit=of_pressure.unit,
                other=of_temperature.header,
                **of_pressure.shown(ways[0]),
            )
            found = (Finding("headers-swapped", "caution", text, of_pressure.header),)
            out[pressure] = replace(of_temperature.column, conversion=ways[1], findings=found, confidence=DOUBTED)
            asked = replace(of_pressure.column, conversion=ways[0], findings=(), asked_with=found, confidence=DOUBTED)
            out[temperature] = asked
    return out


def _asked_with_their_neighbours(columns: Columns, out: dict[int, Understood]) -> dict[int, Understood]:
    """Temperatures in the written unit of another that is asked about: asked about too where both readings can be."""
    written, header, samples = columns.understood, columns.header, columns.samples
    asked = {
        plain_unit(header.units[at]): column
        for at, column in out.items()
        if column.unit == "K" and "unit-unusual" in {found.code for found in column.findings}
    }
    for at, column in out.items():
        ranges, like = _RANGES.get(family_of(column.channel)), asked.get(plain_unit(header.units[at]))
        if like is None or like is column or ranges is None or column.unit != "K" or at in columns.given:
            continue
        as_celsius = _conversion("degC", column)
        if column is not written[at] or as_celsius in (None, column.conversion) or samples[at].size < FEWEST:
            continue
        said = _Written(column, header.names[at], header.units[at], samples[at])
        if _within(ranges.usual, *said.edges, as_celsius):
            text = WITH_ANOTHER.format(header=said.header, unit=said.unit, figures=said.shown(as_celsius)["figures"])
            found = (*column.findings, Finding("unit-unusual", "caution", text, said.header))
            out[at] = replace(column, confidence=round(UNUSUAL * column.confidence, 3), findings=found)
    return out


def _is_turned_round(opening: FloatArray, turning: FloatArray) -> bool:
    """Whether an opening is wide where the engine idles and shut where it turns fastest."""
    if opening.size != turning.size or opening.size < FEWEST:
        return False
    shut, wide = quantiles(opening, (0.01, 0.99))
    slow, quick = quantiles(turning, (0.1, 0.9))
    idle, fast = opening[turning <= slow], opening[turning >= quick]
    return middle(idle) - middle(fast) > FOLLOWS * float(wide - shut) > 0


def _fuel_with_manifold(columns: Columns) -> dict[int, Understood]:
    """A fuel pressure in the unit in which it rises with the manifold's, where the written one makes it rise manifold.

    A regulator that follows the manifold holds the pressure over the injectors: one kPa of boost is one kPa of fuel.
    """
    understood, header, samples = columns.understood, columns.header, columns.samples
    taken: dict[int, Understood] = {}
    manifold = next((at for at, one in understood.items() if one.channel in ("manifold_pressure", "boost")), None)
    for at, column in understood.items():
        written = _conversion(header.units[at], column) if header.units[at] else None
        if column.channel != "fuel_pressure" or manifold is None or written is None or at in columns.given:
            continue
        air, fuel = samples[manifold] * understood[manifold].conversion.scale, samples[at]
        if column.conversion != written or air.size != fuel.size or not air.size or not min(air.std(), fuel.std()):
            continue
        slope = float(np.corrcoef(air, fuel)[0, 1] * fuel.std() / air.std())
        ways = {unit: way for unit in _PRESSURES if (way := _conversion(unit, column)) is not None}
        fits = [unit for unit, way in ways.items() if AS_MUCH[0] <= slope * way.scale <= AS_MUCH[1]]
        alike = float(np.corrcoef(air, fuel)[0, 1]) >= MOVES_ALIKE
        kept = tuple(one for one in column.findings if one.code != "unit-unusual")
        more, less = slope * written.scale > 2 * AS_MUCH[1], slope * written.scale < 0.5 * AS_MUCH[0]
        if alike and len(fits) == 1 and (more or (less and kept != column.findings)):
            said = _Written(replace(column, findings=kept), header.names[at], header.units[at], fuel)
            text = WITH_MANIFOLD.replace("{compared}", "far more" if more else "far less")
            taken[at] = _read_in(fits[0], said, written, text=text)
    return taken


def _as_their_neighbours(columns: Columns, out: dict[int, Understood]) -> dict[int, Understood]:
    """Pressures whose written unit was refuted for another column: read as that one where it makes them usual.

    A rail of direct injection holds what would be psi read as bar, so that the values of fuel alone refute nothing.
    """
    written, header, samples = columns.understood, columns.header, columns.samples
    taken = {
        plain_unit(header.units[at]): unit
        for at, column in out.items()
        for unit in _PRESSURES
        if column.unit == "Pa"
        and column is not written[at]
        and "unit-doubted" in {finding.code for finding in column.findings}
        and column.conversion == _conversion(unit, column)
    }
    for at, column in out.items():
        ranges, unit = _RANGES.get(family_of(column.channel)), taken.get(plain_unit(header.units[at]))
        if (
            ranges is None
            or unit is None
            or column.conversion != written[at].conversion
            or column.unit != "Pa"
            or at in columns.given
        ):
            continue
        said = _Written(column, header.names[at], header.units[at], samples[at])
        as_written, other = _conversion(said.unit, column), _conversion(unit, column)
        if as_written is None or other is None or not samples[at].size:
            continue
        if not _within(ranges.usual, *said.edges, as_written) and _within(ranges.usual, *said.edges, other):
            out[at] = _read_in(unit, said, as_written, text=AS_NEIGHBOURS)
    return out


def _idles_and_pulls(rpm: FloatArray) -> bool:
    if rpm.size < FEWEST:
        return False
    low, high = quantiles(rpm, (0.02, 0.98))
    return bool(high >= LOADED_RPM and low <= IDLE_SHARE * high)


def _off_the_rail(values: FloatArray) -> FloatArray:
    """Values without those at one end of a sensor's range, alike and far from all others: its contact was open."""
    distinct = np.unique(values)
    if distinct.size < 3:
        return values
    gaps, reach = np.diff(distinct), float(distinct[-1] - distinct[0])
    for end, gap in ((distinct[0], gaps[0]), (distinct[-1], gaps[-1])):
        if gap > FAR_OFF * reach and 1 < np.count_nonzero(values == end) < FAR_OFF * values.size:
            return np.asarray(values[values != end], dtype=np.float64)
    return values


def _judged(said: _Written, ranges: _Range, turning: FloatArray, load: FloatArray) -> Understood:
    """The column as it is, in the one unit that fits, or under its own header."""
    column, unit, values = said.column, said.unit, said.values
    family = family_of(column.channel)
    kind = kind_of(column.channel)
    written = _conversion(unit, column)
    least, most = said.edges
    if kind is None or written is None or (least == most and family != "barometer"):
        return column
    if _within(ranges.can_be, least, most, written):
        if would_be_warm(family, least, most, written):
            return _doubted(said, "degC", written)
        if family not in _TOLD or _within(ranges.usual, least, most, written):
            return column
        fitting = _fitting(ranges, said)
        moves = len(fitting) == 1 and (family == "fuel_pressure" or _works(values, ranges.follows, turning, load))
        return _doubted(said, fitting[0], written) if moves and not _is_rail(said) else column
    fitting = _fitting(ranges, said)
    impossible = share_possible(values, written, kind) < MOSTLY_IMPOSSIBLE
    too_large = most * written.scale + written.offset > ranges.can_be[3]
    works = _works(values, ranges.follows, turning, load) or (too_large and ranges.follows == "push")
    if len(fitting) == 1 and works:
        return _read_in(fitting[0], said, written)
    if column.findings and not fitting:
        return column  # another unit was taken already, by what can be at all
    if not impossible:
        asked = fitting and (works or family in _OPENINGS)
        return _doubted(said, " or ".join(fitting), written) if asked else column
    others = f"fits {' and '.join(fitting)} alike" if fitting else "no other usual unit fits"
    text = REFUSED.format(header=said.header, unit=unit, others=others, **said.shown(written))
    found = (Finding("unit-refuted", "caution", text, said.header),)
    return Understood(own_name(said.header), unit, unit, AS_WRITTEN, 0.0, found)


def _is_rail(said: _Written) -> bool:
    return family_of(said.column.channel) == "fuel_pressure" and _RAIL.search(said.header) is not None


def _doubted(said: _Written, other: str, written: Conversion) -> Understood:
    """A column left as written, with a word that another unit would be likelier."""
    column, shown = said.column, said.shown(written)
    text = (
        f"{said.header} holds {shown['figures']}. In {said.unit}, as written, that is {shown['low']} to "
        f"{shown['high']}, which is unusual; in {other} it would not be. It is read as written; check the unit in the "
        "logger."
    )
    found = (*column.findings, Finding("unit-unusual", "caution", text, said.header))
    return replace(column, confidence=round(UNUSUAL * column.confidence, 3), findings=found)


def _conversion(unit: str, column: Understood) -> Conversion | None:
    if unit in _SHARES:
        return Conversion(_SHARES[unit], 0.0, "")
    return conversion_for(unit, kept=column.unit)


def _within(ranges: tuple[float, float, float, float], least: float, most: float, conversion: Conversion) -> bool:
    low, high = (edge * conversion.scale + conversion.offset for edge in (least, most))
    return ranges[0] <= low <= ranges[1] and ranges[2] <= high <= ranges[3]


def _fitting(ranges: _Range, said: _Written) -> list[str]:
    """Units in which the values are usual; of kelvin and a scale of its size, the one with its steps."""
    (least, most), unit, column = said.edges, said.unit, said.column
    trials = {other: _conversion(other, column) for other in ranges.units}
    fits = [one for one, way in trials.items() if way is not None and _within(ranges.usual, least, most, way)]
    if not fits and bool(np.all(said.values % 1.0 == 0.0)):  # tenths, or a byte, as controllers keep them
        tenths, way = f"0.1 {unit.strip('[]() ')}", _conversion(f"0.1 {unit.strip('[]() ')}", column)
        if ranges.units == _TEMPERATURES and way is not None and _within(ranges.usual, least, most, way):
            fits = [tenths]
        elif most == _BYTE and "share" in ranges.units:
            fits = [_OF_BYTE]
    near = _SAME_ZERO.get(unit.strip().strip("[]()°"))
    return [near] if near in fits else fits


def _works(values: FloatArray, follows: str, turning: FloatArray, load: FloatArray) -> bool:
    """Whether a column moves as a working sensor of the engine does; one that need not move always does."""
    if follows == "steady":
        least, most = quantiles(values, (0.05, 0.95))
        return bool(least > STEADY * most)
    by = {"load": load, "push": load, "speed": turning}.get(follows)
    if by is None:
        return True
    if by.size != values.size:
        return False
    # a short log idles for a tenth of it, and holds the engine high before its launch
    little, much = quantiles(by, (0.1, 0.9) if by is turning else (0.2, 0.7))
    lowest, highest = quantiles(values, (0.01, 0.99))
    least = PUSHED if follows == "push" else FOLLOWS
    return middle(values[by >= much]) - middle(values[by <= little]) >= least * float(highest - lowest)


def _read_in(taken: str, said: _Written, written: Conversion, *, text: str = MENDED) -> Understood:
    """The column in another unit, and a word of it."""
    column, header, unit = said.column, said.header, said.unit
    match = NameMatch(column.channel, column.confidence)
    if taken in _SHARES:
        read: Understood | None = replace(column, conversion=Conversion(_SHARES[taken], 0.0, ""))
        taken = {"share": "a share of 1 (0-1)"}.get(taken, taken)
    else:
        read = understand_as(match, header, taken, said.values)
    if read is None:
        return column
    text = text.format(header=header, unit=unit, taken=taken, **said.shown(written))
    others = tuple(one for one in read.findings if one.code not in ("unit-doubted", "unit-assumed"))
    found = (Finding("unit-doubted", "caution", text, header), *others)
    return replace(
        read, unit_written=unit, confidence=round(DOUBTED * column.confidence, 3), findings=found, unit_guessed=None
    )


def _plain_number(value: float) -> str:
    """Three figures of a number, without a power of ten."""
    return f"{float(f'{value:.3g}'):.10g}"


def _shown(least: float, most: float, written: Conversion, kept: str) -> dict[str, str]:
    low, high = (edge * written.scale + written.offset for edge in (least, most))
    figures = {"figures": f"{_plain_number(least)} to {_plain_number(most)}"}
    if kept == "":
        return figures | {"low": f"{_plain_number(100 * low)} %", "high": f"{_plain_number(100 * high)} %"}
    if kept == "K":
        return figures | {"low": f"{low - 273.15:.0f} degC", "high": f"{high - 273.15:.0f} degC"}
    if kept == "Pa":
        return figures | {"low": f"{_plain_number(low / 1e3)} kPa", "high": f"{_plain_number(high / 1e3)} kPa"}
    return figures | {"low": f"{_plain_number(low)} {kept}", "high": f"{_plain_number(high)} {kept}"}
