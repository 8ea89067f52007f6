"""How much faster the driven tires turn than the ground goes by: growth told apart from slip.

Public: `TireFit`, `fit_tire`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.driveline.tire_lead import YIELD, Lead, LeadFit, effort_of, explain_lead
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import G_MPS2, BoolArray, FloatArray
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.sensors.priors import GROWTH, GROWTH_AT_70, SLIP_PER_G, SLIP_PER_G_SD, SLIP_PER_MPS2

LEAST_SPEED_MPS = 12.0
"""Below this a wheel-speed sensor's own steps weigh more than slip. [m/s]"""
CORRELATED_S = 0.25
"""Time over which such errors hang together: samples count as one in that time. [s]"""
ROLL_OUT_S = 0.3
"""The first of the roll-out after the lift. [s]"""
ROLL_OUT_SPREAD = 0.006
"""How far from its median lead the rest may lie: more is the clutch. [-]"""
MOST_GROWTH = 0.06
"""A lead further from zero is no growth. [-]"""
BRAKED_MPS2 = 3.4
"""A car that slows harder is on its brakes, and then what slows it is not the driven tires' alone. [m/s2]"""
BRAKED_PULL = -0.12
"""So is one whose tires hold it back by more of its weight. [-] By arithmetic: of 5 litres friction of 2 to 3 bar is 80
to 120 Nm, four engine turns to one of a 0.33 m wheel, 1200 kg: 0.08 to 0.12."""


LEAST_PULL = 0.15
"""Pull over the car's weight from which slip stands out of a wheel's noise. [-] By arithmetic: half a hundredth of the
speed."""
LEAST_PULLING = 20
"""So many samples of it show what slip was taken out of ground speed."""


@dataclass(frozen=True, slots=True)
class TireFit:
    """Slip of the driven tires, growth taken out."""

    speed_mps: FloatArray
    """Surface speed of the driven tires, growth taken out, never below the ground's; shape (n,). [m/s]"""
    per_g: float
    """Slip while gripping per force of one car weight, at a small pull. [-]"""
    slip_plus_minus: FloatArray
    """95 % half-width of the slip, shape (n,). [-]"""
    growth_at_70: float
    """Growth of the radius at 70 m/s. [-]"""
    scale: float
    """What a surface speed as logged, or through the gear, is to be multiplied by; 1 where nothing shows it. [-]"""
    measured: bool
    """False where nothing shows the tires' own speed and the usual slip stands in."""
    lead: LeadFit | None = None
    """Why the tires lead the ground as they do; None where not measured."""

    def rest_speed(self, ground_mps: FloatArray) -> FloatArray:
        """Surface speed at rest radius, as a wheel-speed sensor counts it, in m/s."""
        return self.speed_mps / (1.0 + self.growth_at_70 * (ground_mps / 70.0) ** 2)

    def slid(self, ground_mps: FloatArray) -> TireFit:
        """The same with the slip raised by its plus-minus."""
        return replace(self, speed_mps=self.speed_mps + self.slip_plus_minus * ground_mps)


def fit_tire(
    motion: Motion,
    surface_mps: FloatArray,
    pull: FloatArray,
    *,
    steady: BoolArray,
    end_s: float,
    axle: str,
    given: bool,
) -> TireFit:
    """Tell slip from growth by how the tires' lead over the ground goes with force and with speed.

    Parameters
    ----------
    motion : Motion
        Grid of shape (n,).
    surface_mps : array, shape (n,)
        Surface speed of the driven tires at rest radius, as logged or through the gear; NaN where unknown. [m/s]
    pull : array, shape (n,)
        Force at the contact patches over the car's weight. [-]
    steady : array of bool, shape (n,)
        Samples to fit: no shift under way, gripping.
    end_s : float
        Finish or lift; the roll-out after it shows growth without slip. [s, ET]
    axle : str
        ``front``, ``rear`` or ``all``.
    given : bool
        True where the tires' circumference was given.

    Returns
    -------
    TireFit
        Surface speed equals ground speed where the tires do not pull.

    Notes
    -----
    ln(surface / ground) = c + k p / (1 - y p) - growth (v / 70)^2, p the pull, by least squares with priors on c, k,
    growth and y. c is free, as nothing tells it from a wrong circumference. In the run pull falls as speed rises, so
    slip and growth look alike; once the throttle is shut, the gear still in, growth stands alone. Within an episode of
    wheelspin the surface speed is what was measured, less c and growth. Where ground speed itself comes from the
    driven wheel, the slip that was taken out of it is put back, by what the wheel leads it; where it comes from the
    engine, or nothing shows the tires, the usual slip per force stands in.
    """
    speed = motion.speed_mps
    moving = speed > LEAST_SPEED_MPS
    lead = np.log(np.where(moving & (surface_mps > 0), surface_mps, 1.0) / np.where(moving, speed, 1.0))
    shown = moving & ~motion.spinning & np.isfinite(surface_mps) & (surface_mps > 0)
    use = steady & shown & (np.abs(lead) < 0.25)
    if motion.through_driveline:  # whose ground speed has had just this slip taken out of it
        thrust_g = np.maximum(np.nan_to_num(motion.acceleration_mps2, nan=0.0), 0.0) / G_MPS2
        usual = _usual_tire(speed, thrust_g, SLIP_PER_MPS2 * G_MPS2)
        pulls = use & (pull > LEAST_PULL)
        if motion.basis is SpeedBasis.DRIVEN_WHEEL and pulls.sum() >= LEAST_PULLING:
            taken = np.expm1(lead[pulls]) + GROWTH * speed[pulls] ** 2
            per_g = max(float(np.median(taken / pull[pulls])), 0.0)
            usual = _usual_tire(speed, np.maximum(np.nan_to_num(pull, nan=0.0), 0.0), per_g)
        spun = motion.spinning & np.isfinite(surface_mps)
        return replace(usual, speed_mps=np.where(spun, np.fmax(surface_mps, usual.speed_mps), usual.speed_mps))
    if use.sum() < 20:
        return _usual_tire(speed, np.maximum(effort_of(pull, YIELD[axle]), 0.0), SLIP_PER_G)
    step_s = float(np.median(np.diff(motion.time_s)))
    unbraked = shown & (pull > BRAKED_PULL)
    known = Lead(lead, pull, speed).at(use | _roll_out(motion, unbraked, lead, end_s))
    found = explain_lead(known, axle=axle, given=given, each=min(1.0, step_s / CORRELATED_S))
    growth = float(found.theta[2])
    gripping = speed * (1.0 + found.slip(pull))
    seen = surface_mps * np.exp(-found.scale) * (1.0 + growth * (speed / 70.0) ** 2)
    spun = motion.spinning & np.isfinite(seen)
    tires = np.where(spun, np.fmax(seen, gripping), gripping)
    half_width = found.slip_plus_minus(pull)
    return TireFit(tires, float(found.theta[1]), half_width, growth, float(np.exp(-found.scale)), True, found)


def _usual_tire(speed_mps: FloatArray, effort: FloatArray, per_g: float) -> TireFit:
    half_width = 2.0 * SLIP_PER_G_SD * effort
    return TireFit(speed_mps * (1.0 + per_g * effort), per_g, half_width, GROWTH_AT_70, 1.0, False)


def _roll_out(motion: Motion, shown: BoolArray, lead: FloatArray, end_s: float) -> BoolArray:
    """Samples after the lift at which the driven tires roll along, neither braked nor let go by the clutch."""
    after = shown & (motion.time_s > end_s) & (np.abs(lead) < MOST_GROWTH)
    after &= (motion.acceleration_mps2 < 0.0) & (motion.acceleration_mps2 > -BRAKED_MPS2)
    if not after.any():
        return after
    first = after & (motion.time_s < motion.time_s[np.argmax(after)] + ROLL_OUT_S)
    kept: BoolArray = after & (np.abs(lead - np.median(lead[first])) < ROLL_OUT_SPREAD)
    return kept
