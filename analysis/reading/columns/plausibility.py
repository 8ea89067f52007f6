"""What a column is, by its name, its unit and what its values can be.

Public: `understand_columns`, `understand_as`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache

import numpy as np

from passband.analysis.channels.catalogue import CATALOGUE, ChannelKind, family_of, kind_of
from passband.analysis.channels.plain_words import plain_words
from passband.analysis.channels.recognition import WEAK, NameMatch, channel_named, recognise_name
from passband.analysis.channels.telling_words import SHORT_FOR
from passband.analysis.channels.units import (
    NO_UNIT,
    STOICHIOMETRIC_AFR,
    conversion_for,
    is_turning,
    is_unit,
    is_volume_flow,
    plain_unit,
    read_unit,
    stoichiometric_in,
)
from passband.analysis.quantities import Conversion, FloatArray
from passband.analysis.reading.columns.shaft_as_road_speed import shaft_as_road_speed
from passband.analysis.reading.columns.turned_signs import Vacuum, as_vacuum, vacuum_unit
from passband.analysis.reading.columns.understood import AS_WRITTEN, Columns, Understood, own_name
from passband.analysis.reading.columns.unit_by_values import likely_unit, share_possible, unit_assumed
from passband.analysis.reading.text.header import Header
from passband.analysis.results.doubt import AS_LOGGED
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.fits import quantiles

SAMPLE = 1200
"""Values of a column that are looked at to judge what it can be."""
UNIT_ASSUMED = 0.8
"""Factor on the confidence where the unit had to be taken from the values."""
SHORT = 0.45
"""Confidence of a word that is short for one channel or for another thing."""
BY_UNIT_COST = 0.1
"""What it takes off where the unit and not the name says what is measured."""
_WORD_OF_UNIT = (("pressure", "Pa"), ("temperature", "K"), ("speed", "m/s"), ("speed", "rpm"), ("flow", "kg/s"))
_SWITCHED = frozenset("relay fan lap button switch mode status state flag counter beacon marker trigger".split())
"""Words of what is on or off or counted, and so in no unit of a quantity."""
WIDE_OPEN_DEG = 90.0
"""A throttle's plate stands along the flow at so many degrees: no wider opening is one. By geometry. [deg]"""
_ANGLES = frozenset({"deg", "°", "degree", "degrees", "grad"})
MOST_MOVED_DEG = 0.1
"""A position moves less in a log: 0.1 degrees of latitude are 11 km."""

LATEST_DEG, FEWEST_OF_SIGN = -5.0, 20
"""Half of a log's sparks do not come later than so far behind top dead centre, if hardly one comes before it: a launch
or a shift is retarded further, but not the pull. Common practice. [deg], and values that show it."""
NOTHING_BELOW_PA = -1.1e5
"""No pressure lies further below the air outside than that air's own: 1.08 bar at the most, where cars race. [Pa]"""
RICHEST_LAMBDA = 0.65
"""Petrol burns no richer most of the time: a ratio below it is another fuel's, and asked about. Common practice. [-]"""
LAMBDA_MIDDLE, AFR_MIDDLE = (0.65, 1.06), (1.08, 1.8)
"""Where the median of a log lies, of lambda and of a tenth of the air to fuel ratio of petrol: an engine is richer
than stoichiometric under load and not much leaner at idle. Common practice. [-], [-]"""
MOSTLY_IMPOSSIBLE, ALL_BUT_POSSIBLE = 0.2, 0.95
"""Shares of possible values below which a written unit is not believed, and above which another is."""
_SAME_KIND: dict[str, tuple[str, ...]] = {
    "K": ("degF", "degC", "K"), "Pa": ("kPa", "psi", "bar", "mbar", "Pa"), "V": ("mV",), "m/s^2": ("m/s2", "g"),
    "m/s": ("km/h", "mph"),
}  # fmt: skip
"""Units of one kind, likeliest first."""


def understand_columns(header: Header, samples: Mapping[int, FloatArray], given: Mapping[int, str]) -> Columns:
    """Say of each column which channel it is and how it becomes SI.

    Parameters
    ----------
    header : Header
        Names and units.
    samples : dict of int to array
        Finite values of each column of numbers, as written, thinned.
    given : dict of int to str
        What the user said a column is.

    Returns
    -------
    Columns
        Each column of `samples` on its own, but for those that the user ignores; several may mean one channel.
    """
    understood = {
        at: _understand(header.names[at], header.bare[at], header.units[at], values, given.get(at))
        for at, values in samples.items()
        if given.get(at) != "ignore"
    }
    return Columns(understood, header, samples, given)


def _understand(header: str, bare: str, unit: str, values: FloatArray, given: str | None) -> Understood:
    unknown = Understood(own_name(header), unit, unit, AS_WRITTEN, 0.0)
    if given == AS_LOGGED:
        return replace(unknown, confidence=1.0)
    if given is not None:
        return _as_given(header, unit, values, given)
    matches = [match for match in recognise_name(bare) if match.channel != "time"]
    found = [trial for match in matches if (trial := _as_named(match, header, unit, values)) is not None]
    if not found:
        by_unit = _matches_by_unit(bare, unit)
        found = [trial for match in by_unit if (trial := _as_named(match, header, unit, values)) is not None]
    if not found and (shaft := shaft_as_road_speed(bare, unit)) is not None:
        return understand_as(shaft, header, unit, values) or unknown
    if not found and not matches:
        short = _short_for(bare)
        found = [trial for match in short if (trial := _as_named(match, header, unit, values)) is not None]
    gauge = "" if found or matches else unit or vacuum_unit(bare, values)
    if gauge and (vacuum := as_vacuum(bare, gauge, values)) is not None:
        return _below_the_air(vacuum, header, gauge, said=bool(unit))
    if not found and is_volume_flow(unit) and any(match.channel == "fuel_flow" for match in matches):
        return replace(unknown, findings=_by_volume(header, unit))
    if not found and matches and unit and not is_unit(unit):
        return replace(unknown, findings=_unit_not_known(matches[0], header, unit))
    if not found and matches and not unit and matches[0].confidence > WEAK and values.size:
        return replace(unknown, findings=_fits_no_unit(matches[0], header, values))
    return max(found, key=lambda trial: trial.confidence, default=unknown)


def _short_for(bare: str) -> tuple[NameMatch, ...]:
    """``Duty``: a word that people write alone for one channel, and that another thing has as well."""
    short = SHORT_FOR.get(" ".join(plain_words(bare)))
    if short is None:
        return ()
    channel, or_else = short
    return (NameMatch(channel, SHORT, completed=channel.replace("_", " "), or_else=or_else),)


def _as_named(match: NameMatch, header: str, unit: str, values: FloatArray) -> Understood | None:
    """A column as the channel its name means; told where words of the name had to be completed."""
    found = understand_as(match, header, unit, values)
    if found is None or not match.completed:
        return found
    how = "is not spelled as any known name" if match.misspelt else "is written short"
    kind = family_of(found.channel).replace("_", " ")
    text = f"{header} {how}; it is read as {kind}{'' if match.completed == kind else f' ({match.completed})'}."
    finding = Finding("name-completed", "note", text, header)
    others = [word for word in match.or_else if not (found.unit and unit and word in _SWITCHED)]
    if others:
        text = f"{text.removesuffix('.')}, though it may be short for {' or '.join(others)}. Tell which it is."
        finding = Finding("name-unclear", "caution", text, header)
    return replace(found, findings=(*found.findings, finding))


def _matches_by_unit(bare: str, unit: str) -> list[NameMatch]:
    """What a name means when its unit says of what: "Oil [psi]" is a pressure, "GPS [mph]" a speed."""
    name = "" if bare.casefold() in (unit.casefold(), "v") else bare  # v: a speed's letter in formulas
    words = ("rpm",) if not name and is_turning(unit) else _words_of_unit(unit)
    if plain_unit(unit) in ("lambda", "λ"):
        words = ("lambda",)
    matches = [match for word in words for match in recognise_name(f"{name} {word}".strip())]
    return [NameMatch(match.channel, round(match.confidence - BY_UNIT_COST, 3)) for match in matches]


@lru_cache(maxsize=1024)
def _words_of_unit(unit: str) -> tuple[str, ...]:
    """What a unit is of."""
    if not unit:
        return ()
    return tuple(word for word, kept in _WORD_OF_UNIT if conversion_for(unit, kept=kept) is not None)


def _below_the_air(vacuum: Vacuum, header: str, unit: str, *, said: bool) -> Understood:
    """A vacuum as the gauge pressure that it is."""
    plain = conversion_for(unit, kept="Pa") or AS_WRITTEN
    kind = family_of(vacuum.match.channel).replace("_", " ")
    how = "with its sign turned" if vacuum.turned else "as it is"
    text = f"{header} is a vacuum; it is read as {kind} by gauge, {how}."
    turned = replace(plain, scale=-plain.scale) if vacuum.turned else plain
    found: tuple[Finding, ...] = (Finding("sign-turned", "note", text, header),)
    if not said:
        confidence = round(vacuum.match.confidence * UNIT_ASSUMED, 3)
        found = (*unit_assumed(header, unit), *found)
        return Understood(vacuum.match.channel, "Pa", "", turned, confidence, found, unit)
    return Understood(vacuum.match.channel, "Pa", unit, turned, vacuum.match.confidence, found)


def _by_volume(header: str, unit: str) -> tuple[Finding, ...]:
    text = (
        f"{header} is a flow by volume; fuel flow is kept by mass, which needs the fuel's density. It stays under its "
        f"own header, in {unit}. Log it in kg/h, g/s or lb/h to have it held against the power."
    )
    return (Finding("fuel-flow-by-volume", "note", text, header),)


def _unit_not_known(match: NameMatch, header: str, unit: str) -> tuple[Finding, ...]:
    text = (
        f"{header} is named as {family_of(match.channel).replace('_', ' ')} is, but {unit} is no unit that is known "
        "here. It stays under its own header. Tell what it is, and its unit."
    )
    return (Finding("unit-not-known", "caution", text, header),)


def _fits_no_unit(match: NameMatch, header: str, values: FloatArray) -> tuple[Finding, ...]:
    text = (
        f"{header} is named as {family_of(match.channel).replace('_', ' ')} is, but says no unit, and its values "
        f"({values.min():.4g} to {values.max():.4g}) fit none that is usual. It stays under its own header. "
        "Tell its unit."
    )
    return (Finding("unit-not-known", "caution", text, header),)


def _as_given(header: str, unit: str, values: FloatArray, given: str) -> Understood:
    channel = channel_named(given) if kind_of(given) is None else given
    channel = channel if channel is not None and kind_of(channel) is not None else given
    if kind_of(channel) is None:
        return Understood(given, unit, unit, AS_WRITTEN, 1.0)
    trial = understand_as(NameMatch(channel, 1.0), header, unit, values, believed=True)
    if trial is not None:
        return replace(trial, channel=channel, confidence=1.0)
    kind = kind_of(channel)
    kept = kind.unit if kind else ""
    if not unit or plain_unit(unit) in NO_UNIT:
        text = f"No unit is written for {header}, and its values fit none that is usual: they are taken as {kept}."
        return Understood(channel, kept, unit, AS_WRITTEN, 1.0, (Finding("unit-assumed", "caution", text, header),))
    text = (
        f"{header} is mapped to {channel}, but its unit {unit} cannot become {kept or 'a share'}; it stays under its "
        "own header. Log it in a unit of that kind, or map another column."
    )
    found = (Finding("unit-against-mapping", "caution", text, header),)
    return Understood(own_name(header), unit, unit, AS_WRITTEN, 0.0, found)


def understand_as(
    match: NameMatch, header: str, unit: str, values: FloatArray, *, believed: bool = False
) -> Understood | None:
    """A column as one channel in one unit; None where unit or values speak against it.

    Parameters
    ----------
    match : NameMatch
        The channel.
    header, unit : str
        As the file writes it; the unit may be one that is tried.
    values : array
        Finite values of the column, as written.
    believed : bool
        True where the user himself said so: its values then do not speak against it.
    """
    kind = kind_of(match.channel)
    if kind is None:
        return None
    family = family_of(match.channel)
    if family == "lambda":
        return _as_lambda(match, header, unit, values)
    if family in ("manifold_pressure", "boost") and not believed:
        return _as_intake_pressure(match, header, unit, values)
    if family == "ignition_advance" and not believed:
        return _as_advance(match, header, unit, values, kind)
    if family in ("latitude", "longitude") and not believed and _moves_too_far(values):
        return None
    if kind.unit == "":
        return _as_unitless(match, header, unit, values, kind)
    if family.startswith("wheel_speed") and unit and conversion_for(unit, kept="m/s") is None:
        turning = conversion_for(unit, kept="rpm")
        return Understood(match.channel, "rpm", unit, turning, match.confidence) if turning else None
    return _converted(match, header, unit, values, kind)


def _as_advance(match: NameMatch, header: str, unit: str, values: FloatArray, kind: ChannelKind) -> Understood | None:
    """Ignition before top dead centre, also where it is counted with the other sign."""
    found = _converted(match, header, unit, values, kind)
    if found is None or values.size < FEWEST_OF_SIGN:
        return found
    before = values * found.conversion.scale
    highest, middle = quantiles(before, (0.98, 0.5))
    if highest > 0.0 or middle > LATEST_DEG:
        return found
    text = (
        f"{header} stays below zero (median {float(np.median(values)):.3g}): no engine pulls with its spark behind top "
        "dead centre throughout, so it is counted with the other sign and read as so much before it."
    )
    turned = replace(found.conversion, scale=-found.conversion.scale)
    findings = (*found.findings, Finding("sign-turned", "caution", text, header))
    return replace(found, conversion=turned, findings=findings)


def _moves_too_far(values: FloatArray) -> bool:
    """Whether values move as no position does; the first may be zero while the receiver has none."""
    if not values.size:
        return False
    low, high = quantiles(values, (0.1, 0.9))
    return bool(high - low > MOST_MOVED_DEG)


def _converted(match: NameMatch, header: str, unit: str, values: FloatArray, kind: ChannelKind) -> Understood | None:
    conversion = conversion_for(unit, kept=kind.unit) if unit and plain_unit(unit) not in NO_UNIT else None
    if unit and plain_unit(unit) not in NO_UNIT:
        if conversion is None:
            return None
        share = share_possible(values, conversion, kind)
        if share < MOSTLY_IMPOSSIBLE:
            other = _in_another_unit(match, header, unit, values, kind)
            if other is not None:
                return other
        return Understood(match.channel, kind.unit, unit, conversion, round(match.confidence * (0.4 + 0.6 * share), 3))
    guess = likely_unit(kind, values)
    if guess is None:
        return None
    conversion = conversion_for(guess, kept=kind.unit)
    if conversion is None:
        return None
    plain = guess in ("rpm", "deg", "V")  # the name tells the unit
    if plain:
        return Understood(match.channel, kind.unit, "", conversion, match.confidence)
    confidence = round(match.confidence * UNIT_ASSUMED, 3)
    return Understood(match.channel, kind.unit, "", conversion, confidence, unit_assumed(header, guess), guess)


def _in_another_unit(
    match: NameMatch, header: str, unit: str, values: FloatArray, kind: ChannelKind
) -> Understood | None:
    """The column in the one unit of its kind that makes its values possible; None where none does."""
    for guess in _SAME_KIND.get(kind.unit, ()):
        conversion = conversion_for(guess, kept=kind.unit)
        if conversion is None or share_possible(values, conversion, kind) < ALL_BUT_POSSIBLE:
            continue
        text = (
            f"{header} cannot be in {unit}: most of its values would be impossible. They are read as {guess}; "
            "check the unit in the logger."
        )
        found = (Finding("unit-doubted", "caution", text, header),)
        return Understood(match.channel, kind.unit, unit, conversion, round(0.6 * match.confidence, 3), found)
    return None


def _as_unitless(match: NameMatch, header: str, unit: str, values: FloatArray, kind: ChannelKind) -> Understood | None:
    plain = read_unit(unit).plain if unit else ""
    if kind.name in ("throttle", "injector_duty"):
        if kind.name == "throttle" and plain in _ANGLES and values.size and values.max() <= WIDE_OPEN_DEG:
            found = (_angle(header, unit),)
            opening = Conversion(1.0 / WIDE_OPEN_DEG, 0.0, "")
            return Understood(match.channel, "", unit, opening, round(UNIT_ASSUMED * match.confidence, 3), found)
        if unit and plain not in NO_UNIT:
            conversion = conversion_for(unit, kept="")
            if conversion is None:
                return None  # a voltage or an angle, not an opening
            return Understood(match.channel, "", unit, conversion, match.confidence)
        return _converted(match, header, "", values, kind)
    if kind.name in ("gear", "satellites"):
        if unit and plain not in NO_UNIT and conversion_for(unit, kept="") is None:
            return None
        return Understood(match.channel, "", unit, AS_WRITTEN, match.confidence)
    if unit and any(conversion_for(unit, kept=kept) for kept in ("rpm", "K", "m/s", "s", "m/s^2")):
        return None  # "Clutch RPM", "Launch RPM": a speed at that moment, no switch
    if kind.name == "shift_cut" and match.confidence <= WEAK and not _is_switch(values):
        return None  # a cut counted or in per cent is the limiter's as well
    return Understood(match.channel, unit, unit, AS_WRITTEN, match.confidence)


def _angle(header: str, unit: str) -> Finding:
    text = (
        f"{header} is an angle ({unit}); it is read as a part of {WIDE_OPEN_DEG:g} degrees, at which a plate stands "
        "along the flow. If its stop comes sooner, an open throttle reads less than full. Log it in per cent."
    )
    return Finding("unit-unusual", "caution", text, header)


def _is_switch(values: FloatArray) -> bool:
    return values.size == 0 or np.unique(values).size <= 2


def _as_lambda(match: NameMatch, header: str, unit: str, values: FloatArray) -> Understood | None:
    """Lambda, or an air to fuel ratio told by its size."""
    own = stoichiometric_in(unit)
    refuted = own is not None and _is_of_petrol(values, own)
    if own is not None and not refuted:
        text = f"{header} holds air to fuel ratios; they are divided by {own:g}, as the log says, to give lambda."
        found = (Finding("afr-taken-as-lambda", "note", text, header),)
        return Understood(match.channel, "", unit, Conversion(1.0 / own, 0.0, ""), match.confidence, found)
    unit = "AFR" if refuted else unit
    plain = read_unit(unit).plain if unit else ""
    if unit and plain not in NO_UNIT and plain not in ("afr", "λ", "lambda", "%"):
        return None
    middle = float(np.median(values)) if values.size else 1.0
    named_afr = "afr" in header.lower() or plain in ("afr", "a/f", "af")
    if 0.3 <= middle <= 3.0 or not values.size:
        return Understood(match.channel, "", unit, AS_WRITTEN, match.confidence)
    if not 3.0 < middle < 30.0:
        scaled = _as_whole_numbers(match, header, unit, values)
        return scaled or Understood(match.channel, "", unit, AS_WRITTEN, round(0.4 * match.confidence, 3))
    text = (
        f"{header} holds air to fuel ratios (median {middle:.1f}); they are divided by {STOICHIOMETRIC_AFR} to "
        "give lambda. Tell the fuel's own stoichiometric ratio with the car if the gauge uses it."
    )
    scale = Conversion(1.0 / STOICHIOMETRIC_AFR, 0.0, "")
    usual = named_afr and middle / STOICHIOMETRIC_AFR >= RICHEST_LAMBDA
    found = (Finding("afr-taken-as-lambda", "note" if usual else "caution", text, header),)
    written = unit if plain in ("afr", "a/f", "af") else "AFR"
    confidence = round(match.confidence * (0.95 if named_afr else 0.8), 3)
    return Understood(match.channel, "", written, scale, confidence, found)


def _is_of_petrol(values: FloatArray, own: float) -> bool:
    """Whether ratios said to be of a fuel with its own at lambda 1 are petrol's, as most gauges print for any fuel."""
    middle = float(np.median(values)) if values.size else own
    low, high = LAMBDA_MIDDLE
    return middle <= high or (middle / own > high and low <= middle / STOICHIOMETRIC_AFR <= high)


def _without_mark(values: FloatArray, scale: float) -> FloatArray:
    """Pressures without one value that cannot be and comes again and again: a mark for no value, as -999."""
    below = values * scale <= NOTHING_BELOW_PA
    return values[~below] if below.any() and np.unique(values[below]).size == 1 else values


def _as_whole_numbers(match: NameMatch, header: str, unit: str, values: FloatArray) -> Understood | None:
    """Lambda, or an air to fuel ratio, in hundredths or thousandths; None where the values do not tell which."""
    middle = float(np.median(values))
    for many, scale, kind in (
        (100.0, 0.01, "lambda"),
        (1000.0, 0.001, "lambda"),
        (100.0, 0.1 / STOICHIOMETRIC_AFR, "air to fuel ratio"),
        (1000.0, 0.01 / STOICHIOMETRIC_AFR, "air to fuel ratio"),
    ):
        low, high = LAMBDA_MIDDLE if kind == "lambda" else AFR_MIDDLE
        within = np.mean((values * scale >= 0.5) & (values * scale <= 3.0))
        if not low <= middle / many <= high or within < ALL_BUT_POSSIBLE:
            continue
        steps = {0.01: "hundredths", 0.001: "thousandths"}.get(scale) or ("tenths" if many == 100.0 else "hundredths")
        text = (
            f"{header} cannot be lambda as it stands (median {middle:.4g}); its values fit {kind} in {steps} alone and "
            "are read so. Write the factor in the header."
        )
        found = (Finding("unit-doubted", "caution", text, header),)
        confidence = round(0.6 * match.confidence, 3)
        return Understood(match.channel, "", unit, Conversion(scale, 0.0, ""), confidence, found)
    return None


def _as_intake_pressure(match: NameMatch, header: str, unit: str, values: FloatArray) -> Understood | None:
    """Manifold pressure, or boost, by what the zero of the values is.

    An engine at idle draws its manifold down to a third of an atmosphere: below zero on a gauge, well above
    zero absolute. So values below zero are a gauge's, and values that never come near zero are absolute.
    """
    kind = CATALOGUE[match.channel]
    plain = _converted(match, header, unit, values, kind)
    if plain is None:
        other = CATALOGUE["boost" if match.channel == "manifold_pressure" else "manifold_pressure"]
        plain = _converted(match, header, unit, values, other)
        if plain is None:
            return None
    reference = read_unit(unit).reference if unit else ""
    can_be = _without_mark(values, plain.conversion.scale)
    low = float(quantiles(can_be, (0.01,))[0]) * plain.conversion.scale if can_be.size else 0.0
    is_gauge, is_absolute = low < -3e3, low > 1.5e4
    if reference:
        is_gauge, is_absolute = reference == "gauge", reference == "absolute"
    channel = "boost" if is_gauge else "manifold_pressure" if is_absolute else match.channel
    if channel == match.channel:
        return replace(plain, channel=channel)
    what = "gauge pressure, counted from the air outside" if channel == "boost" else "absolute pressure"
    text = (
        f"{header} is named otherwise, but its values are {what}; it is read as "
        f"{'boost' if channel == 'boost' else 'manifold pressure'}."
    )
    found = (
        (*plain.findings, Finding("gauge-or-absolute", "caution", text, header)) if not reference else plain.findings
    )
    return replace(plain, channel=channel, confidence=round(plain.confidence * 0.95, 3), findings=found)
