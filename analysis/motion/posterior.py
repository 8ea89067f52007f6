"""What a fit of the run's speed leaves: speed and parameters with their covariance, open to further measurements.

The smoother of `analysis.motion.fusion` makes it; `analysis.motion.distance` takes rollout and slip into it.

Public: `Posterior`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from passband.analysis.motion.solver import Solution
from passband.analysis.quantities import FloatArray, IntArray


@dataclass(slots=True)
class Posterior:
    """Speed and parameters with their covariance, open to further conditions (a slip, a rollout)."""

    time_s: FloatArray
    """Even grid, shape (n,). [s]"""
    mean: FloatArray
    """Speed at the grid, then the parameters, shape (n + p,)."""
    names: tuple[str, ...]
    """Names of the parameters, shape (p,)."""
    noise: dict[str, float]
    """Noise found for each sensor, in its unit."""
    weights: dict[str, FloatArray]
    """Weight given to each sample of each sensor, 0..1.25; 1 for one that was never on the grid."""
    _fit: Solution
    """What the last round of the fit was solved by."""
    modes: dict[str, FloatArray] = field(default_factory=dict)
    """Errors that no sensor shows (a common scale, slip, growth): change of speed for a parameter of 1, shape (n,)."""
    _gain: list[tuple[FloatArray, FloatArray]] = field(default_factory=list)
    counts_for: dict[str, float] = field(default_factory=dict)
    """By how much what each speed sensor shows varies more than if its errors were free of each other. [-]"""
    left: dict[str, tuple[IntArray, FloatArray]] = field(default_factory=dict)
    """What the fit leaves of each speed sensor's samples: which of them, and by how much. [-], [m/s]"""
    later_s: float = 0.0
    """How much later than expected the sensor was found that the speed was sought on the clock of. [s]"""

    @property
    def speed(self) -> FloatArray:
        """Ground speed on the grid, modes included, m/s."""
        speed = self.mean[: self.time_s.size].copy()
        for name, mode in self.modes.items():
            speed += mode * self.parameter(name)
        return speed

    @property
    def distance(self) -> FloatArray:
        """Distance from the grid's start by trapezoids, m."""
        speed, step = self.speed, float(self.time_s[1] - self.time_s[0])
        return np.concatenate(([0.0], np.cumsum((speed[1:] + speed[:-1]) / 2) * step))

    def parameter(self, name: str) -> float:
        """Value of a named parameter."""
        return float(self.mean[self.time_s.size + self.names.index(name)])

    def spread(self, rows: FloatArray) -> FloatArray:
        """Covariance times rows: shape (n + p, k) for rows of shape (k, n + p)."""
        fit, n = self._fit, self.time_s.size
        top = fit.band.solve(rows[:, :n].T)
        low = np.linalg.solve(fit.schur, rows[:, n:].T - fit.border.T @ top)
        out = np.vstack((top - fit.through @ low, low))
        for taken, inverse in self._gain:
            out = out - taken @ (inverse @ (taken.T @ rows.T))
        return np.asarray(out)

    def deviation(self, rows: FloatArray) -> FloatArray:
        """Standard deviation of each linear function of the unknowns, shape (k,)."""
        fit, n = self._fit, self.time_s.size
        low = rows[:, n:].T - fit.through.T @ rows[:, :n].T
        variance = (low * np.linalg.solve(fit.schur, low)).sum(axis=0)
        if rows[:, :n].any():
            variance = variance + fit.band.squares(rows[:, :n].T)
        for taken, inverse in self._gain:
            seen = taken.T @ rows.T
            variance = variance - (seen * (inverse @ seen)).sum(axis=0)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))

    def covariance(self, rows: FloatArray) -> FloatArray:
        """Covariance of linear functions of the unknowns with each other, shape (k, k)."""
        fit, n = self._fit, self.time_s.size
        low = rows[:, n:].T - fit.through.T @ rows[:, :n].T
        found = low.T @ np.linalg.solve(fit.schur, low) + fit.band.carry(rows[:, :n].T).products()
        for taken, inverse in self._gain:
            seen = taken.T @ rows.T
            found = found - seen.T @ (inverse @ seen)
        return np.asarray(found)

    def condition(self, rows: FloatArray, surplus: FloatArray, sd: FloatArray) -> None:
        """Take further measurements in: `rows` times the change of the unknowns should equal `surplus`.

        Parameters
        ----------
        rows : array, shape (k, n + p)
        surplus : array, shape (k,)
            Measured less predicted at the present mean.
        sd : array, shape (k,)
            Standard deviation of each measurement.
        """
        taken = self.spread(rows)
        inverse: FloatArray = np.asarray(np.linalg.inv(rows @ taken + np.diag(sd**2)), dtype=np.float64)
        self.mean = self.mean + taken @ (inverse @ surplus)
        self._gain.append((taken, inverse))

    def copy(self) -> Posterior:
        """An independent copy, for trying conditions."""
        return Posterior(
            self.time_s,
            self.mean.copy(),
            self.names,
            self.noise,
            self.weights,
            self._fit,
            dict(self.modes),
            list(self._gain),
            self.counts_for,
            self.left,
            self.later_s,
        )

    # --- linear functions of the unknowns -------------------------------------------------------------------------

    def row_speed(self, at_s: float) -> FloatArray:
        """Row that reads the speed at a time."""
        row: FloatArray = self.rows_speed(np.array([at_s]))[0]
        return row

    def rows_speed(self, at_s: FloatArray) -> FloatArray:
        """Rows that read the speed at times, shape (k, n + p)."""
        rows, each = np.zeros((at_s.size, self.mean.size)), np.arange(at_s.size)
        place, share = self._place(at_s)
        rows[each, place], rows[each, place + 1] = 1.0 - share, share
        return self._with_modes(rows)

    def row_distance(self, at_s: float) -> FloatArray:
        """Row that reads the distance travelled from the grid's start to a time (trapezoids)."""
        row: FloatArray = self.rows_distance(np.array([at_s]))[0]
        return row

    def rows_distance(self, at_s: FloatArray) -> FloatArray:
        """Rows that read the distance travelled from the grid's start to times, shape (k, n + p)."""
        rows, each = np.zeros((at_s.size, self.mean.size)), np.arange(at_s.size)
        place, share = self._place(at_s)
        step = float(self.time_s[1] - self.time_s[0])
        rows[:, : self.time_s.size] = step * (np.arange(self.time_s.size) <= place[:, None])
        rows[each, 0] = rows[each, place] = np.where(place > 0, step / 2, 0.0)
        rows[each, place] += step * share * (1 - share / 2)
        rows[each, place + 1] += step * share * share / 2
        return self._with_modes(rows)

    def rows_acceleration(self, at_s: FloatArray, *, over_s: float) -> FloatArray:
        """Rows that read the mean acceleration over a stretch about times, shape (k, n + p)."""
        return (self.rows_speed(at_s + over_s / 2) - self.rows_speed(at_s - over_s / 2)) / over_s

    def _with_modes(self, rows: FloatArray) -> FloatArray:
        n = self.time_s.size
        if self.modes:
            places = [n + self.names.index(name) for name in self.modes]
            rows[:, places] += rows[:, :n] @ np.array(list(self.modes.values())).T
        return rows

    def row_parameter(self, name: str) -> FloatArray:
        """Row that reads a parameter."""
        row = np.zeros(self.mean.size)
        row[self.time_s.size + self.names.index(name)] = 1.0
        return row

    def _place(self, at_s: FloatArray) -> tuple[IntArray, FloatArray]:
        """The grid point before each time, and what share of the way to the next it lies on."""
        step = float(self.time_s[1] - self.time_s[0])
        place = (at_s - float(self.time_s[0])) / step
        index = np.clip(np.floor(place).astype(np.int64), 0, self.time_s.size - 2)
        return index, np.clip(place - index, 0.0, 1.0)
