"""Plans of cases with trouble, one kind for each: what a real trailer sees.

Public: `TROUBLES`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from passband.demo_logs.case_plans import POWERS, CasePlan, Maker, base_plan, with_run

PICKS = {
    "any": ("front_foot", "rear_lever", "rear_natural", "all_foot", "front_lever"),
    "wheels": ("front_foot", "rear_lever", "rear_natural", "front_lever"),
    "rear": ("rear_lever", "rear_natural"),
    "front": ("front_foot", "front_lever"),
}
"""Which cars a trouble is shown on."""


def _pick(group: str, rng: np.random.Generator) -> str:
    return str(rng.choice(PICKS[group]))


def _dash(plan: CasePlan, **changes: Any) -> CasePlan:
    return replace(plan, dash={**plan.dash, **changes})


def _gps_rate(hz: float, dash_hz: float) -> Maker:
    def make(rng: np.random.Generator) -> CasePlan:
        plan = base_plan(
            f"gps_{hz:g}_hz", _pick("any", rng), rng, dash_hz=dash_hz, trouble=(f"GPS at {hz:g} Hz, no undriven wheel",)
        )
        return _dash(plan, gps_hz=hz, undriven="none")

    return make


def _gps_gap(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "gps_gap",
        _pick("any", rng),
        rng,
        dash_hz=50.0,
        spoil=("gps_gap",),
        mention_any=("gps",),
        trouble=("a second or more of GPS missing in the run",),
    )
    with_wheels = bool(rng.random() < 0.4)
    return _dash(plan, gps_hz=10.0, **({} if with_wheels else {"undriven": "none"}))


def _no_copy(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("dash_without_rpm", _pick("any", rng), rng, trouble=("no engine speed in the dash log",))
    return _dash(plan, rpm_copy=False)


def _third(rng: np.random.Generator) -> CasePlan:
    return base_plan("third_device", _pick("any", rng), rng, gps_box_hz=25.0, trouble=("a third device",))


def _mounting(name: str, says: str) -> Maker:
    def make(rng: np.random.Generator) -> CasePlan:
        plan = base_plan(
            f"accel_{name}",
            _pick("wheels", rng),
            rng,
            spoil=(name,),
            trouble=(says,),
            mention_any=("accel", "mounted", "axis", "axes"),
            dash_hz=50.0,
        )
        return _dash(plan, gps_hz=10.0)

    return make


def _wrong_wheel(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "wheel_scale_wrong",
        _pick("wheels", rng),
        rng,
        spoil=("wrong_wheel",),
        dash_hz=50.0,
        trouble=("undriven wheels scaled by another tire",),
        mention_any=("wheel speed", "wheel", "tire", "circumference", "scale"),
    )
    return _dash(plan, gps_hz=10.0)


def _wrong_driven(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "driven_scale_wrong",
        _pick("front", rng),
        rng,
        spoil=("wrong_driven",),
        trouble=("driven wheel scaled by another tire",),
        mention_any=("driven", "tire", "circumference", "scale"),
    )
    return replace(plan, ecu=tuple(dict.fromkeys((*plan.ecu, "dws"))))


def _wrong_circumference(rng: np.random.Generator) -> CasePlan:
    factor = float(rng.choice([0.93, 0.95, 1.06]))
    return base_plan(
        "circumference_wrong",
        _pick("any", rng),
        rng,
        setup_changes={"tyre_circumference_m": factor},
        trouble=(f"the driven tire's circumference is given as {factor} of the truth",),
        mention_any=("circumference", "tire", "ratio"),
    )


def _wrong_mass(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "mass_wrong",
        _pick("any", rng),
        rng,
        setup_changes={"mass_kg": 0.93},
        untrusted=POWERS,
        trouble=("the mass is given 7 % too low; nothing in the logs can tell",),
    )


def _noise(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "ignition_noise",
        _pick("any", rng),
        rng,
        spoil=("ignition_noise",),
        ecu_hz=float(rng.choice([100, 200])),
        trouble=("ignition noise in engine speed, also inside shifts",),
        mention_any=("engine speed", "noise", "spike"),
        untrusted=("RPM after", "RPM drop"),
    )


def _copy_noise(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "dash_rpm_dropouts",
        _pick("any", rng),
        rng,
        spoil=("copy_noise",),
        trouble=("dropouts in the dash's engine speed",),
    )


def _shake(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "tire_shake",
        _pick("rear", rng),
        rng,
        ecu_hz=200.0,
        mention_any=("shake",),
        trouble=("tire shake in first gear; no shift there",),
    )
    return with_run(
        plan,
        shake=(
            float(rng.uniform(0.02, 0.08)),
            float(rng.uniform(0.35, 0.5)),
            1.2 * plan.car.engine.inertia_kgm2 * 20000.0,
            float(rng.uniform(9, 12)),
        ),
    )


def _hop(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "wheel_hop",
        "front_foot",
        rng,
        ecu_hz=100.0,
        mention_any=("hop", "shake"),
        trouble=("wheel hop in first gear; no shift there",),
    )
    return with_run(plan, shake=(float(rng.uniform(0.02, 0.15)), 0.5, 2300.0, float(rng.uniform(13, 16))))


def _bump(rng: np.random.Generator) -> CasePlan:
    return base_plan("bumping_in", _pick("any", rng), rng, bumps=3, trouble=("bumped into the beams",))


def _false_start(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "false_start",
        _pick("any", rng),
        rng,
        false_start_m=float(rng.uniform(3, 7)),
        trouble=("a false start that stops and is rolled back",),
        mention_any=("false start", "backed", "rolled back"),
    )


def _restart(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "log_restarted",
        _pick("any", rng),
        rng,
        spoil=("restarted",),
        trouble=("the ECU log was restarted before the run",),
        mention_any=("restart", "anew", "again", "backward", "back"),
    )


def _lock_up(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "converter_locks", "converter", rng, ecu_hz=100.0, trouble=("the converter locks up in top gear; no shift",)
    )


def _power_step(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("power_step", _pick("rear", rng), rng, trouble=("a power step in a gear; no shift",))
    return with_run(plan, power_step=(float(rng.uniform(1.3, 4.0)), 0.78), bite=0.77)


def _retard(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("first_gear_retard", _pick("any", rng), rng, trouble=("ignition retard in first gear",))
    return with_run(plan, first_gear_share=0.82, bite=0.82)


def _eighth(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("eighth_mile", _pick("any", rng), rng, finish_ft=660.0, trouble=("an eighth-mile strip",))
    return with_run(plan, finish_ft=660.0)


def _through(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("driven_through", _pick("any", rng), rng, trouble=("driven through the finish without a lift",))
    return with_run(plan, through_s=float(rng.uniform(1.5, 2.5)))


def _eighth_through(rng: np.random.Generator) -> CasePlan:
    plan = _eighth(rng)
    return with_run(
        replace(plan, kind="eighth_mile_through", trouble=("an eighth-mile strip, driven on",)), through_s=2.2
    )


def _long(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "ten_minutes",
        _pick("any", rng),
        rng,
        wait_s=330.0,
        after_s=240.0,
        ecu_hz=50.0,
        dash_hz=25.0,
        trouble=("ten minutes of log around the run",),
    )


def _wind(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "wind_not_given", _pick("any", rng), rng, not_given=("wind",), untrusted=POWERS, trouble=("wind, not given",)
    )
    wind = float(rng.choice([-5.0, -3.5, 3.5]))
    return replace(plan, day=replace(plan.day, wind_mps=wind))


def _wind_given(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("wind_given", _pick("any", rng), rng)
    return replace(plan, day=replace(plan.day, wind_mps=float(rng.uniform(-5, 4))))


def _gear_channel(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("gear_channel", _pick("any", rng), rng)
    return replace(plan, ecu=(*plan.ecu, "gear"))


def _double_shift(rng: np.random.Generator) -> CasePlan:
    return with_run(base_plan("skipped_gear", "rear_lever", rng, trouble=("a gear is left out",)), skip_gear=4)


def _leak(rng: np.random.Generator) -> CasePlan:
    return with_run(base_plan("boost_leak", _pick("front", rng), rng), boost_share=0.72)


def _dropouts(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "flag_rpm_dropouts",
        _pick("any", rng),
        rng,
        spoil=("dropouts",),
        truth_kind="flag",
        mention=("drop", "engine speed"),
    )


def _stuck(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "flag_stuck_lambda", _pick("any", rng), rng, spoil=("worn_row",), truth_kind="flag", mention=("lambda",)
    )


def _lifted(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "lifted_before_finish", _pick("any", rng), rng, trouble=("lifted before the finish, rolled through",)
    )
    return with_run(plan, lifts=((float(rng.uniform(330, 375)), 30.0, 0.0),))


def _other_run(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "flag_other_run", _pick("any", rng), rng, dash_of_another_run=True, truth_kind="flag", slip=False,
        mention=("match", "same run", "one run", "not of"), dash_hz=50.0, wait_s=2.0, burnout_s=3.0,
    )  # fmt: skip
    return _dash(plan, gps_hz=10.0)


def _no_run(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("refuse_no_run", _pick("any", rng), rng, truth_kind="refuse", slip=False, burnout_s=3.0)
    return replace(plan, runs=(), says="a burnout and the way back: no run")


TROUBLES: dict[str, Maker] = {
    "gps_1_hz": _gps_rate(1.0, 25.0),
    "gps_5_hz": _gps_rate(5.0, 50.0),
    "gps_25_hz": _gps_rate(25.0, 50.0),
    "gps_gap": _gps_gap,
    "dash_without_rpm": _no_copy,
    "third_device": _third,
    "accel_askew": _mounting("askew", "accelerometer mounted askew"),
    "accel_swapped": _mounting("swapped", "accelerometer axes swapped"),
    "accel_turned": _mounting("turned", "accelerometer sign turned"),
    "wheel_scale_wrong": _wrong_wheel,
    "driven_scale_wrong": _wrong_driven,
    "circumference_wrong": _wrong_circumference,
    "mass_wrong": _wrong_mass,
    "ignition_noise": _noise,
    "dash_rpm_dropouts": _copy_noise,
    "tire_shake": _shake,
    "wheel_hop": _hop,
    "bumping_in": _bump,
    "false_start": _false_start,
    "log_restarted": _restart,
    "converter_locks": _lock_up,
    "power_step": _power_step,
    "first_gear_retard": _retard,
    "eighth_mile": _eighth,
    "eighth_mile_through": _eighth_through,
    "driven_through": _through,
    "ten_minutes": _long,
    "wind_not_given": _wind,
    "wind_given": _wind_given,
    "gear_channel": _gear_channel,
    "skipped_gear": _double_shift,
    "boost_leak": _leak,
    "flag_rpm_dropouts": _dropouts,
    "flag_stuck_lambda": _stuck,
    "lifted_before_finish": _lifted,
    "flag_other_run": _other_run,
    "refuse_no_run": _no_run,
}
"""Kinds with trouble."""
