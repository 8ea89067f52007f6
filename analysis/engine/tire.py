"""How much faster the driven tires turn than the ground goes by: growth told apart from slip.

Public: `TireFit`, `fit_tire`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.quantities import G_MPS2, BoolArray, FloatArray
from analysis.track.motion import Motion

SLIP_PER_G, SLIP_PER_G_SD = 0.035, 0.010
"""Slip while gripping, per force of one car weight at the ground, and its spread over tires. Chosen: slicks at 1 g turn
some 3 or 4 % faster than the ground; a road tire of the CommonRoad vehicle models slips 2 % at 0.44 of its load."""
GROWTH_AT_70, GROWTH_AT_70_SD = 0.015, 0.012
"""Growth of the rolling radius at 70 m/s, with the square of speed, and its spread from a radial to a soft slick.
Chosen: no published table was found."""
SCALE_SD = 0.003
"""Spread of a told circumference against the logged speed's own scale. [-]"""
UNTOLD_SCALE_SD = 0.05
"""The same where no circumference was told. [-]"""
WRONG_SCALE = 0.035
"""A median lead beyond this is no slip, no growth but a wrong circumference, or a wheel scaled by another tire. [-]"""
LEAST_SPEED_MPS = 12.0
"""Below this a wheel-speed sensor's own steps weigh more than slip. [m/s]"""
NOISE = 0.004
"""Spread of ln(tire speed / ground speed) about the fit: delays of two sensors under acceleration, and noise. [-]"""
CORRELATED_S = 0.25
"""Time over which such errors hang together: samples count as one in that time. [s]"""


@dataclass(frozen=True, slots=True)
class TireFit:
    """Slip of the driven tires, growth taken out."""

    speed_mps: FloatArray
    """Surface speed of the driven tires, growth taken out, never below the ground's; shape (n,). [m/s]"""
    per_g: float
    """Slip while gripping per force of one car weight. [-]"""
    per_g_plus_minus: float
    """95 % half-width. [-]"""
    growth_at_70: float
    """Growth of the radius at 70 m/s. [-]"""
    scale: float
    """What a surface speed as logged, or through the gear, is to be multiplied by; 1 where nothing shows it. [-]"""
    measured: bool
    """False where nothing shows the tires' own speed and the usual slip stands in."""

    def rest_speed(self, ground_mps: FloatArray) -> FloatArray:
        """Surface speed at rest radius, as a wheel-speed sensor counts it, in m/s."""
        return self.speed_mps / (1.0 + self.growth_at_70 * (ground_mps / 70.0) ** 2)


def fit_tire(
    motion: Motion, surface_mps: FloatArray, force_n: FloatArray, *, mass_kg: float, steady: BoolArray, told: bool
) -> TireFit:
    """Tell slip from growth by how the tires' lead over the ground goes with force and with speed.

    Parameters
    ----------
    motion : Motion
        Grid of shape (n,).
    surface_mps : array, shape (n,)
        Surface speed of the driven tires at rest radius, as logged or through the gear; NaN where unknown. [m/s]
    force_n : array, shape (n,)
        At the contact patches. [N]
    mass_kg : float
        Of the car. [kg]
    steady : array of bool, shape (n,)
        Samples to fit: no shift under way, gripping.
    told : bool
        True where the tires' circumference was told.

    Returns
    -------
    TireFit
        Surface speed equals ground speed where the tires do not pull.

    Notes
    -----
    ln(surface / ground) = c + k F / (m g) - growth (v / 70)^2, by least squares with priors on all three. c is free, as
    nothing tells it from a wrong circumference. Within an episode of wheelspin the surface speed is what was measured,
    less c and growth. Where ground speed itself comes from the driven wheel or the engine, the usual slip per force
    stands in. It does not see slip that grows faster than force short of wheelspin.
    """
    pull = force_n / (mass_kg * G_MPS2)
    speed = motion.speed_mps
    moving = speed > LEAST_SPEED_MPS
    lead = np.log(np.where(moving & (surface_mps > 0), surface_mps, 1.0) / np.where(moving, speed, 1.0))
    use = steady & moving & ~motion.spinning & np.isfinite(surface_mps) & (surface_mps > 0) & (np.abs(lead) < 0.25)
    own_ground = not motion.through_driveline
    if not own_ground or use.sum() < 20:
        usual = speed * (1.0 + SLIP_PER_G * np.maximum(pull, 0.0))
        return TireFit(usual, SLIP_PER_G, 2.0 * SLIP_PER_G_SD, GROWTH_AT_70, 1.0, False)
    columns = np.column_stack((np.ones(speed.size), pull, -((speed / 70.0) ** 2)))
    step_s = float(np.median(np.diff(motion.time_s)))
    believed = told and abs(float(np.median(lead[use]))) < WRONG_SCALE
    scale_sd = SCALE_SD if believed else UNTOLD_SCALE_SD
    theta, covariance = _fit_with_priors(
        columns[use], lead[use], each=min(1.0, step_s / CORRELATED_S), scale_sd=scale_sd
    )
    gripping = speed * (1.0 + max(float(theta[1]), 0.0) * np.maximum(pull, 0.0))
    seen = surface_mps * np.exp(-theta[0]) * (1.0 + theta[2] * (speed / 70.0) ** 2)
    spun = motion.spinning & np.isfinite(seen)
    doubt = 2.0 * float(np.sqrt(covariance[1, 1]))
    tires = np.where(spun, np.fmax(seen, gripping), gripping)
    return TireFit(tires, float(theta[1]), doubt, float(theta[2]), float(np.exp(-theta[0])), True)


def _fit_with_priors(
    columns: FloatArray, lead: FloatArray, *, each: float, scale_sd: float
) -> tuple[FloatArray, FloatArray]:
    """Robust weighted least squares; each sample counts for `each` of one, residuals past two spreads count less."""
    prior = np.array([0.0, SLIP_PER_G, GROWTH_AT_70])
    prior_weight = np.diag(1.0 / np.array([scale_sd, SLIP_PER_G_SD, GROWTH_AT_70_SD]) ** 2)
    theta: FloatArray = prior
    covariance: FloatArray = np.diag(1.0 / np.diag(prior_weight))
    for _ in range(4):
        off = np.abs(lead - columns @ theta) / NOISE
        weight = each / NOISE**2 * np.minimum(1.0, 2.0 / np.maximum(off, 1e-9))
        covariance = np.asarray(np.linalg.inv(prior_weight + (columns * weight[:, None]).T @ columns), dtype=np.float64)
        theta = covariance @ (prior_weight @ prior + (columns * weight[:, None]).T @ lead)
    return theta, covariance
