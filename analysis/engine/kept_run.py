"""What a run's bounds are held against: limits, the band and the boost threshold act on this, and on nothing else.

It is kept beside a review, so that other bounds can be laid on a run without reviewing it again. It holds samples as
they were logged, to the last bit: the run's table, on its even grid and with seven digits, would give other figures.

Public: `KeptRun`, `Way`, `Found`, `Held`, `hold_to_bounds`, `CannotHold`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from passband.analysis.channels.log import Traces
from passband.analysis.driveline.launch import EngineInFirst
from passband.analysis.engine.band import measure_band
from passband.analysis.engine.boost import BoostCauses, measure_boost
from passband.analysis.engine.channels_meant import Logged
from passband.analysis.engine.limits import NONE_SETTLED, check_limits
from passband.analysis.engine.limits_given import tell_bare_bounds
from passband.analysis.engine.run_times import RunTimes, Whereabouts
from passband.analysis.given.car import Car, Limit
from passband.analysis.motion.ground_speed import HasWay
from passband.analysis.quantities import FloatArray
from passband.analysis.results.band import Band
from passband.analysis.results.boost import Boost
from passband.analysis.results.distance import Wheelspin
from passband.analysis.results.findings import Finding, by_weight
from passband.analysis.results.gears import Gears
from passband.analysis.results.limits import LimitVerdict
from passband.analysis.results.power import GearCurve
from passband.analysis.results.shifts import Shift, ShiftKind
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.sensors.boost_trace import BoostTrace
from passband.analysis.sensors.evidence import ABOUT_S, BAND_NOT_GIVEN

BEFORE_LAUNCH_S = 240.0
"""Of a long log so much before the launch is kept: burnout and staging with a minute about them. What a limit asks for
beyond it is not there, and is not made up. [s]"""


class CannotHold(ValueError):
    """What is kept of a run does not reach as far as a bound asks: it takes a review of the logs."""


@dataclass(frozen=True, slots=True)
class Way:
    """Where the car was when. Both arrays have shape (n,)."""

    time_s: FloatArray
    """Rising, ET. [s]"""
    distance_m: FloatArray
    """From where the clock starts. [m]"""


@dataclass(frozen=True, slots=True)
class KeptRun:
    """A run as its bounds see it. Times are ET."""

    traces: Traces
    """All channels; of a long log what lies about the run."""
    times: RunTimes
    """When it was."""
    until_s: float
    """Up to here, and a minute more, its evidence goes. [s]"""
    way: HasWay | Unknown
    """Where the car was when."""
    boost: BoostTrace | Unknown
    """Gauge boost."""
    engine: EngineInFirst | None = None
    """None where the launch shows none."""
    kinds: tuple[ShiftKind, ...] = ()
    """What each of its shifts was before the band was asked."""
    before: tuple[Finding, ...] = ()
    """Findings that stand before those on bounds as they were given."""
    between: tuple[Finding, ...] = ()
    """Findings that stand after them, and before those on how the run kept its bounds."""
    after: tuple[Finding, ...] = ()
    """Findings that stand last."""
    from_s: float = float("-inf")
    """The traces hold all of the log from here on. [s]"""
    to_s: float = float("inf")
    """And up to here. [s]"""

    @property
    def whole(self) -> bool:
        """Whether it holds all of the log."""
        return self.from_s == float("-inf") and self.to_s == float("inf")

    def about_the_run(self) -> KeptRun:
        """The same with what is kept of a long log."""
        start, stop = self.times.launch_s - BEFORE_LAUNCH_S, max(self.until_s, self.times.end_s) + ABOUT_S
        sampled = [one.time_s for one in self.traces if one.time_s.size]
        first, last = min((t[0] for t in sampled), default=start), max((t[-1] for t in sampled), default=stop)
        if first >= start and last <= stop:
            return self
        boost = self.boost.within(start, stop) if isinstance(self.boost, BoostTrace) else self.boost
        return replace(self, traces=self.traces.within(start, stop), boost=boost, from_s=start, to_s=stop)

    def reaches(self, limit: Limit) -> bool:
        """Whether it holds all that a limit looks at."""
        if self.whole:
            return True
        spans = self.times.spans(limit.during)
        return bool(spans) and all(
            self.from_s <= start - ABOUT_S and stop + ABOUT_S <= self.to_s for start, stop in spans
        )


@dataclass(frozen=True, slots=True)
class Found:
    """What a review found in a run that its bounds ask for."""

    gears: Gears | None
    """None where nothing shows its motion."""
    shifts: Sequence[Shift] = ()
    """In order."""
    wheelspin: Sequence[Wheelspin] = ()
    """In order."""
    curves: Sequence[GearCurve] = ()
    """Power against engine speed, a gear each."""


@dataclass(frozen=True, slots=True)
class Held:
    """How a run stood to its bounds."""

    boost: Boost | Unknown
    """As of `Review`."""
    band: Band | Unknown
    """As of `Review`."""
    limits: tuple[LimitVerdict, ...]
    """As the car lists them."""
    findings: tuple[Finding, ...] = field(default=())
    """All findings of the run, weightiest first, each once."""


@dataclass(frozen=True, slots=True)
class _Shown:
    """What the band asks of a run."""

    band: tuple[float, float] | Unknown
    end_s: float
    traces: Traces


def hold_to_bounds(run: KeptRun, car: Car, found: Found, *, settled: Mapping[int, LimitVerdict] = NONE_SETTLED) -> Held:
    """Hold a run against its car's boost threshold, band and limits.

    Parameters
    ----------
    run : KeptRun
        The run.
    car : Car
        For its bounds alone.
    found : Found
        What a review found in it.
    settled : mapping of int to LimitVerdict, optional
        As of `check_limits`.

    Returns
    -------
    Held
        The same whether all of the logs are there or what is kept of them.

    Raises
    ------
    CannotHold
        If a limit asks for a time that is not kept.
    """
    beyond = [limit.name for limit in car.limits if not run.reaches(limit)]
    if beyond:
        raise CannotHold(f"what is kept of the run does not reach as far as the limits {', '.join(beyond)} ask")
    end_s, way = run.times.end_s, run.way
    about = run.traces.within(run.times.launch_s - ABOUT_S, run.until_s + ABOUT_S)
    causes = BoostCauses(found.shifts, found.wheelspin, about.get("throttle"))
    boost = measure_boost(run.boost, causes, threshold_pa=car.boost_threshold, end_s=end_s)
    shown = _Shown(car.rpm_band or BAND_NOT_GIVEN, end_s, about)
    curves, known_way = found.curves, known(way)
    band = way if isinstance(way, Unknown) else measure_band(shown, way, found.gears, found.shifts, curves=curves)
    logged, where = Logged(run.traces, known(run.boost)), Whereabouts(known_way, found.gears)
    limits = check_limits(logged, car.limits, where, times=run.times, settled=settled)
    on_bounds = (*boost.findings, *limits.findings, *(band.findings if known_way is not None else ()))
    findings = (*run.before, *tell_bare_bounds(car.limits), *run.between, *on_bounds, *run.after)
    return Held(boost, band, limits.verdicts, tuple(by_weight(list(findings))))
