"""The sparse smoother against a slow twin: the model as it is written, in dense matrices, solved by numpy alone.

Slow twin: nothing is shared with the smoother but the sensors it is given. The twin's constants are its own; they are
what the smoother's notes say of the model. Both start from the same guess and make the same number of rounds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from passband.analysis.motion.fusion import Accelerometer, SpeedSensor, fuse_speed
from tests.analysis.strip_run import LAUNCH_S, plain_run

RUN = plain_run()
START_S, STOP_S, REST_S = 2.6, 4.8, LAUNCH_S - 0.02
ROUNDS, SMOOTHED_S = 8, 0.1
GRID_S, JERK_SEEN, JERK_UNSEEN, STUDENT = 0.005, 4.0, 1.2, 4.0
REST_SD_MPS, BITE_S, BITE_SHARE, BITE_SHARE_UNSEEN = 0.002, 0.15, 0.2, 0.05
BIAS_STEP_S, BIAS_SD, BIAS_MOVES = 1.5, 3.0, 0.10


@dataclass
class Block:
    """Dense rows: what they say, how sure, and whether far ones weigh less."""

    rows: np.ndarray
    target: np.ndarray
    sd: float
    robust: bool


def sensors(*, accelerometer, growth_sd=0.0, scale_sd=0.004, seed=0):
    rng = np.random.default_rng(seed)
    at = np.arange(START_S + 0.12, STOP_S - 0.12, 0.013)
    speed = np.interp(at - 0.02, RUN.time_s, RUN.speed_mps)
    slow = rng.permutation(np.arange(at.size))[:4]
    speed = speed + rng.normal(0, 0.05, at.size)
    awake = speed > 1.0
    spoilt = speed.copy()
    spoilt[slow] += 1.5  # a few far off, so that weights matter
    wheel = SpeedSensor(
        "wheel", at[awake], spoilt[awake], 0.01, 0.02, 0.008, scale_sd, growth=3e-6, growth_sd=growth_sd
    )
    steady = SpeedSensor("gps", at[awake][::4] + 0.001, speed[awake][::4], 0.02, 0.02, 0.008, 0.0)
    pull = 1.02 * np.interp(at - 0.022, RUN.time_s, RUN.acceleration_mps2) + 0.2 + rng.normal(0, 0.06, at.size)
    return [wheel, steady], Accelerometer(at, pull, 0.06) if accelerometer else None


class DenseTwin:
    """Gauss-Newton with Student weights on whole matrices."""

    def __init__(self, speeds, device):
        self.speeds, self.device = speeds, device
        self.count = round((STOP_S - START_S) / GRID_S) + 1
        self.time = START_S + GRID_S * np.arange(self.count)
        self.knots = np.linspace(START_S, self.time[-1], max(2, round((self.time[-1] - START_S) / BIAS_STEP_S) + 1))
        prior = []
        clock = device if device is not None else speeds[0]
        self.clock = "" if device is not None else speeds[0].name
        for one in speeds:
            prior += [(f"delay {one.name}", one.delay_s, one.delay_sd_s)] if one.name != self.clock else []
            prior += [(f"scale {one.name}", 1.0, one.scale_sd)] if one.scale_sd else []
            prior += [(f"growth {one.name}", one.growth, one.growth_sd)] if one.growth_sd else []
        if device is not None:
            prior += [("scale acceleration", 1.0, device.scale_sd)]
            prior += [(f"bias {knot}", 0.0, BIAS_SD) for knot in range(self.knots.size)]
        prior.append(("common delay", 0.0, clock.delay_sd_s))
        self.names = [name for name, _, _ in prior]
        self.prior, self.prior_sd = (np.array([each[place] for each in prior]) for place in (1, 2))
        self.noise = {one.name: max(one.noise_mps, 0.05) for one in speeds}

    def reading(self, moments):
        """Matrix that reads the speed at moments, by straight lines."""
        rows = np.zeros((moments.size, self.count))
        for row, moment in zip(rows, moments, strict=True):
            place = int((moment - START_S) // GRID_S)
            share = (moment - self.time[place]) / GRID_S
            row[place : place + 2] = 1.0 - share, share
        return rows

    def steps(self):
        """Matrix of the rates of change between neighbours, and their times."""
        rows = (np.eye(self.count)[1:] - np.eye(self.count)[:-1]) / GRID_S
        return rows, self.time[:-1] + GRID_S / 2

    def blocks(self, now):
        known = dict(zip(self.names, now[self.count :], strict=True))
        blocks = [self.of_speed(one, now[: self.count], known) for one in self.speeds]
        if self.device is not None:
            blocks.append(self.of_acceleration(now[: self.count], known))
            moves = np.zeros((self.knots.size - 1, now.size))
            for knot, row in enumerate(moves):
                row[self.column(f"bias {knot}")], row[self.column(f"bias {knot + 1}")] = -1.0, 1.0
            blocks.append(Block(moves, np.zeros(len(moves)), BIAS_MOVES, robust=False))
        bends = np.diff(np.eye(self.count), n=2, axis=0) / GRID_S
        middle = self.time[1:-1]
        bends[(middle > REST_S) & (middle < REST_S + BITE_S)] *= (
            BITE_SHARE if self.device is not None else BITE_SHARE_UNSEEN
        )
        jerk = JERK_UNSEEN if self.device is None else JERK_SEEN
        blocks.append(Block(self.wide(bends), np.zeros(len(bends)), jerk * GRID_S**0.5, robust=True))
        still = np.eye(self.count)[self.time < REST_S]
        return [*blocks, Block(self.wide(still), np.zeros(len(still)), REST_SD_MPS, robust=False)]

    def wide(self, rows):
        return np.hstack((rows, np.zeros((len(rows), len(self.names)))))

    def column(self, name):
        return self.count + self.names.index(name)

    def of_speed(self, one, speed, known):
        apart = one.name != self.clock
        delay = known[f"delay {one.name}"] - known["common delay"] if apart else one.delay_s
        scale, growth = known.get(f"scale {one.name}", 1.0), known.get(f"growth {one.name}", one.growth)
        read = self.reading(one.time_s - delay)
        seen = read @ speed
        rate = np.diff(speed)[((one.time_s - delay - START_S) // GRID_S).astype(int)] / GRID_S
        rows = self.wide((scale * (1.0 - 3.0 * growth * seen**2))[:, None] * read)
        model = scale * seen * (1.0 - growth * seen**2)
        slopes = {
            "delay": -scale * (1.0 - growth * seen**2) * rate, "scale": model / scale, "growth": -scale * seen**3
        }  # fmt: skip
        if apart:
            rows[:, self.column("common delay")] = -slopes["delay"]
        for what, slope in slopes.items():
            if f"{what} {one.name}" in self.names:
                rows[:, self.column(f"{what} {one.name}")] = slope
        return self.about(rows, one.speed_mps - model, speed, known, self.noise[one.name])

    def of_acceleration(self, speed, known):
        steps, middles = self.steps()
        moments = self.device.time_s - self.device.delay_s
        place = ((moments - middles[0]) // GRID_S).astype(int)
        share = ((moments - middles[place]) / GRID_S)[:, None]
        read = (1.0 - share) * steps[place] + share * steps[place + 1]
        scale, rows = known["scale acceleration"], self.wide(known["scale acceleration"] * read)
        hats = np.array([np.interp(moments, self.knots, unit) for unit in np.eye(self.knots.size)]).T
        rows[:, self.column("scale acceleration")] = read @ speed
        rows[:, [self.column(f"bias {knot}") for knot in range(self.knots.size)]] = hats
        bias = hats @ np.array([known[f"bias {knot}"] for knot in range(self.knots.size)])
        left = self.device.acceleration_mps2 - scale * (read @ speed) - bias
        return self.about(rows, left, speed, known, self.device.noise_mps2)

    def about(self, rows, left, speed, known, sd):
        """Rows for the unknowns themselves, not their change."""
        now = np.concatenate((speed, [known[name] for name in self.names]))
        return Block(rows, left + rows @ now, sd, robust=True)

    def guess(self):
        """Speed of the sensor with most samples, usual lateness off, smoothed over a tenth each way; at rest none."""
        first = max(self.speeds, key=lambda one: one.time_s.size)
        speed = np.interp(self.time, first.time_s - first.delay_s, first.speed_mps)
        reach = round(SMOOTHED_S / GRID_S)
        padded = np.concatenate((np.full(reach, speed[0]), speed, np.full(reach, speed[-1])))
        smooth = np.array([padded[place : place + 2 * reach + 1].mean() for place in range(self.count)])
        return np.concatenate((np.where(self.time < REST_S, 0.0, smooth), self.prior))

    def solve(self):
        """Mean, precision and weights of the last round."""
        now = self.guess()
        weights: list = []
        for _ in range(ROUNDS):
            blocks = self.blocks(now)
            precision = np.diag(np.concatenate((np.full(self.count, 1e-9), self.prior_sd**-2.0)))
            right = np.concatenate((np.zeros(self.count), self.prior * self.prior_sd**-2.0))
            for place, block in enumerate(blocks):
                weight = (weights[place] if weights else np.ones(len(block.target))) / block.sd**2
                precision += block.rows.T @ (weight[:, None] * block.rows)
                right += block.rows.T @ (weight * block.target)
            now = np.linalg.solve(precision, right)
            left = [block.target - block.rows @ now for block in blocks]
            weights = [
                (STUDENT + 1) / (STUDENT + (off / block.sd) ** 2) if block.robust else np.ones(off.size)
                for off, block in zip(left, blocks, strict=True)
            ]
            for one, off in zip(self.speeds, left, strict=False):
                self.noise[one.name] = max(one.noise_mps, 1.4826 * float(np.median(np.abs(off))))
        return now, precision, weights


CASES = {
    "wheel, GPS and accelerometer": {"accelerometer": True},
    "no accelerometer": {"accelerometer": False},
    "growth sought": {"accelerometer": True, "growth_sd": 1e-6},
    "no scale sought": {"accelerometer": False, "scale_sd": 0.0},
}


@pytest.fixture(scope="module", params=CASES, ids=lambda name: name.replace(" ", "-"))
def both(request):
    """The smoother's posterior; the twin, its mean, precision and weights."""
    speeds, device = sensors(**CASES[request.param])
    twin = DenseTwin(speeds, device)
    solved = twin.solve()
    posterior = fuse_speed(speeds, device, span_s=(START_S, STOP_S), rest_until_s=REST_S)
    return posterior, twin, *solved


def test_the_unknowns_are_the_same(both):
    posterior, twin, mean, *_ = both
    assert list(posterior.names) == twin.names
    # The grid is moved by what all sensors are late, which is nothing more after that
    np.testing.assert_allclose(posterior.time_s, twin.time - mean[twin.column("common delay")], atol=1e-7)


def test_the_mean_is_the_twins(both):
    posterior, twin, mean, precision, _ = both
    mean = mean.copy()
    mean[twin.column("common delay")] = 0.0
    sigma = np.sqrt(np.diag(np.linalg.inv(precision)))
    assert (np.abs(posterior.mean - mean) / sigma).max() < 1e-4


def test_the_covariance_is_the_twins_dense_inverse(both):
    posterior, _, _, precision, _ = both
    dense = np.linalg.inv(precision)
    sigma = np.sqrt(np.diag(dense))
    apart = (posterior.spread(np.eye(sigma.size)) - dense) / np.outer(sigma, sigma)
    assert np.abs(apart).max() < 1e-4


def test_noise_and_weights_are_the_twins(both):
    posterior, twin, _, _, weights = both
    for one, own in zip(twin.speeds, weights, strict=False):
        assert posterior.noise[one.name] == pytest.approx(twin.noise[one.name], rel=1e-5)
        np.testing.assert_allclose(posterior.weights[one.name], own, atol=1e-4)
    assert min(posterior.weights["wheel"]) < 0.2  # the samples that were spoilt
