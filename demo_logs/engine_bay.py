"""What else the engine's sensors see, made from the motion of a run: pressures, temperatures, mixture, ignition.

Public: `BayPlan`, `bay_signals`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passband.demo_logs.car_specs import CarSpec

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BayPlan:
    """The state of the day and what is wrong with it."""

    ambient_k: float = 297.0
    """Air at the strip."""
    coolant_k: float = 345.0
    """Coolant when the log starts."""
    oil_sag: tuple[float, float] | None = None
    """Oil surge: pressure lost per m/s2 above 5 (Pa), and the time constant (s); None: a sump that holds."""
    fuel_droop_pa: float = 25e3
    """What the pump loses at full flow."""
    rich_lambda: float = 0.80
    """Mixture under load."""
    cylinders: int = 4
    """Exhaust temperatures."""


def _smooth(values: FloatArray, dt: float, tau_s: float) -> FloatArray:
    """First-order lag, exact for a held input."""
    from scipy.signal import lfilter

    keep = np.exp(-dt / tau_s)
    start = np.array([keep * values[0]])
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], values, zi=start)[0])


def bay_signals(
    trace: dict[str, FloatArray], spec: CarSpec, plan: BayPlan, *, ambient_pa: float
) -> dict[str, FloatArray]:
    """Signals by catalogue name, SI, on the trace's even time grid.

    Pressures are gauge but for the manifold's. The mixture reads lean while the spark or the fuel is cut, as a sensor
    in the pipe would.
    """
    dt = float(trace["time_s"][1] - trace["time_s"][0])
    rpm, manifold, fire = trace["rpm"], trace["map_pa"], trace["fire"]
    load = np.clip((manifold / ambient_pa - 0.3) / 0.7, 0.0, None)
    boost = manifold - ambient_pa
    flow = rpm * manifold / (9000.0 * 3e5)
    out = {"manifold_pressure": manifold, "boost": boost, "throttle": trace["plate"], "engine_speed": rpm}
    out["injector_duty"] = np.clip(
        0.012 + 0.62 * _smooth(flow * fire * (3.0 if spec.engine.boost_pa == 0 else 1.0), dt, 0.02), 0, 1
    )
    out["lambda"] = _mixture(rpm, load, fire, plan)
    out["fuel_pressure"] = 3.0e5 + boost - plan.fuel_droop_pa * _smooth(flow * fire, dt, 0.05) * 1.6
    retard = 25.0 * (1 - fire) + 26.0 * (1.0 - np.clip(trace["power_share"], 0.6, 1.0))
    out["ignition_advance"] = 18.0 + 16.0 * np.clip(1.0 - load, 0, 1) - 4.0 * np.clip(boost / 1e5, 0, 3) - retard
    out |= _temperatures(rpm, load, fire, dt, plan)
    out["oil_pressure"] = _oil(rpm, trace["accel_mps2"], dt, plan)
    out["turbo_speed"] = 1.05e5 * trace["turbo"] + 2000.0
    out["back_pressure"] = np.clip(_smooth(flow, dt, 0.03), 0, None) * 2.4e5
    out["crankcase_pressure"] = -3e3 + 2.4e3 * _smooth(load * rpm / 9000.0, dt, 0.15)
    out["coolant_pressure"] = (
        60e3 + 90e3 * _smooth(rpm / 9000.0, dt, 0.1) + 700.0 * (out["coolant_temperature"] - 345.0)
    )
    out["fuel_flow"] = np.clip(0.075 * _smooth(flow * fire, dt, 0.03), 5e-4, None)
    out["battery"] = 13.85 - 0.25 * flow
    out["knock"] = 0.4 + 0.5 * rpm / 9000.0 + 0.5 * load
    return out


def _mixture(rpm: FloatArray, load: FloatArray, fire: FloatArray, plan: BayPlan) -> FloatArray:
    rich = 1.0 - (1.0 - plan.rich_lambda) * np.clip((load - 0.35) / 0.4, 0.0, 1.0)
    lean = np.where(fire > 0.5, 0.0, 0.25) + np.where((load < 0.25) & (rpm > 2600), 0.5, 0.0)
    return rich + lean


def _temperatures(
    rpm: FloatArray, load: FloatArray, fire: FloatArray, dt: float, plan: BayPlan
) -> dict[str, FloatArray]:
    heat = np.clip(rpm / 9000.0, 0, 1.2) * np.clip(load, 0, 2.6)
    grown = np.cumsum(heat) * dt
    out = {
        "coolant_temperature": plan.coolant_k + 0.32 * grown,
        "oil_temperature": plan.coolant_k - 6.0 + 0.45 * grown,
        "intake_temperature": plan.ambient_k + 3.0 + 9.0 * _smooth(np.clip(load - 1.0, 0, None), dt, 1.2),
    }
    for k in range(plan.cylinders):
        goal = 610.0 + 480.0 * (1.0 - np.exp(-1.7 * heat)) + 90.0 * (1 - fire) + (7.0 * k * (-1) ** k + 6.0)
        out[f"exhaust_temperature_{k + 1}"] = _smooth(goal + 0.0, dt, 0.55 + 0.07 * k) + 20.0
    return out


def _oil(rpm: FloatArray, accel: FloatArray, dt: float, plan: BayPlan) -> FloatArray:
    pump = 0.9e5 + 56.0 * rpm
    held = 5.4e5 - 0.7e5 * np.logaddexp(0.0, (5.4e5 - pump) / 0.7e5)
    pressure = np.clip(held, 0.6e5, None)
    if plan.oil_sag is not None:
        per, tau = plan.oil_sag
        pressure = pressure - _smooth(np.clip(accel - 5.0, 0.0, None) * per, dt, tau)
    return np.clip(_smooth(pressure, dt, 0.04), 2e4, None)
