"""What speaks against the setup or a channel once the gears are known: said, never mended in silence.

Public: `ratios_in_order`, `tell_ratios_out_of_order`, `doubt_setup`, `doubt_one_ratio`, `settled_by_slip`,
`doubt_gear_channel`, `tell_noise`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.driveline.lasting_lead import lasting_lead
from passband.analysis.driveline.ratios import GRID_HZ, GearLevels, TurnRatio, TurnSource
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import GearBasis
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.sensors.priors import GROWTH_AT_70, GROWTH_AT_70_SD

OFF_SHAFT = 0.015
"""Against a driveshaft the ratios hold to this, log: there is no tire between. [-]"""
OFF_WHEEL = 0.03
"""Against the driven wheel's own speed: growth lies within. [-]"""
LEAST_OFF_GROUND, MOST_OFF_GROUND = -0.03, 0.06
"""Against ground speed: tire growth lets the engine turn up to 3 % less, slip up to 6 % more: a road tire's under a
pull of half the weight, two deviations up or with a circumference off by an owner's 0.8 %. What of it is slip,
`tire_lead.py` tells by how it goes with pull. [-]"""
MOST_GROWTH_AT_70 = GROWTH_AT_70 + 2.0 * GROWTH_AT_70_SD
"""A soft tire at speed grows by more than that 3 %: as far as two deviations of what is usual. [-]"""
MOST_SPIN = 0.6
"""Tires that spin for more of the run's gears than this share are the setup's doing: a final drive given wrong. [-]"""
CONVERTER_LEFT = 0.10
"""Behind a converter that has no lock the engine turns 2 to 10 % more at the end of a gear, whatever its turns are held
against. [-]"""
ONE_OFF, OTHERS_WITHIN = 0.05, 0.03
"""One gear off the others by more is a ratio written wrong, log; the others keep within this of each other. [-] With
right setups growth and slip put a gear off the others by 0.04 (0.99 quantile; 0.07 at most, a first gear's) and the
others apart by 0.03 (0.95): 320 runs of eight simulators."""
FEWEST_OTHERS = 3
"""Of two others both may lie off, as tires slip in the lower gears."""
STANDS = 0.01
"""Half of a gear's samples lie in less, log: a clutch or tires that slip drift by more. [-] On the same runs nine
gears of ten lie in less."""
LEAST_CARRIED = 50
"""So many samples must carry for ground speed and circumference to be held against each other."""
WRONG_SHARE = 0.15
"""A gear channel wrong for more of the run than its lag at each shift explains. [-]"""
MANY_NOISY = 0.005
"""More noisy samples than this share make figures doubtful, not only mended. [-]"""


def ratios_in_order(car: Car) -> Car:
    """The car with gear ratios that fall from first gear to last, as all gearboxes' do.

    Parameters
    ----------
    car : Car
        As given.

    Returns
    -------
    Car
        With ratios given from last to first turned round; without others that do not fall.

    Examples
    --------
    >>> ratios_in_order(Car(name="by hand", gear_ratios=[1.0, 1.4, 2.1])).gear_ratios
    [2.1, 1.4, 1.0]
    """
    ratios = car.gear_ratios
    if ratios is None or _fall(ratios):
        return car
    return car.model_copy(update={"gear_ratios": ratios[::-1] if _fall(ratios[::-1]) else None})


def tell_ratios_out_of_order(given: Car, taken: Car) -> list[Finding]:
    """Tell gear ratios that were not taken as they were given.

    Parameters
    ----------
    given : Car
        By the user.
    taken : Car
        As `ratios_in_order` has it.

    Returns
    -------
    list of Finding
        Empty where they fall from first gear to last.
    """
    if given.gear_ratios is None or taken.gear_ratios == given.gear_ratios:
        return []
    ratios = ", ".join(f"{ratio:g}" for ratio in given.gear_ratios)
    if taken.gear_ratios is not None:
        text = f"The gear ratios were given from last gear to first ({ratios}): they are read the other way round."
        return [Finding("ratios-out-of-order", "note", text, "car")]
    text = (
        f"The gear ratios given ({ratios}) do not fall from first gear to last, as every gearbox's do: one is wrong or "
        "stands in another's place. They were left out, and the gears are found from the logs, which is less certain. "
        "Put them right in the car."
    )
    return [Finding("ratios-out-of-order", "caution", text, "car")]


def _fall(ratios: Sequence[float]) -> bool:
    return all(lower > higher for lower, higher in pairwise(ratios))


def doubt_one_ratio(gear_levels: GearLevels, turn: TurnRatio, carried: IntArray, car: Car) -> list[Finding]:
    """Hold each gear's ratio against the others': one written wrong stands out where the gear carries.

    Parameters
    ----------
    gear_levels : GearLevels
        Given or found.
    turn : TurnRatio
        The record.
    carried : array of int, shape (n,)
        Gear that carried at each moment of the record; 0 where none did.
    car : Car
        The setup.

    Returns
    -------
    list of Finding
        The one gear that goes against its ratio while all others agree; empty behind a converter, whose slip goes with
        the gear, and where fewer than three others carried steadily.

    Notes
    -----
    Silent where the setup as a whole is off or a gear was passed over: then which ratio it is does not show. Nor does
    it against the ground where the lowest gear's is too small, as tires slip most there.
    """
    if gear_levels.basis is not GearBasis.GIVEN or car.has_converter or car.gear_ratios is None:
        return []
    counts = np.bincount(carried, minlength=gear_levels.level.size + 1)[1:]
    held = (np.flatnonzero(counts >= LEAST_CARRIED) + 1).tolist()
    if abs(gear_levels.offset) > ONE_OFF or any(after - before > 1 for before, after in pairwise(held)):
        return []  # the setup as a whole is off, or a gear was passed over: which ratio it is does not show
    off: dict[int, float] = {}
    for gear in held:
        known = turn.log_ratio[(carried == gear) & ~turn.doubtful & np.isfinite(turn.log_ratio)]
        if known.size < LEAST_CARRIED:
            continue
        low, middle, high = np.quantile(known - gear_levels.level[gear - 1] - gear_levels.offset, [0.25, 0.5, 0.75])
        if high - low < STANDS:
            off[gear] = float(middle)
    for gear, by in off.items():
        others = [one for other, one in off.items() if other != gear]
        usual = float(np.median(others)) if others else 0.0
        if (
            len(others) < FEWEST_OTHERS
            or max(abs(one - usual) for one in others) > OTHERS_WITHIN
            or abs(by - usual) < ONE_OFF
        ):
            continue
        if gear == held[0] and by > usual and turn.source is TurnSource.GROUND_SPEED:
            continue  # tires slip most where the pull is greatest
        share, given = float(np.expm1(by - usual)), car.gear_ratios[gear - 1]
        text = (
            f"In gear {gear} the engine turned {abs(share):.0%} {'more' if share > 0 else 'less'} than the ratio given "
            f"({given:g}) asks for, steadily, while the other gears agree with theirs: about {given * (1 + share):.2f} "
            f"fits. Check the ratio of gear {gear}."
        )
        return [Finding("one-ratio-disagrees", "caution", text, f"gear {gear}")]
    return []


def tell_noise(evidence: RunEvidence) -> list[Finding]:
    """Tell how much of a run's engine speed was noise.

    Parameters
    ----------
    evidence : RunEvidence
        Of the run.

    Returns
    -------
    list of Finding
        Empty where there was none.
    """
    engine = evidence.engine
    if engine is None:
        return []
    hit = engine.noisy & (engine.time_s >= evidence.launch_s) & (engine.time_s <= evidence.end_s)
    if not hit.any():
        return []
    first = float(engine.time_s[int(np.argmax(hit))])
    text = (
        f"Engine speed misses {int(hit.sum())} samples during the run or holds there what no engine can turn "
        "(ignition noise: doubles, halves, spikes, dropouts); they were left out and bridged."
    )
    where = f"engine speed, first at {first:.2f} s from clock start"
    many = bool(hit.sum() > MANY_NOISY * engine.time_s.size)
    return [Finding("engine-speed-noise", "caution" if many else "note", text, where)]


def doubt_setup(gear_levels: GearLevels, turn: TurnRatio, carried: IntArray, motion: Motion, car: Car) -> list[Finding]:
    """Hold the ratios and the tire circumference given against what was logged.

    Parameters
    ----------
    gear_levels : GearLevels
        Given or found.
    turn : TurnRatio
        The record.
    carried : array of int, shape (n,)
        Gear that carried at each moment of the record; 0 where none did.
    motion : Motion
        Ground speed.
    car : Car
        The setup.

    Returns
    -------
    list of Finding
        Which disagree, by how much, and which was believed; empty where all agree.

    Notes
    -----
    What counts is the lead that the engine keeps once it has settled: a clutch's or converter's slip falls towards it.
    """
    if gear_levels.basis is not GearBasis.GIVEN:
        return []
    left = CONVERTER_LEFT if car.has_converter else 0.0
    ground = _off_ground(turn, carried, motion, car)
    off_ground = None if ground is None else ground.off
    ground_agrees = ground is None or ground.least <= ground.off <= MOST_OFF_GROUND + left
    offset = gear_levels.offset
    if turn.source is TurnSource.DRIVESHAFT:
        findings = [] if -OFF_SHAFT <= offset <= OFF_SHAFT + left else [_shaft_disagrees(offset)]
        return findings if ground_agrees or off_ground is None else [*findings, _ground_disagrees(off_ground)]
    wheel_agrees = turn.source is not TurnSource.DRIVEN_WHEEL or -OFF_WHEEL <= offset <= OFF_WHEEL + left
    if not wheel_agrees and off_ground is not None and ground_agrees:
        return [_wheel_disagrees(offset)]
    off = offset if off_ground is None else off_ground
    wrong = not ground_agrees or (off_ground is None and not LEAST_OFF_GROUND <= off <= MOST_OFF_GROUND + left)
    return [_ground_disagrees(off)] if wrong else []


@dataclass(frozen=True, slots=True)
class _OffGround:
    off: float
    """How much more the engine turns for the ground than ratios and circumference say, for good; log. [-]"""
    least: float
    """Less than this is no growth. [-]"""


def _least_off(ground_mps: FloatArray) -> float:
    return min(LEAST_OFF_GROUND, -MOST_GROWTH_AT_70 * float(np.mean((ground_mps / 70.0) ** 2)))


def _off_ground(turn: TurnRatio, carried: IntArray, motion: Motion, car: Car) -> _OffGround | None:
    overall = car.overall_ratios
    if overall is None or not car.tire_circumference or motion.basis.through_driveline:
        return None
    ground = np.interp(turn.time_s, motion.time_s, motion.speed_mps)
    spinning = np.interp(turn.time_s, motion.time_s, motion.spinning.astype(np.float64)) > 0
    inside = (carried > 0) & (ground > 10.0) & np.isfinite(turn.rpm)
    if np.count_nonzero(inside & spinning) < MOST_SPIN * np.count_nonzero(inside):
        inside &= ~spinning
    if inside.sum() < LEAST_CARRIED:
        return None
    by_ratios = 60.0 * np.asarray(overall)[np.clip(carried, 1, len(overall)) - 1] / car.tire_circumference
    with np.errstate(divide="ignore", invalid="ignore"):
        lead = np.where(inside, np.log(turn.rpm / ground / by_ratios), np.nan)
    lasts = lasting_lead(lead, inside, step_s=1.0 / GRID_HZ, edge=0.5)  # tires slip and grow about it
    return None if lasts is None else _OffGround(lasts, _least_off(ground[inside]))


def _more(off: float) -> str:
    percent = 100.0 * (float(np.exp(off)) - 1.0)
    return f"{abs(percent):.1f} % {'more' if percent > 0 else 'less'}"


def _shaft_disagrees(off: float) -> Finding:
    text = (
        f"In every gear the engine turns {_more(off)} for the driveshaft than the gear ratios given say: the ratios or "
        "the driveshaft speed's scale are wrong. The logged speeds were believed and the ratios scaled to name gears."
    )
    return Finding("ratios-disagree-with-driveshaft", "caution", text, "car setup, gear_ratios")


def _wheel_disagrees(off: float) -> Finding:
    text = (
        f"In every gear the engine turns {_more(off)} for the driven wheel's logged speed than the ratios and tire "
        "circumference given say, while ground speed agrees with them: the logger scales the driven wheel's speed by "
        "another tire circumference. Ground speed and the setup were believed."
    )
    return Finding("driven-wheel-scale-wrong", "caution", text, "driven wheel speed")


def _ground_disagrees(off: float) -> Finding:
    text = (
        f"In every gear the engine turns {_more(off)} for the ground covered than the ratios and tire circumference "
        "given say, beyond the usual tire slip and growth: the tire circumference, the final drive or the speed's "
        f"scale is wrong{', or the tires slip so much all the way' if off > 0 else ''}. The logged speed was believed; "
        "the ratios were scaled to name the gears."
    )
    return Finding("ratios-disagree-with-speed", "caution", text, "car setup, tire_circumference")


def settled_by_slip(findings: Sequence[Finding], by_power: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings in which ratios that disagree with the ground are a note, where power found the tires to slip so much.

    Parameters
    ----------
    findings : sequence of Finding
        Any of the run's.
    by_power : sequence of Finding
        Of its power, whose fit of the tires' lead weighs slip against a circumference given wrong.

    Returns
    -------
    tuple of Finding
        In the same order; all as they were where power leaves both open, or blames the circumference.
    """
    if not any(finding.code == "tires-slip-throughout" for finding in by_power):
        return tuple(findings)
    return tuple(_by_slip(one) if one.code == "ratios-disagree-with-speed" else one for one in findings)


def _by_slip(finding: Finding) -> Finding:
    text = f"{finding.text} It goes with the pull, as slip does and a wrong circumference does not."
    return Finding("ratios-disagree-with-speed", "note", text, finding.where)


def doubt_gear_channel(traces: Traces, time_s: np.ndarray, gear: IntArray) -> list[Finding]:
    """Hold a gear channel against the gears found.

    Parameters
    ----------
    traces : Traces
        May hold a gear channel.
    time_s : array, shape (n,)
        Times at which a gear is known. [s]
    gear : array of int, shape (n,)
        The gear; 0 where none is known.

    Returns
    -------
    list of Finding
        Empty where they agree but for the channel's lag, or none is logged.
    """
    channel = traces.get("gear")
    if channel is None or channel.known.time_s.size < 2:
        return []
    known = channel.known
    logged = np.rint(known.values[np.clip(np.searchsorted(known.time_s, time_s, side="right") - 1, 0, None)])
    both = (gear > 0) & (time_s >= known.time_s[0]) & (time_s <= known.time_s[-1])
    wrong = float(np.mean(logged[both] != gear[both])) if both.sum() > 10 else 0.0
    if wrong < WRONG_SHARE:
        return []
    text = (
        f"The gear channel disagrees with engine speed over speed for {100 * wrong:.0f} % of the run; it was not "
        "believed there."
    )
    return [Finding("gear-channel-disagrees", "caution", text, channel.header)]
