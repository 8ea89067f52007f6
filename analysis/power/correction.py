"""Power in standard air by the published rules, and only where a rule applies.

Public: `Rule`, `RULES`, `power_correction`, `Corrected`, `correct_power`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from passband.analysis.air.atmosphere import KELVIN
from passband.analysis.given.car import Car
from passband.analysis.results.air import AirState
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown

INCH_OF_MERCURY_PA = 3386.389
"""Conventional. [Pa]"""

ALCOHOL_AFR = 10.0
"""A stoichiometric ratio below this is an alcohol's or nitromethane's (ethanol 9.0, methanol 6.5, petrol 14.7)."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One published rule for the power of a spark-ignition engine without boost."""

    name: str
    """As it is cited."""
    reference: str
    """The air it corrects to."""
    low: float
    """Least factor for which it holds. [-]"""
    high: float
    """Greatest factor for which it holds. [-]"""
    factor: Callable[[float, float, float], float]
    """From dry pressure [Pa], total pressure [Pa] and temperature [K]."""


def _sae_j1349(dry_pa: float, total_pa: float, temperature_k: float) -> float:
    return 1.180 * (99000.0 / dry_pa) * math.sqrt(temperature_k / (273.0 + 25.0)) - 0.180


def _iso_1585(dry_pa: float, total_pa: float, temperature_k: float) -> float:
    return float((99000.0 / dry_pa) ** 1.2 * (temperature_k / 298.0) ** 0.6)


def _sae_j607(dry_pa: float, total_pa: float, temperature_k: float) -> float:
    fahrenheit = (temperature_k - KELVIN) * 1.8 + 32.0
    return 29.92 * INCH_OF_MERCURY_PA / dry_pa * math.sqrt((fahrenheit + 459.7) / 519.7)


def _din_70020(dry_pa: float, total_pa: float, temperature_k: float) -> float:
    return 101300.0 / total_pa * math.sqrt(temperature_k / 293.0)


RULES: dict[str, Rule] = {
    rule.name: rule
    for rule in (
        Rule("SAE J1349", "25 degC, 99 kPa dry", 0.93, 1.07, _sae_j1349),
        Rule("ISO 1585", "25 degC, 99 kPa dry", 0.93, 1.07, _iso_1585),
        Rule("SAE J607", "60 degF, 29.92 inHg dry (withdrawn)", 0.93, 1.11, _sae_j607),
        Rule("DIN 70020", "20 degC, 1013 hPa (withdrawn)", 0.93, 1.11, _din_70020),
    )
}
"""The rules by name.

Formulas as secondary copies give them (the standards' own texts were not at hand). The range 0.93 to 1.07 is that of
ISO 1585 for spark ignition, from memory, and is held against SAE J1349 likewise; the two withdrawn rules state none,
and theirs is the same range moved by the 4 % by which they read higher.
"""


def power_correction(rule: str, *, temperature_k: float, pressure_pa: float, vapour_pressure_pa: float) -> float:
    """Factor that turns power measured in this air into power in a rule's standard air.

    Parameters
    ----------
    rule : str
        One of `RULES`: ``SAE J1349``, ``ISO 1585``, ``SAE J607``, ``DIN 70020``.
    temperature_k, pressure_pa, vapour_pressure_pa : float
        Of the air at the engine's inlet: total pressure, and the vapour's share of it. [K], [Pa], [Pa]

    Returns
    -------
    float
        Multiply observed power by it. [-]

    Raises
    ------
    ValueError
        If the rule is not known, or nothing is left of the pressure without the vapour.

    Notes
    -----
    With pd the dry pressure: SAE J1349 (1990) 1.180 (99 kPa / pd) sqrt(T / 298) - 0.180; ISO 1585
    (99 kPa / pd)^1.2 (T / 298)^0.6; SAE J607 (29.92 inHg / pd) sqrt(T / 60 degF); DIN 70020
    (1013 hPa / p) sqrt(T / 293), total pressure. For engines without boost on spark ignition.

    Examples
    --------
    >>> round(power_correction("SAE J1349", temperature_k=298.0, pressure_pa=100000.0, vapour_pressure_pa=1000.0), 6)
    1.0
    """
    if rule not in RULES:
        raise ValueError(f"rule must be one of {', '.join(RULES)}, got {rule!r}")
    dry = pressure_pa - vapour_pressure_pa
    if not dry > 0:
        raise ValueError(f"dry pressure must be > 0, got {pressure_pa=} and {vapour_pressure_pa=}")
    return RULES[rule].factor(dry, pressure_pa, temperature_k)


@dataclass(frozen=True, slots=True)
class Corrected:
    """Power in standard air, or why there is none."""

    average_w: Estimate | Unknown
    """Unknown where the rule does not apply as it stands. [W]"""
    factor: float
    """What the rule alone would give. [-]"""
    rule: str
    """Its name."""


def correct_power(average_w: Estimate, air: AirState, car: Car, *, boosted: bool, rule: str = "SAE J1349") -> Corrected:
    """An average power in standard air, where the rule is valid.

    Parameters
    ----------
    average_w : Estimate
        At the flywheel, as run. [W]
    air : AirState
        The day's air.
    car : Car
        Its fuel tells an alcohol engine.
    boosted : bool
        True for an engine under boost.
    rule : str
        One of `RULES`.

    Returns
    -------
    Corrected
        With an unknown `average_w` for boost, alcohol, or air outside the rule's range.

    Notes
    -----
    A regulated boost already makes up for thin air; to correct it again counts the air twice. Alcohols cool the charge
    as they evaporate, which the rules' temperature term knows nothing of.
    """
    factor = power_correction(
        rule,
        temperature_k=air.temperature_k,
        pressure_pa=air.pressure_pa,
        vapour_pressure_pa=air.vapour_pressure_pa,
    )
    why = _why_not(factor, car, RULES[rule], boosted=boosted)
    if why is not None:
        finding = Finding("power-not-corrected", "note", f"Power is given as run: {why}")
        return Corrected(Unknown(finding), factor, rule)
    return Corrected(average_w.scaled(factor), factor, rule)


def _why_not(factor: float, car: Car, rule: Rule, *, boosted: bool) -> str | None:
    shown = f"the factor of {rule.name} would be {factor:.3f}"
    if boosted:
        return (
            f"{shown}, but the rule is for engines without boost; where the boost is regulated it makes up for the "
            "air itself, and correcting again would count the air twice."
        )
    if car.fuel_stoichiometric_afr is not None and car.fuel_stoichiometric_afr < ALCOHOL_AFR:
        return (
            f"{shown}, but it was made for petrol; an alcohol cools the charge as it evaporates, which the rule's "
            "temperature term does not know."
        )
    if not rule.low <= factor <= rule.high:
        return f"{shown}, outside the {rule.low:g} to {rule.high:g} for which it holds."
    return None
