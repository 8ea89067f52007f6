"""A run's way over its compressor's map.

Public: `TurboGiven`, `RunAir`, `EfficiencyTime`, `MapPath`, `follow_on_map`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.priors import LIFTED
from passband.analysis.turbo.gas import (
    air_flow_by_fuel,
    air_flow_by_speed_density,
    corrected_flow,
    outlet_temperature,
)
from passband.analysis.turbo.map import ABOVE, CHOKE, ON, SURGE, CompressorMap, Placed, place_on_map

EFFICIENCY_STEP = 0.05
"""Width of a class of efficiency. [-]"""
LEAST_RATIO = 1.05
"""Below it the compressor does next to nothing, and maps do not go there. [-]"""
TEMPERATURE_HALF_K = 5.0
"""95 % half-width of a charge's logged temperature, whose probe lags in a run. [K] Common practice, no source."""
PRESSURE_HALF_PA = 1500.0
"""95 % half-width of a logged manifold pressure. [Pa] A sensor of 3 bar good for half a per cent; from memory."""
FUEL_HALF, MIXTURE_HALF = 0.05, 0.03
"""95 % half-widths of logged fuel flow and lambda, of the value. [-] Common practice, no source."""


@dataclass(frozen=True, slots=True)
class TurboGiven:
    """What the user says of the installation."""

    compressors: int = 1
    """Alike and side by side; each takes an even share of the air."""
    volumetric_efficiency: float | None = None
    """On the density in the manifold. [-]"""
    volumetric_efficiency_half: float = 0.05
    """95 % half-width. [-]"""
    inlet_loss_pa: float = 0.0
    """Between air and compressor, at the run's highest flow; it goes with the flow's square. [Pa]"""
    charge_loss_pa: float = 0.0
    """Between compressor and manifold (cooler, pipes), at the run's highest flow. [Pa]"""


@dataclass(frozen=True, slots=True)
class RunAir:
    """What a run's logs say of its air, on one grid of shape (n,); NaN where unknown."""

    time_s: FloatArray
    """ET. [s]"""
    distance_m: FloatArray
    """[m]"""
    gear: FloatArray
    """Gear that carries; 0 for none. [-]"""
    engine_rpm: FloatArray
    """[rpm]"""
    manifold_pa: FloatArray
    """Absolute. [Pa]"""
    manifold_k: FloatArray
    """[K]"""
    throttle: FloatArray
    """0..1; NaN where not logged. [-]"""
    shifting: BoolArray
    """A shift under way, or its cut's exhaust still on the lambda probe: neither fuel nor lambda shows air there."""
    fuel_kgps: FloatArray
    """[kg/s]"""
    mixture: FloatArray
    """Lambda. [-]"""
    ambient_pa: float
    """[Pa]"""
    ambient_k: float
    """[K]"""
    displacement_m3: float | None
    """[m3]"""
    stoichiometric_afr: float | None
    """[-]"""


@dataclass(frozen=True, slots=True)
class EfficiencyTime:
    """Time in one class of compressor efficiency."""

    least: float
    """[-]"""
    most: float
    """[-]"""
    time_s: float
    """[s]"""


@dataclass(frozen=True, slots=True)
class Nearest:
    """Where a margin was least."""

    margin: Estimate
    """[-]"""
    at_s: float
    """ET. [s]"""
    at_m: float
    """[m]"""
    gear: int | None
    """None where no gear carried."""
    causes: tuple[tuple[str, float], ...]
    """What its plus-minus is made of: cause and effect, greatest first."""


@dataclass(frozen=True, slots=True)
class MapPath:
    """A run on its compressor's map, at full throttle and under boost."""

    time_s: FloatArray
    """ET, shape (n,). [s]"""
    distance_m: FloatArray
    """[m]"""
    gear: FloatArray
    """[-]"""
    flow_kgps: FloatArray
    """One compressor's, corrected to the map's conditions. [kg/s]"""
    pressure_ratio: FloatArray
    """[-]"""
    placed: Placed
    """Where that lies."""
    outlet_k: FloatArray
    """Temperature behind the compressor that the map's efficiency gives. [K]"""
    flow_basis: str
    """``fuel flow and lambda`` or ``speed and density``."""
    efficiency_time: tuple[EfficiencyTime, ...]
    """By rising efficiency."""
    mean_efficiency: float | None
    """Over time on the map. [-]"""
    time_past_surge_s: float
    """[s]"""
    time_past_choke_s: float
    """[s]"""
    time_off_s: float
    """Below or above all speed lines. [s]"""
    surge: Nearest | None
    """Least margin to surge."""
    choke: Nearest | None
    """Least margin to choke."""
    highest_outlet_k: float | None
    """[K]"""
    cooler_effectiveness: float | None
    """Share of the compressor's heating that is gone at the manifold's probe, mean; None without that probe. [-]"""
    findings: tuple[Finding, ...]
    """What it rests on and what is missing."""


def follow_on_map(compressor: CompressorMap, air: RunAir, given: TurboGiven) -> MapPath | Finding:
    """Lay a run over a compressor's map.

    Parameters
    ----------
    compressor : CompressorMap
        The user's.
    air : RunAir
        From clock start to the finish line or the lift.
    given : TurboGiven
        The installation.

    Returns
    -------
    MapPath or Finding
        The finding says why the run cannot be laid on the map.

    Notes
    -----
    Air comes from fuel flow and lambda where both are logged, else from speed and density with a volumetric efficiency
    that the user states. Losses before and behind the compressor go with the square of flow. Rows with a closed plate,
    within a shift, or without boost are left out: what the compressor does during a cut, no log of this kind shows.
    """
    basis = _basis(air, given)
    if isinstance(basis, Finding):
        return basis
    use = _at_work(air)
    flow, ratio = _flow_and_ratio(air, given, basis, compressor)
    use &= np.isfinite(flow) & np.isfinite(ratio) & (ratio > LEAST_RATIO)
    if use.sum() < 2:
        return Finding(
            "map-without-boost",
            "caution",
            f"No part of the run shows the throttle open and a pressure ratio above {LEAST_RATIO}: "
            "nothing lies on the map.",
            "Compressor map",
        )
    placed = place_on_map(compressor, flow[use], ratio[use])
    kept = _cut(air, use)
    step_s = np.gradient(kept.time_s)
    margins = {
        name: _nearest(name, placed, kept, _moved(air, given, basis, compressor, use)) for name in ("surge", "choke")
    }
    outlet = outlet_temperature(air.ambient_k, ratio[use], placed.efficiency)
    return MapPath(
        time_s=kept.time_s,
        distance_m=kept.distance_m,
        gear=kept.gear,
        flow_kgps=flow[use],
        pressure_ratio=ratio[use],
        placed=placed,
        outlet_k=outlet,
        flow_basis=basis,
        efficiency_time=_efficiency_time(placed, step_s),
        mean_efficiency=_weighed(placed.efficiency, step_s),
        time_past_surge_s=float(step_s[placed.region == SURGE].sum()),
        time_past_choke_s=float(step_s[placed.region == CHOKE].sum()),
        time_off_s=float(step_s[placed.region > CHOKE].sum()),
        surge=margins["surge"],
        choke=margins["choke"],
        highest_outlet_k=float(np.nanmax(outlet)) if np.isfinite(outlet).any() else None,
        cooler_effectiveness=_effectiveness(outlet, kept, step_s),
        findings=(*compressor.findings, *_rests_on(basis, given, placed)),
    )


def _basis(air: RunAir, given: TurboGiven) -> str | Finding:
    """What air flow is taken from, or what is missing for it."""
    if not np.isfinite(air.manifold_pa).any():
        return _missing("manifold pressure (absolute, or boost with the air's pressure) in a log")
    fuel = np.isfinite(air.fuel_kgps) & np.isfinite(air.mixture)
    if fuel.sum() >= 0.5 * air.time_s.size and air.stoichiometric_afr is not None:
        return "fuel flow and lambda"
    wanting = [
        word
        for word, there in (
            ("bore, stroke and cylinders of the car", air.displacement_m3 is not None),
            ("engine speed in a log", bool(np.isfinite(air.engine_rpm).any())),
            ("intake temperature in a log", bool(np.isfinite(air.manifold_k).any())),
            ("a volumetric efficiency, stated", given.volumetric_efficiency is not None),
        )
        if not there
    ]
    return _missing(" and ".join(wanting)) if wanting else "speed and density"


def _missing(what: str) -> Finding:
    return Finding(
        "map-needs", "caution", f"The run cannot be laid on the map without {what}: give it.", "Compressor map"
    )


def _at_work(air: RunAir) -> BoolArray:
    """The plate open, as far as a log shows it, and no shift under way: behind a closed one is not the outlet."""
    throttle = np.where(np.isfinite(air.throttle), air.throttle, np.inf)
    most = float(np.max(air.throttle[np.isfinite(air.throttle)], initial=0.0))
    return np.asarray((throttle >= LIFTED * most) & ~air.shifting)


def _flow_and_ratio(
    air: RunAir, given: TurboGiven, basis: str, compressor: CompressorMap
) -> tuple[FloatArray, FloatArray]:
    """Corrected flow of one compressor and pressure ratio; losses by the square of flow."""
    if basis == "speed and density":
        whole = air_flow_by_speed_density(
            air.engine_rpm, air.manifold_pa, air.manifold_k, displacement_m3=air.displacement_m3 or math.nan,
            volumetric_efficiency=given.volumetric_efficiency or math.nan,
        )  # fmt: skip
    else:
        whole = air_flow_by_fuel(air.fuel_kgps, air.mixture, stoichiometric_afr=air.stoichiometric_afr or math.nan)
    most = float(np.max(whole[np.isfinite(whole) & _at_work(air)], initial=0.0)) or math.nan
    loss = (whole / most) ** 2
    inlet_pa = air.ambient_pa - given.inlet_loss_pa * loss
    ratio = (air.manifold_pa + given.charge_loss_pa * loss) / inlet_pa
    flow = corrected_flow(
        whole / given.compressors, air.ambient_k, inlet_pa, reference_k=compressor.reference_k,
        reference_pa=compressor.reference_pa,
    )  # fmt: skip
    return flow, ratio


def _cut(air: RunAir, use: BoolArray) -> RunAir:
    arrays = {
        one.name: getattr(air, one.name)[use] for one in fields(air) if isinstance(getattr(air, one.name), np.ndarray)
    }
    return replace(air, **arrays)


def _moved(
    air: RunAir, given: TurboGiven, basis: str, compressor: CompressorMap, use: BoolArray
) -> Mapping[str, Placed]:
    """The path with each thing that it rests on moved to the end of its own 95 %."""
    changes: dict[str, tuple[RunAir, TurboGiven]] = {
        "manifold pressure": (replace(air, manifold_pa=air.manifold_pa + PRESSURE_HALF_PA), given),
    }
    if basis == "speed and density":
        stated = (given.volumetric_efficiency or math.nan) + given.volumetric_efficiency_half
        changes["volumetric efficiency"] = (air, replace(given, volumetric_efficiency=stated))
        changes["intake temperature"] = (replace(air, manifold_k=air.manifold_k + TEMPERATURE_HALF_K), given)
    else:
        changes["fuel flow"] = (replace(air, fuel_kgps=air.fuel_kgps * (1.0 + FUEL_HALF)), given)
        changes["lambda"] = (replace(air, mixture=air.mixture * (1.0 + MIXTURE_HALF)), given)
    moved = {}
    for cause, (one_air, one_given) in changes.items():
        flow, ratio = _flow_and_ratio(one_air, one_given, basis, compressor)
        moved[cause] = place_on_map(compressor, flow[use], ratio[use])
    return moved


def _nearest(name: str, placed: Placed, air: RunAir, moved: Mapping[str, Placed]) -> Nearest | None:
    margin = getattr(placed, f"{name}_margin")
    if not np.isfinite(margin).any():
        return None
    at = int(np.nanargmin(margin))
    effects = {cause: float(getattr(one, f"{name}_margin")[at] - margin[at]) for cause, one in moved.items()}
    known = {cause: effect for cause, effect in effects.items() if math.isfinite(effect)}
    ranked = sorted(known.items(), key=lambda pair: -abs(pair[1]))
    gear = air.gear[at]
    return Nearest(
        Estimate(float(margin[at]), math.hypot(*known.values())), float(air.time_s[at]), float(air.distance_m[at]),
        int(gear) if math.isfinite(gear) and gear > 0 else None, tuple(ranked),
    )  # fmt: skip


def _efficiency_time(placed: Placed, step_s: FloatArray) -> tuple[EfficiencyTime, ...]:
    on = placed.region == ON
    if not on.any():
        return ()
    classes = np.floor(placed.efficiency[on] / EFFICIENCY_STEP + 1e-9).astype(int)
    return tuple(
        EfficiencyTime(one * EFFICIENCY_STEP, (one + 1) * EFFICIENCY_STEP, float(step_s[on][classes == one].sum()))
        for one in range(classes.min(), classes.max() + 1)
    )


def _weighed(values: FloatArray, weight: FloatArray) -> float | None:
    use = np.isfinite(values)
    return float(np.sum(values[use] * weight[use]) / np.sum(weight[use])) if use.any() else None


def _effectiveness(outlet_k: FloatArray, air: RunAir, step_s: FloatArray) -> float | None:
    heated = outlet_k - air.ambient_k
    gone = np.divide(outlet_k - air.manifold_k, heated, out=np.full(heated.shape, np.nan), where=heated > 5.0)
    return _weighed(gone, step_s)


def _rests_on(basis: str, given: TurboGiven, placed: Placed) -> list[Finding]:
    stated = f" of {given.volumetric_efficiency:.2f}, as stated" if basis == "speed and density" else ""
    findings = [
        Finding(
            "map-rests-on",
            "note",
            f"Air flow is from {basis}{' with a volumetric efficiency' if stated else ''}{stated}; losses "
            "before and behind the compressor as given, going with the flow's square; pressures at the manifold are "
            "taken as still air's; shifts are left out. The turbo's maker and the rule book have the last word on "
            "speeds and margins.",
            "Compressor map",
        )
    ]
    if (placed.region == ABOVE).any():
        findings.append(
            Finding(
                "map-above-fastest-line",
                "caution",
                "Part of the run lies above the map's fastest speed line: the wheel turns faster than its maker drew, "
                "or the map, the losses or the air flow do not belong to this car. Look at the turbo's speed before "
                "the next run.",
                "Compressor map",
            )
        )
    return findings
