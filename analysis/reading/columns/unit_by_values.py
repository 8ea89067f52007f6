"""The unit of a column that names none, by what its values can be in each.

Public: `likely_unit`, `unit_assumed`, `share_possible`, `UNIT_FINDINGS`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.channels.catalogue import ChannelKind
from passband.analysis.quantities import Conversion, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.fits import quantiles

UNIT_FINDINGS = frozenset({"unit-assumed", "speed-unit-assumed", "flow-unit-assumed", "unit-not-known"})
"""Codes of the findings that a unit was taken from the values, or none could be."""

FULL_SCALE = (32767.0, 65535.0, -32768.0)
"""What a count of two bytes shows where its sensor is lost: the ends of its range. By definition of such counts."""
FAR_FROM_OTHERS = 2.0
"""Only values this many times as large as all others are taken for a lost sensor's. [-]"""

SHARES = frozenset({"throttle", "injector_duty"})
PER_MILLE, STAYS = 1000.0, 0.02
"""What a full share shows in per mille, by definition, and the share of a log that must show just that: the counts of
a converter, which go as far, stop at no round number. Chosen by hand, no source. [-]"""

BYTE = 255.0
"""What a full share shows as a count of one byte, by definition. A converter's count stops there as well,
where it is full."""

# Units tried where none is written, likeliest first, with the values the bulk of a log can have in it.
LIKELY: dict[str, tuple[tuple[str, float, float], ...]] = {
    "engine_speed": (("rpm", 300, 20000), ("krpm", 0.3, 19.9), ("Hz", 20, 299)),
    "turbo_speed": (("rpm", 1000, 400000), ("krpm", 5, 400)),
    "throttle": (("%", 1.5, 130), ("", -0.1, 1.5)),
    "injector_duty": (("%", 1.5, 150), ("", -0.1, 1.5)),
    "manifold_pressure": (("kPa", 20, 700), ("psi", 3, 20), ("bar", 0.1, 7), ("mbar", 700, 7000), ("Pa", 7001, 700000)),
    "boost": (("bar", -1.1, 4.6), ("psi", -15, 90), ("kPa", -105, 600)),
    "barometer": (("kPa", 60, 110), ("mbar", 600, 1100), ("inHg", 18, 33), ("psi", 8, 16), ("bar", 0.6, 1.1)),
    "pressure": (("bar", 0, 15), ("psi", 15, 160), ("kPa", 161, 3000), ("mbar", 3001, 20000)),
    "temperature": (("degC", -40, 135), ("degF", 136, 260), ("K", 261, 430)),
    "exhaust_temperature": (("degC", -40, 1150), ("degF", 1151, 2300)),
    "speed": (("km/h", -5, 600),),
    "acceleration": (("g", -6, 6), ("m/s2", -70, 80)),
    "rpm": (("rpm", -100, 400000),),
    "battery": (("V", 0, 40), ("mV", 1000, 40000)),
    "angle": (("deg", -200, 200),),
    "fuel_flow": (("kg/h", 0, 3000),),
}


def likely_unit(kind: ChannelKind, values: FloatArray) -> str | None:
    """The likeliest unit of values without one.

    Parameters
    ----------
    kind : ChannelKind
        Of their channel.
    values : array, shape (n,)
        As written.

    Returns
    -------
    str or None
        None where they fit none that is usual; a channel's only usual unit is taken all the same.
    """
    if kind.name in SHARES and _clips_at(PER_MILLE, values):
        return "‰"
    if kind.name == "throttle" and _clips_at(BYTE, values):
        return "0-255"
    dimension = {
        "Pa": "pressure",
        "K": "temperature",
        "m/s": "speed",
        "m/s^2": "acceleration",
        "rpm": "rpm",
        "deg": "angle",
    }
    trials = LIKELY.get(kind.name) or LIKELY.get(dimension.get(kind.unit, ""), ())
    if values.size == 0:
        return trials[0][0] if trials else None
    low, high = quantiles(_of_a_sensor(values), (0.02, 0.98)).tolist()
    spare = 0.05 if kind.name in SHARES else 0.0  # a closed throttle may read a little less
    fitting = [unit for unit, least, most in trials if low >= min(least, 0.0) - spare * most and least <= high <= most]
    return fitting[0] if fitting else (trials[0][0] if len(trials) == 1 else None)


def _clips_at(full: float, values: FloatArray) -> bool:
    """Whether values go from near zero to a full scale and no further, and stay there."""
    if not values.size or float(values.max()) != full or not -0.05 * full <= float(values.min()) <= 0.2 * full:
        return False
    return float(np.mean(values == full)) >= STAYS


def _of_a_sensor(values: FloatArray) -> FloatArray:
    """Values without those of a lost sensor: the end of a two-byte count, far beyond all others."""
    others = np.asarray(values[~np.isin(values, FULL_SCALE)], dtype=np.float64)
    if others.size in (0, values.size) or FAR_FROM_OTHERS * float(np.abs(others).max()) > min(map(abs, FULL_SCALE)):
        return values
    return others


def unit_assumed(header: str, unit: str) -> tuple[Finding, ...]:
    """The finding of a unit taken from the values.

    Parameters
    ----------
    header : str
        As the file writes it.
    unit : str
        The unit taken; empty for a share of 1.
    """
    if unit in ("km/h", "mph"):
        text = (
            f"No unit is written for {header}: its values are read as {unit}, which they need not be. Write the unit."
        )
        return (Finding("speed-unit-assumed", "caution", text, header),)
    if unit == "kg/h":
        text = (
            f"No unit is written for {header}: its values are read as kg/h, and are wrong where it is a flow by "
            "volume. Write the unit."
        )
        return (Finding("flow-unit-assumed", "caution", text, header),)
    if unit == "0-255":
        text = (
            f"No unit is written for {header}: its values stop at 255 and are read as counts of a byte, of which that "
            "is full; a throttle that stays a little open shows more than none when shut. Write the unit."
        )
        return (Finding("unit-assumed", "caution", text, header),)
    text = f"No unit is written for {header}: its values are read as {unit or 'a share of 1'}."
    return (Finding("unit-assumed", "note", text, header),)


def share_possible(values: FloatArray, conversion: Conversion, kind: ChannelKind) -> float:
    """Of some values, the share that a channel of a kind can have.

    Parameters
    ----------
    values : array, shape (n,)
        As written.
    conversion : Conversion
        To SI.
    kind : ChannelKind
        Of the channel.

    Returns
    -------
    float
        0 to 1; 1 where there are no values. [-]
    """
    if values.size == 0:
        return 1.0
    si = values * conversion.scale + conversion.offset
    return float(np.mean((si >= kind.low) & (si <= kind.high)))
