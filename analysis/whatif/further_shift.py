"""A shift more before the line than the run made, or one less: what a change of gearing or shift points may ask.

A run that crossed its line in fourth just under the shift to fifth makes that shift before the line, if shifts are
made earlier or its gearing is shorter. The run holds no such shift: the last one that it made stands in for it.

Public: `ChangedDrive`, `drive_changed`, `shifts_told`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.whatif.changes import Changes, GearingGiven
from passband.analysis.whatif.drive import Driven, drive
from passband.analysis.whatif.model import RunModel, ShiftModel

NEAR_RPM, JUST_RPM = 150.0, 20.0
"""A driver leaves a gear within so much of where it was meant (two sigma of 75 rpm, by foot; chosen), and a shift that
is made sooner to come before the line begins so much below what the engine would come to there. [rpm]"""


@dataclass(frozen=True, slots=True)
class ChangedDrive:
    """A changed run's drive, with the shift that it makes and the run did not."""

    driven: Driven
    """With a further shift where one is needed."""
    without: Driven
    """With the run's own shifts alone; where one of them is just missed, with it; else the same."""
    model: RunModel
    """That `driven` is of."""

    @property
    def costs_s(self) -> float:
        """What the further shift adds to the elapsed time, or one just missed leaves out. [s]."""
        return self.driven.elapsed_s - self.without.elapsed_s

    @property
    def costs_mps(self) -> float:
        """And to the trap speed. [m/s]."""
        return self.driven.trap_mps - self.without.trap_mps


def drive_changed(
    model: RunModel, as_run: Driven, changed: RunModel, changes: Changes, given: GearingGiven
) -> ChangedDrive | None:
    """Drive a changed model, with one more shift where its engine comes to the usual shift point before the line.

    Parameters
    ----------
    model, changed : RunModel
        As the run was, and changed.
    as_run : Driven
        The drive of the first.
    changes : Changes
        What is other.
    given : GearingGiven
        The car's gearing; it tells the next gear's ratio.

    Returns
    -------
    ChangedDrive or None
        None where the changed car does not come to the line.

    Notes
    -----
    Where a driver who holds the last gear beyond the shift points before it does so in the run, no shift is added:
    that driver would hold it again. The shift added is the last one's, force by force through the gears' ratios, at the
    engine speed at which the others are made.
    """
    driven = drive(changed)
    if driven is None:
        return None
    if len(driven.rpm_before) < len(changed.shifts):
        return ChangedDrive(driven, _with_the_last(changed, driven) or driven, changed)
    at_rpm = _usual_rpm(changed, changes)
    if at_rpm is None or not as_run.line_rpm < _rpm_of(model, model.shifts) or not driven.line_rpm > at_rpm:
        return ChangedDrive(driven, driven, changed)
    longer = _with_next_gear(changed, changed.through_gear_rpm(at_rpm), changes, given)
    more = drive(longer) if longer is not None else None
    if longer is None or more is None:
        return ChangedDrive(driven, driven, changed)
    return ChangedDrive(more, driven, longer)


def _with_the_last(changed: RunModel, driven: Driven) -> Driven | None:
    """The same with the shift that it just misses, made a little sooner; None where it is not near."""
    place = len(driven.rpm_before)
    due_rpm = float(changed.engine_rpm(changed.shifts[place].at_rpm))
    if driven.line_rpm < due_rpm - NEAR_RPM:
        return None
    sooner = replace(changed.shifts[place], at_rpm=changed.through_gear_rpm(driven.line_rpm - JUST_RPM))
    return drive(replace(changed, shifts=(*changed.shifts[:place], sooner)))


def _rpm_of(model: RunModel, shifts: Sequence[ShiftModel]) -> float:
    """The engine's where it leaves its gears; behind a converter not the turbine's. [rpm]."""
    return float(np.mean([model.engine_rpm(one.at_rpm) for one in shifts])) if shifts else 0.0


def _usual_rpm(changed: RunModel, changes: Changes) -> float | None:
    """Where shifts are made that were not asked for one by one. [rpm]."""
    alone = {point.gear for point in changes.shift_points}
    rest = [one for one in changed.shifts if one.from_gear not in alone]
    return _rpm_of(changed, rest) if rest else None


def _with_next_gear(
    changed: RunModel, at_rpm: float, changes: Changes, given: GearingGiven
) -> RunModel | None:  # fmt: skip
    """The same with the next gear and a shift to it; None where the car has none, or its ratio is not given."""
    last, ratios = changed.shifts[-1], changes.gear_ratios or given.gear_ratios or ()
    gear = last.to_gear
    if gear != changed.turns_rad_per_m.size or gear >= len(ratios):
        return None
    turns = np.append(changed.turns_rad_per_m, changed.turns_rad_per_m[-1] * ratios[gear] / ratios[gear - 1])
    factors = (*changed.torque.gear_factor, changed.torque.factor_of(gear))
    charges = None if changed.charge_pa is None else (*changed.charge_pa, changed.charge_pa[-1])
    return replace(
        changed,
        turns_rad_per_m=turns,
        torque=replace(changed.torque, gear_factor=factors),
        charge_pa=charges,
        shifts=(*changed.shifts, _like(last, at_rpm, changed, turns)),
    )


def _like(last: ShiftModel, at_rpm: float, changed: RunModel, turns: FloatArray) -> ShiftModel:
    """A shift out of the gear that a run ended in, made as its last one was."""
    left, taken = turns[-2] / turns[last.from_gear - 1], turns[-1] / turns[last.to_gear - 1]
    share = np.interp(np.arange(last.force_n.size), (0.0, max(last.carried - 1.0, 1.0)), (left, taken))
    through = float(at_rpm * turns[-1] / turns[-2] * last.gains)
    makes = last.torque_nm[0] / max(changed.torque.at(last.left_rpm or last.at_rpm, last.from_gear), 1e-9)
    return replace(
        last,
        from_gear=last.to_gear,
        to_gear=last.to_gear + 1,
        at_rpm=at_rpm,
        left_rpm=at_rpm,
        force_n=np.where(last.force_n > 0.0, last.force_n * share, last.force_n),
        torque_nm=(
            makes * changed.torque.at(at_rpm, last.to_gear),
            makes * changed.torque.at(through, last.to_gear),
        ),
        rpm_before=None,
        rpm_after=None,
        rpm_through_gear=through,
        peak_rpm=None if last.peak_rpm is None else last.peak_rpm - last.left_rpm + at_rpm,
    )


def shifts_told(model: RunModel, as_run: Driven, changed: ChangedDrive) -> list[Finding]:
    """That the changed run makes a shift more before the line than the run did, or one less.

    Parameters
    ----------
    model : RunModel
        As the run was.
    as_run : Driven
        Its drive.
    changed : ChangedDrive
        Of the changed one.

    Returns
    -------
    list of Finding
        Empty where both make the same shifts.
    """
    driven, without = changed.driven, changed.without
    more = len(driven.rpm_before) - len(as_run.rpm_before)  # a shift that the line cuts short carries behind it
    if more > 0 and driven is not without:
        shift = changed.model.shifts[len(driven.rpm_before) - 1]
        text = (
            f"The changed car comes to its shift point in gear {shift.from_gear}, {driven.rpm_before[-1]:.0f} rpm, "
            f"before the line: a shift {shift.from_gear}-{shift.to_gear} that this run did not make, taken to be as "
            f"quick as the one before it. It is in the forecast, with {changed.costs_s:+.3f} s and "
            f"{changed.costs_mps:+.2f} m/s at the trap, and as much in the plus-minus: so near the line it rests on "
            f"where it is made. Held in gear {shift.from_gear} to the line, the engine would come to "
            f"{without.line_rpm:.0f} rpm."
        )
        return [Finding("whatif-further-shift", "caution", text, "What if")]
    if more < 0:
        shift = model.shifts[len(driven.rpm_before)]
        text = (
            f"The changed car crosses the line in gear {shift.from_gear} at {driven.line_rpm:.0f} rpm: the shift "
            f"{shift.from_gear}-{shift.to_gear}, which this run made, does not come before it any more, and what it "
            "took is not in the forecast."
        )
        if driven is not without:
            text += (
                f" It is missed by so little that the driver may still make it: {-changed.costs_s:+.3f} s "
                f"and {-changed.costs_mps:+.2f} m/s at the trap, and as much is in the plus-minus."
            )
        return [Finding("whatif-shift-less", "note", text, "What if")]
    return []
