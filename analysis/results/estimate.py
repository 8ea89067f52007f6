"""A figure, how sure it is, and what its error shares with the figures of other runs.

An error has parts. Some are the run's own: noise, the wind of that minute, the fuel burnt. Others come from what all
runs of one car share: a mass that was weighed wrong moves every run's power the same way. Two runs are told apart by
the first kind alone, so an estimate keeps the second apart, by cause.

Public: `Estimate`, `SharedPart`, `difference`, `ratio`, `CAR`, `DEVICE`, `DAY`, `DOUBTS`, `left_out_unless_said`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import Field, dataclass, field
from typing import Any

LEFT_OUT_UNLESS_SAID = {"left out unless said": True}
"""Mark of a field that JSON leaves out where it stands at its default."""
CAR, DEVICE, DAY = "car", "device", "day"
"""What a cause belongs to: runs share it as long as that is the same. A cause is named ``car: mass``."""

GEARS_UNLIKE = "gears that pull unlike"
"""What a run's gears say of its facts: a fact may be further out than its owner thinks."""
NOT_EXPLAINED = f"{DEVICE}: what sensors of its kind leave open"
"""What calibration adds to what a stage found."""
DOUBTS = frozenset({f"{CAR}: {GEARS_UNLIKE}", NOT_EXPLAINED})
"""Causes that say how wrong something shared may be, as this run shows it, and not how the figure moves with it. Wrong
for one run, it is as wrong for the other, in proportion to the figure, though only one of them may have shown it."""


def left_out_unless_said(one: Field[Any]) -> bool:
    """Whether JSON leaves a field out where it stands at its default."""
    return LEFT_OUT_UNLESS_SAID.items() <= one.metadata.items()


@dataclass(frozen=True, slots=True)
class SharedPart:
    """What one cause that other runs share makes of a figure."""

    cause: str
    """What it belongs to and its name: ``car: mass``, ``device: pick-up lag``, ``day: air density``."""
    effect: float
    """Change of the figure if the cause lies at the upper end of its own 95 %; signed, in the figure's unit."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure and how sure it is."""

    value: float
    """The figure, SI."""
    plus_minus: float
    """95 % half-width from everything that is not known, in the figure's unit; never negative."""
    run_plus_minus: float | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """The part of it that other runs of the same car with the same setup do not share; None where nobody parted it."""
    shared: tuple[SharedPart, ...] = field(default=(), metadata=LEFT_OUT_UNLESS_SAID)
    """The rest of it, cause by cause."""

    def __post_init__(self) -> None:
        """Refuse what is no figure: an unknown one is None, never an Estimate of NaN."""
        if not (math.isfinite(self.value) and math.isfinite(self.plus_minus) and self.plus_minus >= 0):
            raise ValueError(f"an estimate needs finite numbers and plus_minus >= 0, got {self!r}")

    @classmethod
    def parted(cls, value: float, own: float, shared: Mapping[str, float]) -> Estimate:
        """An estimate from the run's own part and what each shared cause makes of it.

        Parameters
        ----------
        value : float
            The figure.
        own : float
            95 % half-width of what is the run's alone, at least 0.
        shared : mapping of str to float
            Effect of each shared cause's own 95 %, signed; those without effect are left out.

        Returns
        -------
        Estimate
            Independent causes: its plus-minus adds all in quadrature.

        Examples
        --------
        >>> Estimate.parted(500.0, 3.0, {"car: mass": 4.0}).plus_minus
        5.0
        """
        parts = tuple(SharedPart(cause, effect) for cause, effect in shared.items() if effect)
        return cls(value, math.hypot(own, *(part.effect for part in parts)), own, parts)

    @property
    def own(self) -> float:
        """95 % half-width of the run's own part; all of it where nobody parted it."""
        return self.plus_minus if self.run_plus_minus is None else self.run_plus_minus

    def among_runs(self) -> Estimate:
        """The figure as it stands beside other runs of the same car: with what is the run's own alone."""
        return Estimate(self.value, self.own, self.run_plus_minus)

    def scaled(self, factor: float) -> Estimate:
        """The figure in another unit, or times a factor that is known."""
        size = abs(factor)
        run = None if self.run_plus_minus is None else self.run_plus_minus * size
        shared = tuple(SharedPart(part.cause, part.effect * factor) for part in self.shared)
        return Estimate(self.value * factor, self.plus_minus * size, run, shared)


def difference(of: Estimate, less: Estimate, *, apart: frozenset[str] = frozenset()) -> Estimate:
    """One run's figure less another's, what both share cancelled.

    Parameters
    ----------
    of, less : Estimate
        The same figure of two runs.
    apart : frozenset of str
        What is not the same for both: `CAR`, `DEVICE`, `DAY`. Causes of it do not cancel.

    Returns
    -------
    Estimate
        Its `shared` holds what did not cancel: a mass given wrong moves two unlike runs by unlike watts.

    Examples
    --------
    >>> a = Estimate.parted(500.0, 3.0, {"car: mass": 10.0})
    >>> b = Estimate.parted(490.0, 4.0, {"car: mass": 10.0})
    >>> difference(a, b).plus_minus, difference(a, b, apart=frozenset({CAR})).plus_minus > 14
    (5.0, True)
    """
    together, alone = _effects(of, less, apart, by=1.0)
    return Estimate.parted(of.value - less.value, math.hypot(of.own, less.own, *alone), together)


def ratio(of: Estimate, to: Estimate, *, apart: frozenset[str] = frozenset()) -> Estimate:
    """One run's figure over another's, what both share cancelled.

    Parameters
    ----------
    of, to : Estimate
        The same figure of two runs; `to` must not be 0.
    apart : frozenset of str
        As of `difference`.

    Returns
    -------
    Estimate
        [-]

    Raises
    ------
    ValueError
        If `to` is 0.

    Examples
    --------
    >>> a, b = (Estimate.parted(v, 0.003 * v, {"car: mass": 0.01 * v}) for v in (400.0, 500.0))
    >>> round(ratio(a, b).value, 3), round(ratio(a, b).plus_minus, 5)
    (0.8, 0.00339)
    """
    if to.value == 0.0:
        raise ValueError("a ratio needs a figure other than 0 below the line")
    value = of.value / to.value
    together, alone = _effects(of.scaled(1.0 / to.value), to.scaled(1.0 / to.value), apart, by=value)
    own = math.hypot(of.own / to.value, value * to.own / to.value, *alone)
    return Estimate.parted(value, own, together)


def _effects(of: Estimate, less: Estimate, apart: frozenset[str], *, by: float) -> tuple[dict[str, float], list[float]]:
    """What each cause still makes of the difference of two: those that both share, and those that they do not."""
    first, second = ({part.cause: part.effect for part in one.shared} for one in (of, less))
    together: dict[str, float] = {}
    alone: list[float] = []
    for cause in first | second:
        here, there = first.get(cause, 0.0), by * second.get(cause, 0.0)
        if cause.partition(":")[0] in apart:
            alone += [here, there]
        elif cause in DOUBTS:
            shares = [abs(own / run.value) for own, run in ((here, of), (there / by, less)) if run.value]
            together[cause] = max(shares, default=0.0) * (of.value - by * less.value)
        else:
            together[cause] = here - there
    return together, alone
