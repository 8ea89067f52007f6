"""Does the engine pull alike in every gear? If not, a fact of the car or the wind was given wrong.

An engine makes the same power at the same speed and manifold pressure whatever gear it turns. Power found from motion
is mostly the mass's inertia in the low gears and more and more the air's drag in the high ones, so a wrong mass, drag
area or wind tips power of the high gears against that of the low ones. Which of them it is cannot be told from that.

Public: `Pulls`, `MovedPower`, `GivenTo`, `GearAgreement`, `compare_gears`, `tell_disagreement`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding

KNOT_RPM = 250.0
"""Engine speeds at which the one curve of all gears has its knots. [rpm]"""
SAMPLE_S, CORRELATED_S = 0.05, 0.18
"""Spacing of the samples compared, and time over which their errors hang together: over simulated cars with true facts
what is found then scatters as wide as its plus-minus says. [s]"""
LEAST_SAMPLES, LEAST_GEARS = 30, 3
"""Fewer samples at engine speeds that two gears share, or fewer gears, compare nothing."""
LEAST_OF_PEAK = 0.5
"""Samples below this share of the greatest power are a lift or an engine still filling. [-]"""
FRICTION_PA = 18e3
"""What of the manifold's pressure an engine's own friction takes: a friction mean effective pressure of 2 bar where
100 kPa in the manifold makes 11 to 12 bar indicated; from memory. [Pa]"""
CHARGE_POWER, CHARGE_POWER_SD = 1.0, 0.03
"""Brake power goes with the rest of it to this power: less where the charge heats and ignition is retarded with boost,
more where friction takes more. [-]"""
BALANCE_SHARE = 0.015
"""What the balance itself leaves open, as a share of the drag area: on simulated cars with true facts flywheel power
drifts by 0.3 % or less from the lowest gear to the highest. [-]"""
EVEN_ODDS, EVEN_ODDS_IF_RARE = 0.65, 1.3
"""Shares of 95 % from which a fact given wrong explains the gears at least as well as chance does, and the plus-minus
must hold both: a mass given too low, for a driver, fuel or ballast left out, is the common blunder (common practice, no
source), and from 1.3 spreads on as likely as chance. The opposite, which all that grows with speed and is left out of a
balance tips alike, is rare: chance must do it in one run of a hundred, 2.5 spreads. [-]"""
TOLD_FROM = 1.0
"""Share of 95 % from which gears that pull unlike are a doubt of what was given, not only a reason to open power:
chance alone reaches it in one sound run of forty. From even odds on, 11 of 40 sound runs were told so (own simulator,
wide sensors, facts as an owner has them, seeds 7000 and 7001). [-]"""
NOISE, LEAST_NOISE = 0.006, 0.003
"""Spread of smoothed power about one curve, and the least that is believed. [-]"""
LEAST_LEVEL_SPREAD = 0.0023
"""Of one gear against another, whatever its samples: each has its own tooth set, which loses 0.2 to 1.0 % (Gear
Technology, Sept 2012, p. 58, fig. 2), as likely one as the other: the range over the square root of 12. [-]"""
ODD_GEAR = 0.03
"""A lowest gear so far off the curve of the others is held back, or helped, and left out. [-]"""
GROWING_EXPECTED, GROWING_SPREAD = 0.25, 0.25
"""How much of the most that losses may grow by a car has: from none to three quarters within 95 %, as an owner's one
figure has some of it in it. Chosen. [-]"""
MOST_MASS_ERROR = 0.10
"""A mass further out than this is not given by anybody: a driver of 90 kg left out of a car of 900. [-]"""
MOST_DRAG_ERROR, MOST_WIND_ERROR_MPS = 0.30, 8.0
"""Nor a drag area, nor is there a wind along the strip that nobody notes: beyond both, another thing tips the gears.
Chosen: the drag areas of closed cars lie within a third of each other, and 8 m/s moves small trees. [-], [m/s]"""
KG_PER_LB = 0.45359237
"""The avoirdupois pound, exact (international yard and pound agreement, 1959). [kg]"""
ANOTHER_UNIT_SPREADS = 1.5
"""A mass in another unit is asked about where chance and what was open anyway lie so far off, in their own 95 %
half-widths: of 75 sound runs of the independent simulator and the paddock (seeds 15600, 15601) none was, of the same
with kilograms for pounds 57, the other way round 67. [-]"""
LOOKS_ALIKE = (
    "A power step or retard in one gear, an engine that makes more or less as the run goes on, a clutch or tires that "
    "slip, and losses in gearbox and axle that grow with speed look alike."
)
"""What else tips the gears, for a reader."""


@dataclass(frozen=True, slots=True)
class Pulls:
    """The engine's power in its pulls, and what goes with it; arrays of shape (n,) on an even grid."""

    power_w: FloatArray
    """Flywheel power in the pulls, smoothed; NaN elsewhere. [W]"""
    rpm: FloatArray
    """Engine speed."""
    gear: IntArray
    """0 where none is known."""
    charge_pa: FloatArray | None
    """Absolute manifold pressure; None where not logged."""
    acceleration_mps2: FloatArray
    """Of the car."""
    speed_sigma_mps: FloatArray
    """Spread of speed's error."""
    step_s: float
    """Of the grid. [s]"""

    def spread_of(self, at: IntArray) -> float:
        """Spread of one gear's level: a short pull's power is no surer than its gain of speed. Log. [-]."""
        gained_mps = np.maximum(self.acceleration_mps2[at], 0.0) * max(SAMPLE_S, self.step_s)
        spread = math.sqrt(2.0) * float(np.median(self.speed_sigma_mps[at])) / max(float(np.sum(gained_mps)), 0.1)
        return max(spread, LEAST_LEVEL_SPREAD)


@dataclass(frozen=True, slots=True)
class MovedPower:
    """What each fact, moved alone, would add to flywheel power; arrays of shape (n,)."""

    by_mass_w: FloatArray
    """The mass, raised by its whole self. [W]"""
    by_drag_w: FloatArray
    """The drag area, raised by its whole self. [W]"""
    by_wind_w: FloatArray
    """A wind of 1 m/s more from behind. [W]"""
    by_others_w: tuple[FloatArray, ...]
    """Every other fact, raised by its 95 % half-width. [W]"""
    by_losses_w: tuple[FloatArray, ...] = ()
    """What losses that grow with speed take at the most and the balance leaves out: power as found is lower. [W]"""


@dataclass(frozen=True, slots=True)
class GivenTo:
    """Half-widths, 95 %, of what was given: all of them tip the gears, and are open in power anyway."""

    drag_share: float
    """Of drag area and air density, as a share of the drag area. [-]"""
    wind_mps: float = 0.0
    """Of the wind along the strip; a wind that nobody gave counts as still air, give or take. [m/s]"""
    mass_share: float = 0.0
    """Of the mass. [-]"""


@dataclass(frozen=True, slots=True)
class GearAgreement:
    """By how much mass, drag area or wind, each alone, would have been given wrong for all gears to pull alike."""

    mass_share: Estimate
    """Given less true, of the true; negative where the mass given is too low. [-]"""
    drag_share: Estimate
    """The same of the drag area. [-]"""
    wind_mps: Estimate
    """Given less true, from behind positive. [m/s]"""
    given: GivenTo
    """How well what may be wrong was known beforehand."""
    gears: tuple[int, ...]
    """Those compared."""

    @property
    def disagrees(self) -> bool:
        """Whether a fact given wrong explains the gears as well as chance and what was open anyway."""
        share = self.drag_share.value
        return share > EVEN_ODDS * self.by_chance or -share > EVEN_ODDS_IF_RARE * self.by_chance

    @property
    def is_sure(self) -> bool:
        """Whether chance and what was open anyway hardly explain them."""
        return abs(self.drag_share.value) > TOLD_FROM * self.by_chance

    @property
    def is_of_another_cause(self) -> bool:
        """Whether no fact that anybody gives, nor a wind that nobody notes, is so far out: the engine differs."""
        return (
            abs(self.drag_share.value) > MOST_DRAG_ERROR
            and abs(self.wind_mps.value) > MOST_WIND_ERROR_MPS
            and abs(self.mass_share.value) > MOST_MASS_ERROR
        )

    @property
    def unit_doubted(self) -> tuple[str, str] | None:
        """The unit that the mass was read in and the one in which its number would let the gears pull alike.

        A mass so many times too great asks for so many times the drag area: power's scale is the engine's to choose.
        None where the number as it was taken is nearer, or chance.
        """
        asked = 1.0 - self.drag_share.value
        if abs(asked - 1.0) < ANOTHER_UNIT_SPREADS * self.by_chance:
            return None
        if asked > KG_PER_LB**-0.5:
            return "kg", "lb"
        return ("lb", "kg") if asked < KG_PER_LB**0.5 else None

    @property
    def is_of_one_fact(self) -> bool:
        """Whether drag area and wind say the same: power that wants less drag wants more wind from behind."""
        return self.drag_share.value * self.wind_mps.value <= 0.0

    @property
    def by_chance(self) -> float:
        """Error of the drag area, a share, that gears which pull alike may show, what was open anyway in it; 95 %."""
        drag = self.drag_share.plus_minus
        like_drag = [
            half_width * drag / of.plus_minus
            for half_width, of in ((self.given.wind_mps, self.wind_mps), (self.given.mass_share, self.mass_share))
            if of.plus_minus > 0.0
        ]
        return math.hypot(drag, self.given.drag_share, BALANCE_SHARE, *like_drag)

    @property
    def mass_open(self) -> float:
        """By how much the mass given may be wrong, as a share of it."""
        return min(abs(self.mass_share.value) + self.mass_share.plus_minus, MOST_MASS_ERROR)

    @property
    def wind_open_mps(self) -> float:
        """By how much the wind given may be wrong, in m/s."""
        return abs(self.wind_mps.value) + self.wind_mps.plus_minus


def compare_gears(pulls: Pulls, moved: MovedPower, given: GivenTo) -> GearAgreement | None:
    """Compare the power of all gears at the engine speeds they share.

    Parameters
    ----------
    pulls : Pulls
        What was measured.
    moved : MovedPower
        Same grid.
    given : GivenTo
        How well facts and wind were known.

    Returns
    -------
    GearAgreement or None
        None where fewer than `LEAST_GEARS` gears share engine speeds.

    Notes
    -----
    ln P = curve(rpm) + a ln(charge less friction) + e x + level(gear) + others, by robust least squares; x is what the
    fact in question makes of power, over power, and e its error as given. The curve is straight between knots
    `KNOT_RPM` apart; a, the levels and what other facts make have priors.
    """
    power_w, rpm, gear, charge_pa = pulls.power_w, pulls.rpm, pulls.gear, pulls.charge_pa
    use = np.isfinite(power_w) & np.isfinite(rpm) & (gear > 0)
    if charge_pa is not None:
        use &= np.isfinite(charge_pa)
    if not use.any():
        return None
    use &= power_w > LEAST_OF_PEAK * float(np.max(power_w[use]))
    at = np.flatnonzero(use)[:: max(round(SAMPLE_S / pulls.step_s), 1)]
    at = at[_is_shared(rpm[at], gear[at])]
    gears = tuple(sorted({int(g) for g in gear[at]}))
    if at.size < LEAST_SAMPLES or len(gears) < LEAST_GEARS:
        return None
    charge = None if charge_pa is None else charge_pa[at]
    fit = _Fit(np.log(power_w[at]), rpm[at], charge, together=_together(pulls.step_s))
    for other_w in moved.by_others_w:
        fit.let_differ(other_w[at] / power_w[at], spread=0.5)
    for lost_w in moved.by_losses_w:
        fit.let_differ(-lost_w[at] / power_w[at], spread=GROWING_SPREAD, expected=GROWING_EXPECTED)
    for each in gears:
        fit.let_differ(gear[at] == each, spread=pulls.spread_of(at[gear[at] == each]))
    shares = [by[at] / power_w[at] for by in (moved.by_mass_w, moved.by_drag_w, moved.by_wind_w)]
    kept = gear[at] != gears[0] if fit.is_odd(gear[at] == gears[0], shares[0], gears) else at >= 0
    mass, drag, wind = (fit.error_given(share, kept) for share in shares)
    return GearAgreement(mass, drag, wind, given, tuple(g for g in gears if (gear[at][kept] == g).any()))


def _together(step_s: float) -> float:
    """Samples whose errors hang together."""
    return max(CORRELATED_S / max(SAMPLE_S, step_s), 1.0)


def _is_shared(rpm: FloatArray, gear: IntArray) -> BoolArray:
    """Samples at engine speeds that more than one gear turned."""
    classes = np.floor(rpm / KNOT_RPM)
    shared = np.zeros(rpm.size, dtype=np.bool_)
    for one in np.unique(classes):
        inside = classes == one
        shared |= inside & (np.unique(gear[inside]).size > 1)
    return shared


def _curve_columns(rpm: FloatArray) -> FloatArray:
    """Columns of a curve that is straight between knots, shape (n, knots)."""
    place = (rpm - rpm.min()) / KNOT_RPM
    knots = int(np.ceil(place.max())) + 1
    left = np.minimum(place.astype(np.int64), max(knots - 2, 0))
    columns = np.zeros((rpm.size, max(knots, 2)))
    rows = np.arange(rpm.size)
    columns[rows, left] = 1.0 - (place - left)
    columns[rows, left + 1] = place - left
    return columns


class _Fit:
    """One curve of power against engine speed and charge for all gears, and a fact's error beside it."""

    def __init__(
        self, log_power: FloatArray, rpm: FloatArray, charge_pa: FloatArray | None, *, together: float
    ) -> None:
        self.log_power, self.together = log_power, together
        self.common = _curve_columns(rpm)
        self.prior = np.zeros(self.common.shape[1] + 1)
        self.weight = np.full(self.prior.size, 1e-6)
        if charge_pa is not None:
            self.common = np.column_stack((self.common, np.log(np.maximum(charge_pa - FRICTION_PA, 1e4) / 1e5)))
            self.prior = np.insert(self.prior, -1, CHARGE_POWER)
            self.weight = np.insert(self.weight, -1, together * NOISE**2 / CHARGE_POWER_SD**2)

    def let_differ(self, share: FloatArray | BoolArray, *, spread: float, expected: float = 0.0) -> None:
        """Let the samples lie off the curve by something times this share, of so much spread about what is expected."""
        self.common = np.column_stack((self.common, share))
        self.prior = np.insert(self.prior, -1, expected)
        self.weight = np.insert(self.weight, -1, self.together * NOISE**2 / spread**2)

    def is_odd(self, lowest: BoolArray, share: FloatArray, gears: tuple[int, ...]) -> bool:
        """Whether the lowest gear lies off the curve of the others: cars are held back there for grip."""
        if len(gears) <= LEAST_GEARS or np.count_nonzero(~lowest) < LEAST_SAMPLES:
            return False
        fitted, _ = self._solve(share, ~lowest)
        off = self.log_power - np.column_stack((self.common, share)) @ fitted
        return abs(float(np.median(off[lowest]))) > ODD_GEAR

    def error_given(self, share: FloatArray, kept: BoolArray) -> Estimate:
        """The error of one fact that lays the gears best on one curve."""
        fitted, spread = self._solve(share, kept)
        return Estimate(float(fitted[-1]), 2.0 * spread)

    def _solve(self, share: FloatArray, kept: BoolArray) -> tuple[FloatArray, float]:
        """All coefficients and the spread of the last, by robust least squares."""
        columns, log_power = np.column_stack((self.common, share))[kept], self.log_power[kept]
        trust, noise = np.ones(log_power.size), NOISE
        for _ in range(5):
            ridge = np.diag(self.weight) * (noise / NOISE) ** 2  # priors weigh against the noise that there is
            normal = (columns * trust[:, None]).T @ columns + ridge
            fitted = np.linalg.solve(normal, (columns * trust[:, None]).T @ log_power + ridge @ self.prior)
            off = log_power - columns @ fitted
            trust = np.minimum(1.0, 2.0 * NOISE / np.maximum(np.abs(off), 1e-9))
            noise = max(float(np.sqrt(np.sum(trust * off**2) / np.sum(trust))), LEAST_NOISE)
        variance = noise**2 * self.together
        return np.asarray(fitted, dtype=np.float64), float(np.sqrt(np.linalg.inv(normal)[-1, -1] * variance))


def tell_disagreement(agreement: GearAgreement, *, effect_w: float, tires_slip: bool = False) -> Finding:
    """The finding for gears that do not pull alike: a note where power is opened for it and no more is sure.

    Parameters
    ----------
    agreement : GearAgreement
        Which disagrees.
    effect_w : float
        By which average power's plus-minus was opened; it is not where no fact is the cause. [W]
    tires_slip : bool
        Whether the tires were found to slip far more than is usual all the way, which tips the gears alike.

    Returns
    -------
    Finding
        A note where chance or tires that slip may do it, where drag area and wind gainsay each other, and where no
        fact does: an engine held back in its low gears makes the power that it makes, and no figure is less sure.
    """
    mass, drag, wind = agreement.mass_share.value, agreement.drag_share.value, agreement.wind_mps.value
    units = agreement.unit_doubted
    if units is not None:
        return Finding("mass-unit-doubted", "caution", _text_of_unit(*units))
    if agreement.is_of_another_cause:
        return Finding("gears-pull-unlike", "note", _text_of_another_cause(drag, wind))
    heavy = f"the mass given were {abs(100 * mass):.0f} % too {'low' if mass < 0 else 'high'}, or "
    text = (
        "At the same engine speed and manifold pressure the gears do not pull alike, as if "
        f"{heavy if abs(mass) <= MOST_MASS_ERROR else ''}the drag area given were "
        f"{abs(100 * drag):.0f} % too {'high' if drag > 0 else 'low'}, or there had been "
        f"{abs(wind):.1f} m/s more wind from {'behind' if wind < 0 else 'ahead'} than given. Which one cannot be seen: "
        f"what was given was believed, and power is open by plus-minus {effect_w / 1e3:.0f} kW. "
        f"Weigh the car with its driver and give the wind. {LOOKS_ALIKE}"
    )
    doubts = agreement.is_sure and agreement.is_of_one_fact and not tires_slip
    return Finding("gears-pull-unlike", "caution" if doubts else "note", text)


def _text_of_another_cause(drag: float, wind: float) -> str:
    return (
        "At the same engine speed and manifold pressure the gears do not pull alike, and by more than a mass, a drag "
        f"area or a wind given wrong explains: it would take a drag area {abs(100 * drag):.0f} % too "
        f"{'high' if drag > 0 else 'low'} or {abs(wind):.0f} m/s of wind. What was given was believed. {LOOKS_ALIKE}"
    )


def _text_of_unit(read_in: str, other: str) -> str:
    great, small = ("great", "small") if read_in == "kg" else ("small", "great")
    return (
        "At the same engine speed and manifold pressure the gears pull as if the mass given were "
        f"{1.0 / KG_PER_LB:.1f} times too {great}, or the drag area too {small}: was the mass, taken in {read_in}, "
        f"meant in {other}? It was believed; if it is wrong, every power is wrong by as much. Give the mass with its "
        "unit, and check the drag area's."
    )
