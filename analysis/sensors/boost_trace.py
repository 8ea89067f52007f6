"""Gauge boost as the logs show it: their own channel, or absolute pressure less the air's.

Public: `BoostTrace`, `find_boost`, `BOOST_NOT_LOGGED`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.quantities import FloatArray
from passband.analysis.results.air import AirState, PressureBasis
from passband.analysis.results.boost import BoostBasis
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.standing import pressure_at_rest

BOOSTED_PA = 15e3
"""No engine breathes so high unaided: ram air and tuned pipes make a tenth of an atmosphere at most. Gauge. [Pa]"""
BOOST_NOT_LOGGED = Unknown(
    Finding("boost-not-logged", "note", "No log holds boost or manifold pressure: nothing can be said of boost.")
)
"""Boost where no log shows any."""


@dataclass(frozen=True, slots=True)
class BoostTrace:
    """Gauge boost at its own sample times."""

    time_s: FloatArray
    """Shape (n,), rising. [s]"""
    boost_pa: FloatArray
    """Gauge, shape (n,); NaN where not to be believed. [Pa]"""
    basis: BoostBasis
    """As of `Boost`."""
    barometer_pa: float | None
    """What was taken off absolute pressure, or would be; None where unknown. [Pa]"""
    channel: str
    """The channel it comes from."""

    @property
    def known(self) -> BoostTrace:
        """The same without the NaN samples."""
        keep = np.isfinite(self.boost_pa)
        return replace(self, time_s=self.time_s[keep], boost_pa=self.boost_pa[keep])

    def within(self, start_s: float, stop_s: float) -> BoostTrace:
        """The same between two times, both included."""
        near = slice(int(self.time_s.searchsorted(start_s)), int(self.time_s.searchsorted(stop_s, side="right")))
        return replace(self, time_s=self.time_s[near], boost_pa=self.boost_pa[near])

    def boosted(self, start_s: float, stop_s: float) -> bool:
        """True if it passes `BOOSTED_PA` for a tenth of the samples between two times."""
        inside = (self.time_s >= start_s) & (self.time_s <= stop_s) & np.isfinite(self.boost_pa)
        return bool(inside.any()) and float(np.mean(self.boost_pa[inside] > BOOSTED_PA)) > 0.1


def find_boost(traces: Traces, air: AirState | None) -> BoostTrace | Unknown:
    """Gauge boost of a log, from whatever it holds.

    Parameters
    ----------
    traces : Traces
        The whole log, before the run too: an engine that stands there tells the air's pressure.
    air : AirState or None
        The day's air; its pressure serves where it was given or logged.

    Returns
    -------
    BoostTrace or Unknown
        Unknown where neither boost nor absolute pressure with an air pressure to take off is.

    Notes
    -----
    A ``boost`` channel is taken as logged. ``manifold_pressure`` less, in this order, the median of the barometer
    logged, the air pressure given, the manifold's own pressure while the engine stood.
    """
    barometer = _barometer(traces, air)
    gauge = traces.get("boost")
    if gauge is not None and np.isfinite(gauge.values).any():
        base = barometer[0] if barometer else None
        return BoostTrace(gauge.time_s, gauge.values, BoostBasis.AS_LOGGED, base, "boost")
    absolute = traces.get("manifold_pressure")
    if absolute is None or not np.isfinite(absolute.values).any():
        return BOOST_NOT_LOGGED
    if barometer is None:
        finding = Finding(
            "boost-without-barometer",
            "caution",
            "Manifold pressure is absolute and nothing tells the air's own pressure (no barometer logged, none given, "
            "the engine never stood): boost is left out; tell the station's air pressure.",
            "manifold_pressure",
        )
        return Unknown(finding)
    base, basis = barometer
    return BoostTrace(absolute.time_s, absolute.values - base, basis, base, "manifold_pressure")


def _barometer(traces: Traces, air: AirState | None) -> tuple[float, BoostBasis] | None:
    """Air pressure and how boost is then to be called."""
    logged = traces.get("barometer")
    if logged is not None and np.isfinite(logged.values).any():
        return float(np.nanmedian(logged.values)), BoostBasis.LESS_BAROMETER
    if air is not None and air.pressure_basis is not PressureBasis.TAKEN:
        return air.pressure_pa, BoostBasis.LESS_TOLD
    manifold = traces.get("manifold_pressure")
    rest = pressure_at_rest(traces.get("engine_speed"), manifold) if manifold is not None else None
    return (rest, BoostBasis.LESS_REST) if rest is not None else None
