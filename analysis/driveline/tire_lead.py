"""Why driven tires turn faster than the ground goes by: they slip, or their circumference was given wrong.

Slip goes with force: it falls as pull falls and vanishes once the throttle is shut. A wrong circumference, or a wheel
scaled by another tire, is one share at every speed and pull. Where a run does not tell them apart, both stay open.

Public: `Lead`, `LeadCause`, `LeadFit`, `explain_lead`, `tell_lead`, `effort_of`, `effort_by_yield`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.priors import GROWTH_AT_70, GROWTH_AT_70_SD, SLIP_PER_G, SLIP_PER_G_SD

YIELD, YIELD_SD = {"front": 0.65, "rear": 0.0, "all": 0.22}, 0.2
"""Slip grows faster than pull, as 1 / (1 - yield x pull / weight), and its spread. A brush of bristles with a grip of
1.5 of its load bends by 1 / (3 x 1.5) = 0.22 more (Pacejka, Tire and Vehicle Dynamics, ch. 3, from memory); 0.2 of the
pull leaves an axle that carries 0.6 of the weight in front, and comes onto one that carries 0.5 behind (the centre of
gravity a fifth of the wheelbase high): both divided by what the axle carries. Textbook figures, rounded. [-]"""
LEAST_GRIP_LEFT = 0.3
"""1 - yield x pull / weight goes no lower: nearer to the tires' grip nothing holds. [-]"""
SCALE_SD = 0.003
"""Spread of a given circumference against the logged speed's own scale. [-]"""
NOT_GIVEN_SCALE_SD, WRONG_SCALE_SD = 0.05, 0.1
"""The same where no circumference was given, and where the one given is another tire's. [-]"""
MUCH_SLIP_PER_G, MUCH_SLIP_PER_G_SD = 0.12, 0.15
"""Slip per force of one car weight of tires short of grip all the way, and its spread: near the grip's peak a tire
slips by 0.1 to 0.2. [-]"""
ROAD_SLIP_PER_G, ROAD_SLIP_PER_G_SD = 0.08, 0.025
"""The same of a road tire, and its spread: the CommonRoad vehicle models' slips 2 % at 0.44 of its load, and the driven
axle carries half to two thirds of the weight as it pulls: 7 to 9 % per weight; a stiff or a soft carcass makes a third
less or more. [-]"""
ROAD_GROWTH, ROAD_GROWTH_SD = 0.005, 0.004
"""Growth of a road tire at 70 m/s, and its spread: its belt holds it. Common practice, no source. [-]"""
ROAD_ODDS = 0.3
"""Share of runs on tires that slip and grow like a road car's rather than a slick. Chosen: neither is rare. [-]"""
USUAL_GRIP = 1.5
"""Tires that bear more than so much of the weight have grip of another kind: what is usual spreads wider. [-]"""
STEADY_SLIP = 0.1
"""Slip of tires held at the grip's peak. [-]"""
STEADY_SLIP_SD = 0.1
"""Its spread. [-]"""
FULL_PULL = 0.1
"""The pull over the weight from which they are held there. [-]"""
WRONG_ODDS = 0.05
"""Share of runs whose circumference is another tire's. Chosen: it happens, not often. [-]"""
MUCH_SLIP_ODDS = 0.025
"""Share of those whose tires slip far more than is usual, by each of the two laws. Chosen likewise. [-]"""
MODEL_SHARE = 0.25
"""Between causes samples count for so much less: slip is not quite straight in pull nor growth in speed squared, and
what they leave hangs together for a second, not a quarter. [-]"""
NOISE = 0.004
"""Spread of ln(tire speed / ground speed) about the fit: delays of two sensors under acceleration, and noise. [-]"""

STEPS = 8
"""Steps of the fit, halved while they lead away. All are taken: each leaves a fifth to a half of the way that was left,
and after the last the misfit, by which causes are told apart, still falls by less than 0.001 (the demo weekend's
runs)."""
LEAST_STEP = 1e-6
"""A halved one so small is none. [-]"""

OPEN_ODDS = 0.1
"""Open where another cause has more than such odds. [-]"""
TOLD_LEAD = 0.012
"""And its slip differs by more than this; a circumference off by more is told. [-]"""
MUCH_SLIP = 0.06
"""Tires that slip by more than this are told. [-]"""


class LeadCause(StrEnum):
    """What explains the lead of the driven tires."""

    AS_GIVEN = "as given"
    """The usual slip and growth on the circumference given, or on any where none was."""
    CIRCUMFERENCE = "circumference"
    """A circumference, or a wheel's scale, that is wrong."""
    SLIP = "slip"
    """Tires that slip far more than is usual, in proportion to their pull."""
    STEADY_SLIP = "steady slip"
    """Tires short of grip all the way: they slip alike at every pull, and not once they roll."""


@dataclass(frozen=True, slots=True)
class Lead:
    """How far the tires lead the ground, and what it goes with; each of shape (samples,)."""

    lead: FloatArray
    """ln(surface at rest radius / ground). [-]"""
    pull: FloatArray
    """Force at the ground over the car's weight. [-]"""
    speed_mps: FloatArray
    """Over the ground. [m/s]"""

    def at(self, use: BoolArray) -> Lead:
        """Some of the samples."""
        return Lead(self.lead[use], self.pull[use], self.speed_mps[use])


@dataclass(frozen=True, slots=True)
class LeadFit:
    """A lead as one cause explains it."""

    cause: LeadCause
    """Which."""
    theta: FloatArray
    """Scale, log; slip per g; growth at 70 m/s; yield. Shape (4,). [-]"""
    covariance: FloatArray
    """Of theta, shape (4, 4)."""
    odds: float
    """Share of the odds over all causes, 0 to 1."""
    rivals: tuple[LeadFit, ...] = ()
    """The other causes, of the likeliest one only."""

    @property
    def cause_odds(self) -> float:
        """Share of the odds of its cause, whatever the tire."""
        return self.odds + sum(rival.odds for rival in self.rivals if rival.cause is self.cause)

    @property
    def scale(self) -> float:
        """Log share that is in the lead at every pull."""
        return float(self.theta[0])

    def slip(self, pull: FloatArray) -> FloatArray:
        """What of the lead is slip, at each pull."""
        effort = _effort(pull, self.theta, self.cause)
        return np.asarray(max(float(self.theta[1]), 0.0) * np.maximum(effort, 0.0), dtype=np.float64)

    def slip_plus_minus(self, pull: FloatArray) -> FloatArray:
        """95 % half-width of that, what other causes would make of it included."""
        forward = np.maximum(pull, 0.0)
        steep = float(self.theta[1]) * _by_yield(forward, self.theta, self.cause)
        by = np.column_stack((_effort(forward, self.theta, self.cause), steep))
        variance = np.einsum("ij,jk,ik->i", by, self.covariance[np.ix_((1, 3), (1, 3))], by)
        for rival in self.rivals:
            variance = variance + rival.odds * (rival.slip(pull) - self.slip(pull)) ** 2
        return np.asarray(2.0 * np.sqrt(variance), dtype=np.float64)


def explain_lead(known: Lead, *, axle: str, given: bool, each: float) -> LeadFit:
    """Find the likeliest cause of a lead.

    Parameters
    ----------
    known : Lead
        Samples of a pull, and of the roll-out after it where there is one.
    axle : str
        ``front``, ``rear`` or ``all``.
    given : bool
        True where the tires' circumference was given.
    each : float
        What one sample counts for: neighbours err alike. [samples]

    Returns
    -------
    LeadFit
        With the others as its rivals.

    Notes
    -----
    lead = c + k p / (1 - y p) - growth (v / 70)^2 by least squares with priors, once for each cause: c near zero and k
    usual; c wide (both for a slick and for a road tire); k wide; k the same at every pull. The last differs from a wide
    c by the usual slip beside that, and in the roll-out. Their odds are those of the data under each (Laplace's
    approximation about the fit) times how often each happens.
    """
    most = max(float(np.quantile(known.pull, 0.95)) / USUAL_GRIP, 1.0)
    usual, growth = (SLIP_PER_G, most * SLIP_PER_G_SD), (GROWTH_AT_70, GROWTH_AT_70_SD)
    near, wide = (0.0, SCALE_SD if given else NOT_GIVEN_SCALE_SD), (0.0, WRONG_SCALE_SD)
    much = (MUCH_SLIP_PER_G, MUCH_SLIP_PER_G_SD)
    bend = (YIELD[axle] / most, YIELD_SD / most)
    road = (ROAD_SLIP_PER_G, most * ROAD_SLIP_PER_G_SD), (ROAD_GROWTH, ROAD_GROWTH_SD)
    right = 1.0 - WRONG_ODDS - 2.0 * MUCH_SLIP_ODDS
    tried = (
        (LeadCause.AS_GIVEN, right * (1.0 - ROAD_ODDS), (near, usual, growth, bend)),
        (LeadCause.AS_GIVEN, right * ROAD_ODDS, (near, *road, bend)),
        (LeadCause.STEADY_SLIP, MUCH_SLIP_ODDS, (near, (STEADY_SLIP, STEADY_SLIP_SD), growth, bend)),
        (LeadCause.CIRCUMFERENCE, WRONG_ODDS * (1.0 - ROAD_ODDS), (wide, usual, growth, bend)),
        (LeadCause.CIRCUMFERENCE, WRONG_ODDS * ROAD_ODDS, (wide, *road, bend)),
        (LeadCause.SLIP, MUCH_SLIP_ODDS, (near, much, growth, bend)),
    )
    fits = [(cause, share, _fit_with_priors(known, np.array(prior), cause, each=each)) for cause, share, prior in tried]
    logs = np.array([np.log(share) + fit.log_odds for _, share, fit in fits])
    odds = np.exp(logs - logs.max())
    odds = odds / odds.sum()
    found = [
        LeadFit(cause, fit.theta, fit.covariance, float(each_odds))
        for (cause, _, fit), each_odds in zip(fits, odds, strict=True)
    ]
    of_cause = [sum(fit.odds for fit in found if fit.cause is one.cause) for one in found]
    best = max(range(len(found)), key=lambda place: (of_cause[place], found[place].odds))
    first = found.pop(best)
    return LeadFit(first.cause, first.theta, first.covariance, first.odds, tuple(found))


def tell_lead(found: LeadFit | None, pull: FloatArray) -> list[Finding]:
    """Tell tires that slip far more than is usual, a circumference that is wrong, or that it may be either.

    Parameters
    ----------
    found : LeadFit or None
        None where nothing shows the tires.
    pull : array, shape (n,)
        Force at the ground over the car's weight, where the tires grip. [-]

    Returns
    -------
    list of Finding
        Empty where the setup and the usual slip explain the lead.
    """
    if found is None or pull.size == 0:
        return []
    slips = float(np.mean(found.slip(pull)))
    for rival in found.rivals:
        other = float(np.mean(rival.slip(pull)))
        doubted = LeadCause.CIRCUMFERENCE in (found.cause, rival.cause)
        if doubted and rival.odds > OPEN_ODDS and abs(other - slips) > TOLD_LEAD:
            return [_either(min(slips, other), max(slips, other))]
    if found.cause is LeadCause.CIRCUMFERENCE and abs(found.scale) > TOLD_LEAD:
        return [_wrong_circumference(found.scale, slips)]
    if found.cause is not LeadCause.CIRCUMFERENCE and slips > MUCH_SLIP:
        return [_slip_much(slips)]
    return []


def _either(least: float, most: float) -> Finding:
    text = (
        "The driven tires lead the ground by more than is usual, and the run does not tell whether they slip or their "
        f"circumference is wrong: the slip is {100 * least:.1f} or {100 * most:.1f} % on average. Power at the "
        "flywheel is open by both. Measure the roll-out of a tire, or log on for a second after the lift, in gear."
    )
    return Finding("slip-or-circumference", "caution", text, "car setup, tire_circumference")


def _wrong_circumference(scale: float, slips: float) -> Finding:
    percent = 100.0 * float(np.expm1(scale))
    text = (
        f"At every pull the driven tires turn {abs(percent):.1f} % {'faster' if percent > 0 else 'slower'} than the "
        f"circumference given and their slip of {100 * slips:.1f} % explain: the circumference, or the wheel's scale "
        f"in the logger, is too {'large' if percent > 0 else 'small'} by that. It was taken so, not for slip."
    )
    return Finding("circumference-disagrees", "caution", text, "car setup, tire_circumference")


def _slip_much(slips: float) -> Finding:
    text = (
        f"The driven tires slipped by {100 * slips:.0f} % on average while they pulled: more than tires that grip. "
        "Their heat counts as the engine's work."
    )
    return Finding("tires-slip-throughout", "note", text)


def effort_of(pull: FloatArray, yields: float) -> FloatArray:
    """What slip goes with: pull, more as it takes load off the tires and nears their grip.

    Parameters
    ----------
    pull : array, shape (n,)
        Over the car's weight. [-]
    yields : float
        As of `YIELD`. [-]

    Returns
    -------
    array, shape (n,)
        [-]

    Examples
    --------
    >>> effort_of(np.array([0.5]), 0.4).tolist()
    [0.625]
    """
    return np.asarray(pull / _grip_left(pull, yields), dtype=np.float64)


def effort_by_yield(pull: FloatArray, yields: float) -> FloatArray:
    """How fast `effort_of` grows with the yield.

    Parameters
    ----------
    pull : array, shape (n,)
        Over the car's weight. [-]
    yields : float
        As of `YIELD`. [-]

    Returns
    -------
    array, shape (n,)
        [-]

    Examples
    --------
    >>> effort_by_yield(np.array([0.5]), 0.0).tolist()
    [0.25]
    """
    return np.asarray(pull * np.maximum(pull, 0.0) / _grip_left(pull, yields) ** 2, dtype=np.float64)


def _grip_left(pull: FloatArray, yields: float) -> FloatArray:
    return np.asarray(np.maximum(1.0 - yields * np.maximum(pull, 0.0), LEAST_GRIP_LEFT), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Fitted:
    """A lead explained by one cause."""

    theta: FloatArray
    """Scale, slip per g, growth and yield."""
    covariance: FloatArray
    log_odds: float
    """Of the data under that cause."""


def _fit_with_priors(known: Lead, prior: FloatArray, cause: LeadCause, *, each: float) -> _Fitted:
    """Scale, slip per g, growth and yield by robust Gauss-Newton steps.

    `prior` holds a mean and a spread for each. Each sample counts for `each` of one; residuals past two spreads count
    less.
    """
    mean, spread = prior[:, 0], prior[:, 1]
    prior_weight = np.diag(1.0 / spread**2)
    squared = (known.speed_mps / 70.0) ** 2

    def explained(theta: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What slip goes with, and what is left of the lead."""
        effort = _effort(known.pull, theta, cause)
        return effort, known.lead - (theta[0] + theta[1] * effort - theta[2] * squared)

    theta: FloatArray = mean
    covariance: FloatArray = np.diag(spread**2)
    effort, off = explained(theta)
    misfit = _misfit(off, theta, prior, each=each)
    for _ in range(STEPS):
        columns = np.column_stack((np.ones(off.size), effort, -squared, theta[1] * _by_yield(known.pull, theta, cause)))
        weight = each / NOISE**2 * np.minimum(1.0, 2.0 * NOISE / np.maximum(np.abs(off), 1e-9))
        pulled = (columns * weight[:, None]).T
        covariance = np.asarray(np.linalg.inv(prior_weight + pulled @ columns), dtype=np.float64)
        step = covariance @ (prior_weight @ (mean - theta) + pulled @ off)
        before = misfit
        effort, off = explained(theta + step)
        while (misfit := _misfit(off, theta + step, prior, each=each)) > before and np.abs(step).max() > LEAST_STEP:
            step = 0.5 * step
            effort, off = explained(theta + step)
        theta = theta + step
    volume = float(np.linalg.slogdet(covariance)[1] - 2.0 * np.log(spread).sum())
    return _Fitted(theta, covariance, 0.5 * (volume - _misfit(off, theta, prior, each=MODEL_SHARE * each)))


def _misfit(off: FloatArray, theta: FloatArray, prior: FloatArray, *, each: float) -> float:
    far = np.abs(off) / NOISE
    off_prior = float(np.sum(((theta - prior[:, 0]) / prior[:, 1]) ** 2))
    return each * float(np.sum(np.where(far < 2.0, far**2, 4.0 * far - 4.0))) + off_prior


def _effort(pull: FloatArray, theta: FloatArray, cause: LeadCause) -> FloatArray:
    """What slip goes with under a cause."""
    steady = cause is LeadCause.STEADY_SLIP
    return np.clip(pull / FULL_PULL, 0.0, 1.0) if steady else effort_of(pull, float(theta[3]))


def _by_yield(pull: FloatArray, theta: FloatArray, cause: LeadCause) -> FloatArray:
    """How fast that grows with the yield."""
    return np.zeros_like(pull) if cause is LeadCause.STEADY_SLIP else effort_by_yield(pull, float(theta[3]))
