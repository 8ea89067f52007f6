"""What is said beside a forecast: what it rests on, how well the model meets its own run, limits that it would break.

Public: `OwnRun`, `hold_to_own_run`, `far_from_own_run`, `rests_on`, `boost_said`,
`unseen_said`, `flare_said`, `limits_passed`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.quantities import parse_quantity
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.analysis.whatif.changes import Changes
from passband.analysis.whatif.drive import Driven
from passband.analysis.whatif.model import ModelledRun, RunModel

OWN_RUN_S, OWN_RUN_SHARE = 0.025, 0.01
"""A model must come to its own run's splits within so much, and to its RPM after within such a share. [s], [-]"""
LEAST_BRACKET_S = 0.0005
"""Two rules for other air that are closer than this are one. [s]"""
TOLD_S = 0.05
"""Less time than this beyond what was seen is not said. Chosen. [s]"""
PSI_PA = 6894.757
"""[Pa]"""


@dataclass(frozen=True, slots=True)
class OwnRun:
    """How far a model comes to the run that it was made of."""

    splits_s: float
    """[s]"""
    rpm_share: float
    """[-]"""
    met: bool
    """Whether both are near, and all shifts were made."""

    @property
    def words(self) -> str:
        """As a finding says it."""
        return f"splits within {1000 * self.splits_s:.0f} ms and its RPM after shifts within {self.rpm_share:.1%}"


def hold_to_own_run(model: RunModel, as_run: Driven, review: Review) -> OwnRun:
    """Hold a model's drive against the run that it was made of.

    Parameters
    ----------
    model : RunModel
        Of the run.
    as_run : Driven
        Its drive, unchanged.
    review : Review
        Of the run.

    Returns
    -------
    OwnRun
        How far off its splits and its engine speeds after shifts are.
    """
    distance = known(review.distance)
    splits = distance.splits if distance is not None else ()
    off_s = max(abs(as_run.splits_s[split.at_ft] - split.time_s.value) for split in splits)
    rpm = max(
        (
            abs(got / float(model.engine_rpm(was.rpm_through_gear)) - 1.0)
            for got, was in zip(as_run.rpm_after, model.shifts, strict=False)
        ),
        default=0.0,
    )
    met = off_s <= OWN_RUN_S and rpm <= OWN_RUN_SHARE and len(as_run.rpm_after) == len(model.shifts)
    return OwnRun(off_s, rpm, met)


def far_from_own_run(own: OwnRun) -> Finding:
    """Why a model that misses its own run by far says nothing.

    Parameters
    ----------
    own : OwnRun
        Of `hold_to_own_run`.

    Returns
    -------
    Finding
        A caution.
    """
    text = (
        f"Driven as it was, the model comes to this run's own splits only within {1000 * own.splits_s:.0f} ms: tires "
        "that spun, a missed shift or a poor speed stand in it. Nothing is foretold; ask a clean run."
    )
    return Finding("whatif-no-model", "caution", text, "What if")


def rests_on(model: RunModel, own: OwnRun, grip_s: float = 0.0) -> list[Finding]:
    """What a forecast rests on, and how well the model meets its own run.

    Parameters
    ----------
    model : RunModel
        Of the run.
    own : OwnRun
        Of `hold_to_own_run`.
    grip_s : float
        What tires at their limit at the launch leave open of the elapsed time. [s]

    Returns
    -------
    list of Finding
        A caution first where the model does not come near enough.
    """
    text = (
        f"A forecast from this one run. Driven as it was, the model comes to the run's own {own.words}. The same "
        "launch, grip and shifts are taken but for what was changed. "
    )
    if grip_s >= LEAST_BRACKET_S:
        text += f"That its tires may have been at their limit at the launch puts {_ms(grip_s)} into the plus-minus. "
    text += "Builder, makers and rule book come first."
    findings = [Finding("whatif-rests-on", "note", text, "What if")]
    if not own.met:
        off = (
            f"The model comes to this run's own {own.words}; {1000 * OWN_RUN_S:.0f} ms and {OWN_RUN_SHARE:.0%} are "
            "what is to be believed: a run whose tires spin or that misses a shift is none to ask. The plus-minus is "
            "wider for it; take differences with care, or ask a clean run."
        )
        findings = [Finding("whatif-off-its-own-run", "caution", off, "What if"), *findings]
    if model.link is not None:
        said = (
            "Behind the converter its turbine's torque and the engine's speed are taken as this run has them at each "
            "turbine speed; another converter, or another stall speed at the launch, is not foretold."
        )
        findings.append(Finding("whatif-behind-converter", "note", said, "What if"))
    return findings


def boost_said(model: RunModel, changes: Changes, by_s: float, bracket_s: float) -> list[Finding]:
    """What a boosted engine's answer rests on: other air is a bracket, other boost follows this run's.

    Parameters
    ----------
    model : RunModel
        Of the run.
    changes : Changes
        What is to be other.
    by_s : float
        Forecast change of the elapsed time. [s]
    bracket_s : float
        Half of what the two rules for other air differ by. [s]

    Returns
    -------
    list of Finding
        Empty without boost, or where neither air nor boost is other.
    """
    if not model.boosted or (changes.air is None and not changes.boost_by_pa):
        return []
    said = "Boost follows the time since each shift as in this run."
    if changes.boost_by_pa:
        said += " What hotter charge, fuel and spark make of more of it is not in the forecast."
    if changes.air is not None and bracket_s >= LEAST_BRACKET_S:
        said += (
            f" What the turbo does in other air lies between boost held and pressure ratio held, "
            f"{by_s - bracket_s:+.3f} and {by_s + bracket_s:+.3f} s: the middle is given, their difference is in the "
            "plus-minus."
        )
    elif changes.air is not None:
        said += " The air's pressure stays, so boost is taken as held; warmer or colder air is that of the charge too."
    return [Finding("whatif-boosted-air", "caution", said, "What if")]


def unseen_said(model: RunModel, driven: Driven, open_s: float) -> list[Finding]:
    """How much of a changed run goes beyond the engine speeds that the run showed.

    Parameters
    ----------
    model : RunModel
        Of the run.
    driven : Driven
        The changed model's drive.
    open_s : float
        What that leaves open of the elapsed time. [s]

    Returns
    -------
    list of Finding
        Empty where it stays within them.
    """
    if open_s <= 0.0 or driven.beyond_s < TOLD_S:
        return []
    seen_rpm = float(model.engine_rpm(model.torque.most_rpm))
    text = (
        f"This run shows the engine's torque up to {seen_rpm:.0f} rpm; {driven.beyond_s:.2f} s of the changed run's "
        f"{driven.elapsed_s:.2f} s lie beyond it, up to {driven.pulled_rpm:.0f} rpm. Torque is drawn on there as it "
        f"fell before; that it may fall faster, or a limiter stop it, puts {_ms(open_s)} into the plus-minus. "
        "Whether the engine may go there at all, its builder has to say."
    )
    return [Finding("whatif-beyond-seen", "caution", text, "What if")]


def flare_said(changed: RunModel, by_s: float, bracket_s: float) -> list[Finding]:
    """What a flare within shifts leaves open.

    Parameters
    ----------
    changed : RunModel
        The run's model, changed.
    by_s : float
        Forecast change of the elapsed time. [s]
    bracket_s : float
        Half of what a flare that is held and one that is not differ by. [s]

    Returns
    -------
    list of Finding
        Empty where they are one.
    """
    if bracket_s < LEAST_BRACKET_S:
        return []
    follow = [one for one in changed.shifts if one.peak_rpm is not None and one.peak_follows < 1.0]
    flare_rpm = max((one.peak_rpm or 0.0) - one.left_rpm for one in follow)
    text = (
        f"In this run's shifts the engine rises by up to {flare_rpm:.0f} rpm before the next gear takes it down, and "
        "what it gives back then pushes the car. Whether that rise moves with the shift point, or a limiter holds it, "
        f"the run does not show: the answer lies between {by_s - bracket_s:+.3f} and {by_s + bracket_s:+.3f} s. The "
        "middle is given, their difference is in the plus-minus."
    )
    return [Finding("whatif-flare", "caution", text, "What if")]


def limits_passed(changed: RunModel, driven: Driven, run: ModelledRun) -> list[Finding]:
    """Limits of the user's own on engine speed and boost that the changed run would break.

    Parameters
    ----------
    changed : RunModel
        The run's model, changed.
    driven : Driven
        Its drive.
    run : ModelledRun
        As it ran.

    Returns
    -------
    list of Finding
        One for each such limit.
    """
    boost_pa = None
    if changed.charge_pa is not None and run.model.charge_pa is not None:
        boost_pa = max(float(pa.max()) for _, pa in changed.charge_pa) - changed.ambient_pa
    comes_to = {"engine_speed": driven.most_rpm, "boost": boost_pa}
    out = []
    for limit in run.car.limits:
        most = comes_to.get(limit.channel)
        if most is None or limit.at_most is None or limit.during != "run":
            continue
        unit = "rpm" if limit.channel == "engine_speed" else "Pa"
        bound = _in_si(limit.at_most, unit)
        if bound is None or most <= bound:
            continue
        shown = (f"{most:.0f} rpm", f"{bound:.0f} rpm") if unit == "rpm" else (_pressure(most), _pressure(bound))
        what = "The engine" if unit == "rpm" else "Boost"
        text = f"{what} would come to {shown[0]}, over your limit {limit.name!r} of {shown[1]}."
        out.append(Finding("whatif-breaks-limit", "caution", text, "What if"))
    return out


def _ms(seconds: float) -> str:
    return f"{1000.0 * seconds:.0f} ms" if seconds >= LEAST_BRACKET_S else "less than 1 ms"


def _pressure(pa: float) -> str:
    return f"{pa / 1000.0:.0f} kPa ({pa / PSI_PA:.1f} psi)"


def _in_si(bound: float | str, unit: str) -> float | None:
    try:
        return parse_quantity(bound, si_unit=unit, name="limit")
    except ValueError:
        return None
