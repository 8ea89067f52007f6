"""Does the power hold against what else is known: trap speed, fuel, and one gear against the next.

Public: `power_from_trap_speed`, `check_trap_speed`, `check_fuel`, `check_between_gears`,
`charge_pressure`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car
from passband.analysis.power.balance import Balance
from passband.analysis.power.curve import CLASS_RPM
from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding

LINE_OVER_TRAP = 1.0107
"""Speed at the line over the mean of the last 66 ft of a quarter mile, computed: 1.0085 under constant power, 1.0128
under constant acceleration; the middle. [-]"""
PETROL_HEAT_JPKG, PETROL_AFR = 43e6, 14.7
"""Heating value of petrol and its stoichiometric ratio; other fuels' heat goes about with their ratio. [J/kg], [-]"""
LEAST_EFFICIENCY, GREATEST_EFFICIENCY = 0.12, 0.42
"""Brake efficiency of a racing engine at full throttle: rich methanol at the one end, the best petrol at the other.
Common practice, no source."""
GEARS_APART = 0.10
"""Torque per manifold pressure at one engine speed may differ so much between gears before a finding says so. [-]"""
MEDIAN_SPREAD = 1.25 * 1.4826
"""Deviation of a median, times the root of the count, in median distances from it: that of a bell curve. [-]"""
LEAST_CHARGE_PA, LEAST_DUTY = 20e3, 0.05
"""Below these the engine is not at work, or the channel not what it says. [Pa], [-]"""


def power_from_trap_speed(trap_mps: float, *, mass_kg: float, distance_m: float) -> Estimate:
    """Mean power that moved a mass from rest to a trap speed over a distance, whatever the way it pulled.

    Parameters
    ----------
    trap_mps : float
        Mean speed of the last 66 ft. [m/s]
    mass_kg, distance_m : float
        [kg], from rest to the line [m].

    Returns
    -------
    Estimate
        Middle of the two ways below; they are its plus-minus. Air, rolling and spinning parts come on top. [W]

    Notes
    -----
    Kinetic energy over time. Under constant power (Fox, Am. J. Phys. 41 (1973) 311, as retold by Nahin) it took
    3 x / (2 v): m v^3 / (3 x). Under constant acceleration 2 x / v: m v^3 / (4 x). A real run lies between.

    Examples
    --------
    >>> implied = power_from_trap_speed(67.683 / 1.0107, mass_kg=1451.496, distance_m=402.336)
    >>> round(implied.value + implied.plus_minus, -2)
    372900.0
    """
    unit = mass_kg * (trap_mps * LINE_OVER_TRAP) ** 3 / distance_m
    return Estimate(unit * 7.0 / 24.0, unit / 24.0)


def check_trap_speed(implied: Estimate | None, moving_w: float) -> list[Finding]:
    """Hold the power that moved the car's mass against what its trap speed implies.

    Parameters
    ----------
    implied : Estimate or None
        Of `power_from_trap_speed`. [W]
    moving_w : float
        Mean power into the car's kinetic energy. [W]

    Returns
    -------
    list of Finding
        Empty where they agree within the two ways of pulling and one in twenty.
    """
    if implied is None or abs(moving_w - implied.value) <= implied.plus_minus + 0.05 * implied.value:
        return []
    return [
        Finding(
            "power-against-trap-speed",
            "caution",
            f"The car's gain of speed took {moving_w / 1e3:.0f} kW on average, while trap speed and mass alone imply "
            f"{implied.value / 1e3:.0f} kW give or take {implied.plus_minus / 1e3:.0f}: check scale and distance.",
        )
    ]


def check_fuel(traces: Traces, car: Car, average_w: float, *, end_s: float) -> list[Finding]:
    """Hold average power against the fuel that was burnt for it.

    Parameters
    ----------
    traces : Traces
        ET; needs ``fuel_flow``.
    car : Car
        Its fuel; petrol unless given.
    average_w, end_s : float
        At the flywheel [W]; end of the window [s, ET].

    Returns
    -------
    list of Finding
        A note with the brake specific consumption; a caution where no engine can be so good or so bad.
    """
    channel = traces.get("fuel_flow")
    if channel is None or average_w <= 0:
        return []
    flow = channel.known.within(0.0, end_s).values
    if flow.size < 10 or float(np.mean(flow)) <= 0:
        return []
    mean = float(np.mean(flow))
    heat = PETROL_HEAT_JPKG * (car.fuel_stoichiometric_afr or PETROL_AFR) / PETROL_AFR
    efficiency = average_w / (mean * heat)
    text = (
        f"Fuel flow and average power make {3.6e9 * mean / average_w:.0f} g/kWh, {100 * efficiency:.0f} % of its heat"
    )
    if LEAST_EFFICIENCY <= efficiency <= GREATEST_EFFICIENCY:
        return [Finding("fuel-for-power", "note", f"{text}.", "fuel_flow")]
    return [
        Finding(
            "fuel-for-power",
            "caution",
            f"{text}, which an engine at full throttle does not do: check the flow's unit, the fuel and the mass.",
            "fuel_flow",
        )
    ]


def check_between_gears(
    series: DrivelineSeries, parts: Balance, pulling: BoolArray, traces: Traces, *, air_pressure_pa: float
) -> list[Finding]:
    """Hold power for what the engine took in, in one gear against the next at the same engine speeds.

    Parameters
    ----------
    series, parts : DrivelineSeries, Balance
        Grid of shape (n,).
    pulling : array of bool, shape (n,)
        Samples to compare.
    traces : Traces
        ET. Torque is held per absolute manifold pressure, or boost and the air's; power per injector duty. What is not
        logged is not checked.
    air_pressure_pa : float
        The station's own. [Pa]

    Returns
    -------
    list of Finding
        For each, a caution for gears further apart than a tenth, a note for the furthest otherwise, or where it is the
        lowest gear that is held back; empty if no two gears share engine speeds.

    Notes
    -----
    An engine that pulls otherwise in a gear does so at every engine speed; a gear of half a second between two slow
    shifts is all beginning and end. The median over the engine speeds that two gears share counts by as much as it
    stands beyond twice its own deviation, which their scatter tells.
    """
    found = []
    charge = charge_pressure(series, traces, air_pressure_pa=air_pressure_pa)
    if charge is not None:
        apart = _furthest(series, parts.brake_w / (series.engine_rad_per_s * charge), pulling)
        found += _tell_apart(apart, "Torque per manifold pressure", by_duty=False)
    duty = traces.get("injector_duty")
    if duty is not None:
        opened = duty.at(series.time_s)
        apart = _furthest(series, parts.brake_w / np.where(opened > LEAST_DUTY, opened, np.nan), pulling)
        found += _tell_apart(apart, "Power per injector duty", by_duty=True)
    return found


@dataclass(frozen=True, slots=True)
class _Apart:
    share: float
    """By how much the higher gear is above the lower."""
    open_share: float
    """95 % half-width of that, by how unlike it is at the engine speeds that both share."""
    low: int
    high: int
    lowest: bool
    """Whether the lower is the lowest of all."""

    @property
    def sure(self) -> float:
        """What of it stands whatever the scatter."""
        return max(abs(self.share) - self.open_share, 0.0)


def charge_pressure(series: DrivelineSeries, traces: Traces, *, air_pressure_pa: float) -> FloatArray | None:
    """Absolute manifold pressure on the grid.

    Parameters
    ----------
    series : DrivelineSeries
        Grid of shape (n,).
    traces : Traces
        ET.
    air_pressure_pa : float
        The station's own, for a log of boost alone. [Pa]

    Returns
    -------
    array, shape (n,), or None
        NaN where too low to be an engine at work; None where neither is logged. [Pa]
    """
    absolute, gauge = traces.get("manifold_pressure"), traces.get("boost")
    if absolute is not None:
        charge = absolute.at(series.time_s)
    elif gauge is not None:
        charge = gauge.at(series.time_s) + air_pressure_pa
    else:
        return None
    return np.where(charge > LEAST_CHARGE_PA, charge, np.nan)


def _furthest(series: DrivelineSeries, specific: FloatArray, pulling: BoolArray) -> _Apart | None:
    """The two neighbouring gears that lie furthest apart where they share engine speeds."""
    use = pulling & np.isfinite(specific) & (series.gear > 0)
    classes = np.floor(np.where(use, series.engine_rad_per_s, 0.0) * 30.0 / np.pi / CLASS_RPM)
    apart = []
    gears = sorted({int(g) for g in series.gear[use]})
    for low, high in pairwise(gears):
        in_low, in_high = use & (series.gear == low), use & (series.gear == high)
        shared = np.intersect1d(classes[in_low], classes[in_high])
        means = [
            float(np.mean(specific[in_high & (classes == k)])) / float(np.mean(specific[in_low & (classes == k)]))
            for k in shared
        ]
        if len(means) >= 2:
            middle = float(np.median(means))
            scatter = MEDIAN_SPREAD * float(np.median(np.abs(np.array(means) - middle)))
            apart.append(_Apart(middle - 1.0, 2.0 * scatter / len(means) ** 0.5, low, high, low == gears[0]))
    return max(apart, key=lambda item: (item.sure, abs(item.share)), default=None)


def _tell_apart(apart: _Apart | None, what: str, *, by_duty: bool) -> list[Finding]:
    if apart is None:
        return []
    text = (
        f"{what} at the same engine speed is {abs(100 * apart.share):.0f} % "
        f"{'higher' if apart.share > 0 else 'lower'} in gear {apart.high} than in gear {apart.low}"
    )
    if abs(apart.share) <= GEARS_APART or apart.sure == 0.0:
        agree = "gears agree" if abs(apart.share) <= GEARS_APART else "not at every engine speed that they share"
        return [Finding("duty-between-gears" if by_duty else "torque-between-gears", "note", f"{text}; {agree}.")]
    if apart.lowest and apart.share > 0.0:
        text = f"{text}: the lowest gear was held back, as many are for grip, or its inertias are greater than given."
        return [Finding("duty-between-gears" if by_duty else "torque-between-gears", "note", text)]
    why = "check gear ratios, inertias and drag area, or look for knock retard, heat, another mixture or wheelspin."
    return [Finding("duty-between-gears" if by_duty else "torque-between-gears", "caution", f"{text}: {why}")]
