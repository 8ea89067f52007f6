"""A model driven down the track, step by step.

Public: `Driven`, `drive`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FOOT_M, G_MPS2, RPM_PER_RAD_S, BoolArray, FloatArray
from passband.analysis.whatif.model import RunModel, ShiftModel

STEP_S = 0.005
"""Step of the integration; a half of it moves elapsed time by less than 0.1 ms. [s]"""
LONGEST_S = 60.0
"""A car that is not there after so long does not come. [s]"""
TRAP_M = 66.0 * FOOT_M
"""Length of the trap before the finish. [m]"""
HELD_S = 0.1
"""A launch that lasts longer than the run's own goes on with its clutch torque's mean over this time. [s]"""
SLOPE_S = 0.2
"""And with its engine speed on the straight line through this time. [s]"""
PUSH_SHARES = (0.5, 1.5)
"""A shift's push while the clutch slips stays between these shares of the run's own. Chosen: beyond them the fall of
engine speed was not read. [-]"""


@dataclass(frozen=True, slots=True)
class Driven:
    """A drive of a model."""

    splits_s: dict[int, float]
    """Elapsed time at each mark, by feet. [s]"""
    trap_mps: float
    """Mean speed over the last 66 ft. [m/s]"""
    rpm_before: tuple[float, ...]
    """Engine speed at each shift made. [rpm]"""
    rpm_after: tuple[float, ...]
    """Engine speed where the next gear carried. [rpm]"""
    in_band_s: float | None
    """Time from clock start to finish within the band; None without one. [s]"""
    under_band_s: float | None
    """Time under it. [s]"""
    on_boost_s: float | None
    """Time from clock start to finish on boost; None where that is not known. [s]"""
    most_rpm: float
    """Highest engine speed of pulls and of flares within shifts. [rpm]"""
    pulled_rpm: float
    """Highest engine speed under load. [rpm]"""
    beyond_s: float
    """Time from clock start to finish above the highest engine speed that the run showed under load. [s]"""
    line_rpm: float = 0.0
    """Engine speed at the finish, under load. [rpm]"""

    @property
    def elapsed_s(self) -> float:
        """Elapsed time at the last mark, in s."""
        return self.splits_s[max(self.splits_s)]


class _Table:
    """A curve on an even grid, looked up by one multiplication: a drive asks some ten thousand times."""

    __slots__ = ("first", "last", "per", "values")

    def __init__(self, at: FloatArray, values: FloatArray) -> None:
        self.first, self.per = float(at[0]), 1.0 / float(at[1] - at[0])
        self.values: list[float] = [*values.tolist(), float(values[-1])]
        self.last = float(at.size - 1)

    def __call__(self, at: float) -> float:
        place = (at - self.first) * self.per
        if place <= 0.0:
            return self.values[0]
        if place >= self.last:
            return self.values[-1]
        left = int(place)
        return self.values[left] + (place - left) * (self.values[left + 1] - self.values[left])


def drive(model: RunModel) -> Driven | None:
    """Drive a model from rest to its finish line.

    Parameters
    ----------
    model : RunModel
        As the run was, or changed.

    Returns
    -------
    Driven or None
        None where the car does not get there.
    """
    return _Drive(model).run()


class _Drive:
    """One drive: where the car is, and what it has passed."""

    def __init__(self, model: RunModel) -> None:
        self.model, facts = model, model.facts
        self.turns: list[float] = model.turns_rad_per_m.tolist()
        self.torque = _Table(model.torque.rpm, model.torque.torque)
        self.factor = [model.torque.factor_of(gear) for gear in range(1, len(self.turns) + 1)]
        self.mass, self.spin = facts.rolling_mass, facts.spinning_mass
        self.weight = facts.mass.value * G_MPS2
        self.rolling = facts.rolling.value * self.weight
        self.air = 0.5 * facts.density.value * facts.drag_area.value
        self.wind, self.eta = facts.wind.value, facts.efficiency.value
        self.inertia = facts.engine_inertia.value + facts.input_inertia.value
        self.slip, self.growth = model.slip_per_weight, model.growth_at_70 / 70.0**2
        launch = model.launch
        self.clutch = _Table(_grid(launch.torque_nm.size), launch.torque_nm)
        self.free = _Table(_grid(launch.engine_rpm.size), launch.engine_rpm)
        self.launch_s = float(launch.time_s[-1])
        held, line = round(HELD_S / STEP_S), round(SLOPE_S / STEP_S)
        self.held_nm = float(np.mean(launch.torque_nm[-held:]))
        tail = launch.engine_rpm[-line:]
        self.free_slope = float(np.polyfit(np.arange(tail.size) * STEP_S, tail, 1)[0]) if tail.size > 2 else 0.0
        self.charges = [_Table(*_even(*one)) for one in model.charge_pa] if model.charge_pa is not None else None
        self.pull = 0.0
        self.gear, self.shift, self.since_s = 1, 0, 0.0

    def run(self) -> Driven | None:
        """Step until the last mark is passed."""
        time, way, speed = 0.0, -self.model.rollout_m, self.model.launch.from_mps
        self.phase, self.phase_s = "launch", 0.0
        self.before: list[float] = []
        self.after: list[float] = []
        self.peaks: list[float] = []
        times, ways, rpms, charges, pulls = [time], [way], [0.0], [0.0], [False]
        last_m = self.model.finish_m
        while way < last_m:
            middle = speed + 0.5 * STEP_S * self._push(speed, self.phase_s)
            mps2 = self._push(max(middle, 0.0), self.phase_s + 0.5 * STEP_S)
            self.pull = (mps2 * self.mass + self._resist(speed)) / self.weight
            way += STEP_S * (speed + 0.5 * STEP_S * mps2)
            speed = max(speed + STEP_S * mps2, 0.0)
            time += STEP_S
            self.phase_s += STEP_S
            self.since_s += STEP_S
            rpm = self._through_gear(speed)
            self._next_phase(speed, rpm)
            times.append(time)
            ways.append(way)
            rpms.append(self.model.through_gear_rpm(self._free_rpm(self.phase_s)) if self.phase == "launch" else rpm)
            pulls.append(self.phase == "pull")
            charges.append(self.charges[self.gear - 1](self.since_s) if self.charges is not None else 0.0)
            if time > LONGEST_S:
                return None
        engine = self.model.engine_rpm(np.array(rpms))
        return self._driven(np.array(times), np.array(ways), engine, np.array(charges), pulls=np.array(pulls))

    def _resist(self, speed: float) -> float:
        through = speed - self.wind
        return self.air * through * abs(through) + (self.rolling if speed > 0.05 else 0.0)

    def _per_metre(self, speed: float) -> float:
        return self.turns[self.gear - 1] * math.exp(self.slip * self.pull - self.growth * speed * speed)

    def _through_gear(self, speed: float) -> float:
        return self._per_metre(speed) * speed * RPM_PER_RAD_S

    def _free_rpm(self, at_s: float) -> float:
        if at_s <= self.launch_s:
            return self.free(at_s)
        return self.free(self.launch_s) + self.free_slope * (at_s - self.launch_s)

    def _push(self, speed: float, at_s: float) -> float:
        """Acceleration at a speed, so long into the phase."""
        if self.phase == "pull":
            return self._pull(speed)
        if self.phase == "launch":
            torque = self.clutch(at_s) if at_s <= self.launch_s else self.held_nm
            force = torque * self.eta * self.turns[0]
        else:
            force = self.shift_force(at_s)
        return float(force - self._resist(speed)) / (self.mass + self.spin)

    def _pull(self, speed: float) -> float:
        per_metre = self._per_metre(speed)
        torque = self._torque(per_metre * speed * RPM_PER_RAD_S, self.gear)
        engine = self.eta * self.inertia * per_metre * per_metre
        force = self.eta * per_metre * torque - self._resist(speed)
        return force / (self.mass + self.spin + engine)

    def _torque(self, rpm: float, gear: int) -> float:
        torque = self.torque(rpm) * self.factor[gear - 1]
        return torque if self.charges is None else torque * self.charges[self.gear - 1](self.since_s)

    def _next_phase(self, speed: float, rpm: float) -> None:
        if self.phase == "launch" and self._launched(speed, rpm):
            self.phase, self.phase_s = "pull", 0.0
        elif self.phase == "pull" and self.shift < len(self.model.shifts):
            shift = self.model.shifts[self.shift]
            if rpm >= shift.at_rpm:
                self.before.append(float(self.model.engine_rpm(rpm)))
                self._begin(shift, speed, rpm)
        elif self.phase == "shift":
            shift = self.model.shifts[self.shift]
            if self.gear != shift.to_gear and self.phase_s >= shift.carried * STEP_S:
                self.gear = shift.to_gear
                through = self.turns[self.gear - 1] * self.lead * speed * RPM_PER_RAD_S
                self.after.append(float(self.model.engine_rpm(through)))
            if self.phase_s >= self.shift_lasts:
                self.shift += 1
                self.phase, self.phase_s = "pull", 0.0

    def _launched(self, speed: float, rpm: float) -> bool:
        """A clutch locks where road meets engine; a converter has come to its own curve by then."""
        if not self.model.launch.locks:
            return self.phase_s >= self.launch_s
        return rpm >= self._free_rpm(self.phase_s) and speed > 1.0

    def _begin(self, shift: ShiftModel, speed: float, rpm: float) -> None:
        """The drive lets go of what the engine makes there, and takes up what it makes where the next gear carries."""
        taken = rpm * self.turns[shift.to_gear - 1] / self.turns[shift.from_gear - 1]
        now = self._torque(rpm, shift.from_gear), self._torque(taken, shift.to_gear)
        let_go, take_up = (new / max(was, 1.0) for new, was in zip(now, shift.torque_nm, strict=True))
        share = np.interp(np.arange(shift.force_n.size), (0.0, shift.carried - 1.0), (let_go, take_up))
        self.lead = rpm / (self.turns[shift.from_gear - 1] * max(speed, 1.0) * RPM_PER_RAD_S)
        self.phase, self.phase_s, self.since_s = "shift", 0.0, 0.0
        driven = np.where(shift.force_n > 0.0, shift.force_n * share, shift.force_n)
        driven = self._flywheel(shift, rpm, driven)
        self.shift_force = _Table(_grid(driven.size), driven)
        self.shift_lasts = float(shift.force_n.size) * STEP_S

    def _flywheel(self, shift: ShiftModel, rpm: float, force: FloatArray) -> FloatArray:
        """Where the engine comes down from another speed, its flywheel gives the car another push in the same time.

        In a slip of any length the clutch carries the engine's own torque and what slows its flywheel: the second adds
        up to inertia times the fall, however hard the clutch bites. A converter carries it likewise, at no less than
        its pump's torque, until the engine has come down to what the turbine's speed asks of it.
        """
        if shift.peak_rpm is None:
            return force
        turns, engine = self.turns[shift.to_gear - 1], self.model.engine_rpm
        falls_rpm = shift.peak_rpm - float(engine(shift.rpm_through_gear))
        moved_rpm = float(engine(rpm) - engine(shift.left_rpm))
        peak_rpm = max(shift.peak_rpm + shift.peak_follows * moved_rpm, float(engine(rpm)))
        self.peaks.append(peak_rpm)
        taken_rpm = float(engine(rpm * turns / self.turns[shift.from_gear - 1] * shift.gains))
        more_rads = (peak_rpm - taken_rpm - falls_rpm) / RPM_PER_RAD_S
        more_ns = self.eta * turns * self.lead * self.model.facts.engine_inertia.value * more_rads
        place, until = np.arange(force.size), shift.carried if self.model.link is None else force.size
        slips = (place >= shift.peak_place) & (place < until) & (force > 0.0)
        had_ns = float(np.sum(force[slips])) * STEP_S
        if had_ns <= 0.0:
            return force
        return np.asarray(np.where(slips, force * float(np.clip(1.0 + more_ns / had_ns, *PUSH_SHARES)), force))

    def _driven(
        self, times: FloatArray, ways: FloatArray, rpms: FloatArray, charges: FloatArray, *, pulls: BoolArray
    ) -> Driven:
        marks = [ft * FOOT_M for ft in self.model.marks_ft]
        start, trap, *passed = np.interp([0.0, self.model.finish_m - TRAP_M, *marks], ways, times)
        splits = {ft: float(at - start) for ft, at in zip(self.model.marks_ft, passed, strict=True)}
        band, within = self.model.band, times >= start
        in_band = under = None
        if band is not None:
            in_band = float(np.sum((rpms >= band[0]) & (rpms <= band[1]) & within)) * STEP_S
            under = float(np.sum((rpms < band[0]) & within)) * STEP_S
        pulled_rpm = max([float(rpms[pulls].max(initial=0.0)), *self.before])
        seen_rpm = float(self.model.engine_rpm(self.model.torque.most_rpm))
        on_boost_pa = self.model.on_boost_pa
        on_boost = None if on_boost_pa is None else float(np.sum((charges >= on_boost_pa) & within)) * STEP_S
        return Driven(
            splits_s=splits,
            trap_mps=TRAP_M / float(passed[-1] - trap),
            rpm_before=tuple(self.before),
            rpm_after=tuple(self.after),
            in_band_s=in_band,
            under_band_s=under,
            on_boost_s=on_boost,
            most_rpm=max([pulled_rpm, *self.peaks]),
            pulled_rpm=pulled_rpm,
            beyond_s=float(np.sum((rpms > seen_rpm) & within & pulls)) * STEP_S,
            line_rpm=float(rpms[-1]),
        )


def _grid(size: int) -> FloatArray:
    return np.arange(float(size)) * STEP_S


def _even(at: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    grid = np.arange(0.0, max(float(at[-1]), 2 * STEP_S) + STEP_S / 2, STEP_S)
    return grid, np.interp(grid, at, values)
