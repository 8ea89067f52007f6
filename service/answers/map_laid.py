"""A run laid on a compressor's map, and what is said of how the turbo is installed: for command line and page alike.

Public: `turbo_given`, `read_loss`, `read_efficiency`, `lay_on_map`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from passband.service.given.facts import GivenError

if TYPE_CHECKING:
    import polars as pl

    from passband.analysis.given.car import Car
    from passband.analysis.results.review import Review
    from passband.analysis.turbo.map import CompressorMap
    from passband.analysis.turbo.path import MapPath, TurboGiven

LIKELY_EFFICIENCY = (0.4, 1.6)
"""Volumetric efficiencies beyond these are no engine's."""
MOST_LOSS_PA = 100_000.0
"""More than this is lost in no pipe that is open. [Pa]"""


def turbo_given(compressors: int, volumetric_efficiency: str | None, inlet_loss: str, charge_loss: str) -> TurboGiven:
    """What a user says of a turbo's installation, checked.

    Parameters
    ----------
    compressors : int
        How many, alike and side by side.
    volumetric_efficiency : str or None
        A share or per cent, with its plus-minus or without: ``0.95 +- 0.04``.
    inlet_loss, charge_loss : str
        Pressures with their units.

    Returns
    -------
    TurboGiven
        In SI.

    Raises
    ------
    GivenError
        If one of them cannot be, with what to write.
    """
    from passband.analysis.turbo.path import TurboGiven

    if not 1 <= compressors <= 4:
        raise GivenError(f"compressors {compressors}: write how many work side by side, 1 to 4.")
    losses = [read_loss(name, text) for name, text in (("inlet loss", inlet_loss), ("charge loss", charge_loss))]
    if volumetric_efficiency is None:
        return TurboGiven(compressors, inlet_loss_pa=losses[0], charge_loss_pa=losses[1])
    value, half = read_efficiency(volumetric_efficiency)
    return TurboGiven(compressors, value, half, *losses)


def read_loss(name: str, text: str) -> float:
    """A loss of pressure as written.

    Parameters
    ----------
    name : str
        What it is called where it is refused.
    text : str
        With its unit.

    Returns
    -------
    float
        [Pa]

    Raises
    ------
    GivenError
        If it says no unit or cannot be.

    Examples
    --------
    >>> read_loss("inlet loss", "1 kPa")
    1000.0
    """
    from passband.analysis.quantities import parse_quantity, split_quantity

    try:
        number, unit = split_quantity(text)
        if not unit:
            raise ValueError(f"says no unit: write {number!r} with one, such as '{number} kPa'")
        loss = parse_quantity(text, si_unit="Pa", name="pressure")
    except ValueError as error:
        raise GivenError(f"{name} {text!r}: {error}.") from None
    if not 0.0 <= loss <= MOST_LOSS_PA:
        raise GivenError(f"{name} {text!r} is {loss / 1000.0:.0f} kPa: a loss lies between 0 and 100 kPa.")
    return loss


def read_efficiency(text: str) -> tuple[float, float]:
    """A volumetric efficiency as written.

    Parameters
    ----------
    text : str
        A share or per cent, with its plus-minus or without: ``0.95 +- 0.04``.

    Returns
    -------
    (value, plus_minus) : tuple of float
        The plus-minus is a careful guess's where none is written. [-]

    Raises
    ------
    GivenError
        If it cannot be read, or is no engine's.

    Examples
    --------
    >>> read_efficiency("90 % +- 5 %")
    (0.9, 0.05)
    """
    from passband.analysis.given.plus_minus import part_plus_minus
    from passband.analysis.quantities import parse_quantity
    from passband.analysis.turbo.path import TurboGiven

    value, half = part_plus_minus(text) or (text, None)
    try:
        share = parse_quantity(value, si_unit="", name="volumetric efficiency")
        width = TurboGiven().volumetric_efficiency_half if half is None else parse_quantity(half, si_unit="", name="it")
    except ValueError as error:
        raise GivenError(f"volumetric efficiency {text!r}: {error}.") from None
    if not LIKELY_EFFICIENCY[0] <= share <= LIKELY_EFFICIENCY[1]:
        raise GivenError(f"volumetric efficiency {text!r} is {share:g}: write a share such as 0.95, or 95 %.")
    return share, abs(width)


def lay_on_map(review: Review, table: pl.DataFrame, car: Car, compressor: CompressorMap, given: TurboGiven) -> MapPath:
    """A run's way over a compressor's map.

    Parameters
    ----------
    review : Review
        The run's.
    table : polars.DataFrame
        Its channels.
    car : Car
        The car.
    compressor : CompressorMap
        The map.
    given : TurboGiven
        The installation.

    Returns
    -------
    MapPath
        From clock start to the end of the run.

    Raises
    ------
    GivenError
        If the run cannot be laid on the map, with what is missing.
    """
    from passband.analysis.results.findings import Finding
    from passband.analysis.turbo.path import follow_on_map
    from passband.analysis.turbo.run_air import run_air_of

    air = run_air_of(review, table, car)
    way = air if isinstance(air, Finding) else follow_on_map(compressor, air, given)
    if isinstance(way, Finding):
        raise GivenError(way.text)
    return way
