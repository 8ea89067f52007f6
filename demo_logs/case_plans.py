"""Plans of the proving ground's cases: which car, what happens, which devices, what is spoilt.

Public: `CasePlan`, `PLAIN`, `SPARSE`, `base_plan`, `with_run`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from passband.demo_logs.car_specs import CARS, CarSpec
from passband.demo_logs.engine_bay import BayPlan
from passband.demo_logs.recording import Day
from passband.demo_logs.story import RunPlan

PLAIN_TURBO = ("rpm", "tps", "map", "lam", "fuelp", "oilp", "clt", "iat", "ign", "duty", "batt")
PLAIN_NATURAL = ("rpm", "tps", "map", "lam", "oilp", "fuelp", "clt", "egt1", "egt2", "ign")


@dataclass(frozen=True, slots=True)
class CasePlan:
    """Everything that makes one case."""

    kind: str
    """Name of the kind."""
    car: CarSpec
    """The car as it truly is."""
    day: Day
    """Air."""
    runs: tuple[RunPlan, ...]
    """One or two runs in the log."""
    says: str = ""
    """In words."""
    burnout_s: float = 0.0
    """Burnout before the first run; 0: none."""
    bumps: int = 0
    """Bumps into the beams instead of a creep."""
    false_start_m: float = 0.0
    """A launch that stops after so many metres and is rolled back."""
    wait_s: float = 1.5
    """Idling before all that."""
    after_s: float = 1.0
    """Idling after."""
    return_s: float = 0.0
    """Return road."""
    ecu: tuple[str, ...] = PLAIN_TURBO
    """ECU's channels."""
    ecu_hz: float = 100.0
    ecu_dialect: str = "brackets"
    dash_hz: float | None = 50.0
    """None: no dash."""
    dash_dialect: str = "brackets"
    dash: dict[str, Any] = field(default_factory=dict)
    """Settings of `dash_sensors`."""
    gps_box_hz: float | None = None
    """A third device."""
    taste: str = "metric"
    """Units."""
    offset_s: float = -2.0
    """Dash clock's zero on the ECU's clock."""
    ppm: float = 30.0
    finish_ft: float = 1320.0
    slip: bool = True
    not_given: tuple[str, ...] = ()
    setup_changes: dict[str, Any] = field(default_factory=dict)
    """Facts given wrong: setup key to factor."""
    ecu_stops_before_finish_s: float = 0.0
    """The ECU log ends so long before the finish."""
    dash_of_another_run: bool = False
    """True: the dash log is of another run of the same car."""
    sensors: str = "usual"
    """Which of `sensor_ranges.SETS` its sensors are drawn from."""
    model: str = "first"
    """Which of `car_models.MODELS` moves the car."""
    noise: float = 1.0
    """All sensors' noise is so many times what it would be."""
    spoil: tuple[str, ...] = ()
    """Names of `troubles.SPOIL`."""
    trouble: tuple[str, ...] = ()
    mention_any: tuple[str, ...] = ()
    untrusted: tuple[str, ...] = ()
    untrusted_no_slip: tuple[str, ...] = ()
    truth_kind: str = "good"
    """``good``, ``flag`` or ``refuse``."""
    mention: tuple[str, ...] = ()
    """For a flagged case."""


POWERS = ("average power", "the same without shifts", "peak power")


def _vary(spec: CarSpec, rng: np.random.Generator) -> CarSpec:
    """Another car of the kind: masses, drag, torque and gears a little different."""
    more = float(rng.uniform(0.94, 1.05))
    engine = replace(
        spec.engine,
        torque_points=tuple((rpm, torque * more) for rpm, torque in spec.engine.torque_points),
        inertia_kgm2=spec.engine.inertia_kgm2 * float(rng.uniform(0.9, 1.12)),
    )
    radius = spec.tire.radius_m * float(rng.uniform(0.985, 1.015))
    return replace(
        spec,
        mass_kg=round(spec.mass_kg * float(rng.uniform(0.97, 1.05))),
        engine=engine,
        tire=replace(spec.tire, radius_m=round(radius, 4), growth=spec.tire.growth * float(rng.uniform(0.8, 1.2))),
        final=round(spec.final * float(rng.uniform(0.98, 1.02)), 2),
        clutch_spring_nm=spec.clutch_spring_nm * more,
        clutch_fly_nm=spec.clutch_fly_nm * more,
        drag_area_m2=round(spec.drag_area_m2 * float(rng.uniform(0.94, 1.06)), 3),
        shaft_damping_nms=spec.shaft_damping_nms * float(rng.uniform(0.65, 1.3)),
        rollout_m=round(float(rng.uniform(0.19, 0.31)), 3),
        cut_s=tuple(cut * float(rng.uniform(0.88, 1.15)) for cut in spec.cut_s),
    )


def _day(spec: CarSpec, rng: np.random.Generator) -> Day:
    warm = float(rng.uniform(286, 307))
    return Day(
        round(warm - 273.15, 1) + 273.15,
        round(float(rng.uniform(97.5, 102.2)), 1) * 1e3,
        round(float(rng.uniform(0.2, 0.8)), 2),
        bay=BayPlan(
            ambient_k=warm, coolant_k=float(rng.uniform(338, 352)), rich_lambda=0.80 if spec.engine.boost_pa else 0.88
        ),
    )


def base_plan(kind: str, key: str, rng: np.random.Generator, **changes: Any) -> CasePlan:
    """A plain case of one car, devices and dialects drawn at random."""
    spec = _vary(CARS[key], rng)
    turbo = spec.engine.boost_pa > 0
    taste = ("metric", "bar", "imperial", "strict")[int(rng.integers(4))]
    ecu = list(PLAIN_TURBO if turbo else PLAIN_NATURAL)
    if turbo and rng.random() < 0.4:
        ecu[ecu.index("map")] = "boost"
    if spec.shifting == "lever":
        ecu += [name for name, odds in (("cut", 0.5), ("strain", 0.3)) if rng.random() < odds]
    ecu += ["dsh" if spec.driven == "rear" else "dws"] if rng.random() < 0.65 else []
    finish = 660.0 if key == "eighth_lever" else 1320.0
    rates = {"ecu_hz": float(rng.choice([50, 100, 200])), "dash_hz": float(rng.choice([25, 50, 100]))}
    plan = RunPlan(
        finish_ft=finish,
        reaction_s=float(rng.uniform(0.03, 0.3)),
        grip=float(rng.uniform(0.97, 1.05)),
        stage_s=float(rng.uniform(1.6, 3.2)),
        through_s=float(rng.uniform(0.02, 0.35)),
        clutch_lead_s=float(rng.uniform(0.006, 0.024)),
    )
    undriven = {"front": "rear", "rear": "front", "all": "none"}[spec.driven]
    made = CasePlan(
        kind,
        spec,
        _day(spec, rng),
        (plan,),
        says=f"{spec.name}, {spec.driven} drive, {spec.shifting} shift",
        burnout_s=float(rng.uniform(2.2, 4.5)) if rng.random() < 0.6 else 0.0,
        wait_s=float(rng.uniform(0.5, 3.0)),
        ecu=tuple(ecu),
        taste=taste,
        offset_s=round(float(rng.uniform(-4, 4)), 3),
        ppm=round(float(rng.uniform(-110, 110))),
        ecu_dialect=str(rng.choice(["brackets", "euro", "tab", "pipe", "preamble", "hash", "wide"])),
        dash_dialect=str(rng.choice(["brackets", "euro", "tab", "pipe", "preamble", "hash"])),
        dash={"gps_hz": float(rng.choice([5, 10, 20, 25])), "undriven": undriven},
        finish_ft=finish,
        **rates,
    )
    if spec.driven == "all":
        made = replace(made, burnout_s=0.0)  # with all wheels driven and the brakes on, none would turn
    made = replace(made, dash={**made.dash, "gps_hz": _dividing(made.dash["gps_hz"], float(made.dash_hz or 50))})
    return replace(made, **changes)


def _dividing(gps_hz: float, dash_hz: float) -> float:
    """A GPS rate that the dash's rate is a multiple of."""
    return gps_hz if (dash_hz / gps_hz) % 1 == 0 else 5.0


def with_run(plan: CasePlan, **changes: Any) -> CasePlan:
    """The plan with its first run driven otherwise."""
    return replace(plan, runs=(replace(plan.runs[0], **changes), *plan.runs[1:]))


Maker = Callable[[np.random.Generator], CasePlan]


def _plain(key: str) -> Maker:
    return lambda rng: base_plan(f"plain_{key}", key, rng)


def _two_runs(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("two_runs", str(rng.choice(["all_foot", "front_foot", "rear_lever"])), rng, return_s=14.0)
    return replace(plan, runs=(plan.runs[0], replace(plan.runs[0], reaction_s=0.151)))


def _missed(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("missed_shift", str(rng.choice(["front_foot", "rear_lever", "rear_natural"])), rng)
    return with_run(plan, missed_gear=int(rng.integers(2, 4)), missed_s=float(rng.uniform(0.35, 0.6)))


def _spin(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("wheelspin", str(rng.choice(["rear_lever", "rear_natural", "front_foot"])), rng)
    return with_run(plan, slick=((3.0, float(rng.uniform(8, 12)), 0.68), (26.0, float(rng.uniform(33, 40)), 0.62)))


def _pedalled(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("pedalled", str(rng.choice(["rear_lever", "rear_natural"])), rng)
    return with_run(plan, slick=((22.0, 34.0, 0.55),), lifts=((26.0, float(rng.uniform(0.3, 0.5)), 0.15),))


def _abort(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("aborted", str(rng.choice(["front_lever", "all_foot"])), rng, slip=False)
    return with_run(plan, abort_m=float(rng.uniform(120, 260)))


def _ecu_only(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "ecu_only",
        str(rng.choice(["front_foot", "front_lever"])),
        rng,
        dash_hz=None,
        slip=bool(rng.random() < 0.4),
        burnout_s=0.0,
        ecu_dialect=str(rng.choice(["rate_only", "bare", "brackets"])),
    )
    return replace(plan, ecu=tuple(dict.fromkeys((*plan.ecu, "dws"))))


def _gps_alone(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("gps_alone", str(rng.choice(["rear_lever", "rear_natural", "front_foot", "all_foot"])), rng)
    return replace(plan, dash={**plan.dash, "undriven": "none", "accelerometer": False})


def _wheels_alone(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("wheels_alone", str(rng.choice(["rear_lever", "rear_natural", "front_foot", "converter"])), rng)
    return replace(plan, dash={**plan.dash, "accelerometer": False})


def _engine_alone(rng: np.random.Generator) -> CasePlan:
    plan = base_plan(
        "engine_alone", str(rng.choice(["front_foot", "front_lever", "rear_lever"])), rng, dash_hz=None,
        slip=bool(rng.random() < 0.5), burnout_s=0.0,
    )  # fmt: skip
    return replace(plan, ecu=tuple(kind for kind in plan.ecu if kind not in ("dws", "dsh", "gear", "uws")))


def _slow_log(rng: np.random.Generator) -> CasePlan:
    return base_plan("ecu_25_hz", str(rng.choice(["front_foot", "rear_natural", "all_foot"])), rng, ecu_hz=25.0)


def _fast_log(rng: np.random.Generator) -> CasePlan:
    return base_plan("ecu_500_hz", str(rng.choice(["rear_lever", "front_lever"])), rng, ecu_hz=500.0)


def _no_ratios(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "ratios_unknown",
        str(rng.choice(["rear_lever", "front_foot", "rear_natural"])),
        rng,
        not_given=("gear_ratios", "final_drive"),
    )


def _facts_missing(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "facts_missing",
        str(rng.choice(["rear_lever", "all_foot"])),
        rng,
        not_given=("cda_m2", "driveline_efficiency", "engine_inertia_kgm2"),
    )


def _driver_errors(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("early_and_late_shift", str(rng.choice(["rear_lever", "front_foot", "rear_natural"])), rng)
    return with_run(plan, early_shift=1, late_shift=2, late_by_s=float(rng.uniform(0.2, 0.4)))


def _bog(rng: np.random.Generator) -> CasePlan:
    plan = base_plan("bog", str(rng.choice(["all_foot", "front_lever"])), rng)
    return with_run(plan, launch_rpm=plan.car.launch_rpm * 0.85, bite=1.3 if plan.car.driven == "all" else 1.07)


def _ecu_ends(rng: np.random.Generator) -> CasePlan:
    return base_plan(
        "ecu_ends_early", str(rng.choice(["rear_lever", "front_foot"])), rng, ecu_stops_before_finish_s=1.3
    )


PLAIN: dict[str, Maker] = {
    **{f"plain_{key}": _plain(key) for key in CARS},
    "two_runs": _two_runs,
    "missed_shift": _missed,
    "wheelspin": _spin,
    "pedalled": _pedalled,
    "aborted": _abort,
    "ecu_only": _ecu_only,
    "engine_alone": _engine_alone,
    "ecu_25_hz": _slow_log,
    "ecu_500_hz": _fast_log,
    "ratios_unknown": _no_ratios,
    "facts_missing": _facts_missing,
    "early_and_late_shift": _driver_errors,
    "bog": _bog,
    "ecu_ends_early": _ecu_ends,
}
"""Kinds without trouble."""
SPARSE: dict[str, Maker] = {"gps_alone": _gps_alone, "wheels_alone": _wheels_alone}
"""Kinds whose dash has no accelerometer."""
