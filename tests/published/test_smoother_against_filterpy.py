"""The smoother's acceleration held against a textbook Rauch-Tung-Striebel smoother.

Source: filterpy 1.4 or later (R. Labbe), `KalmanFilter.rts_smoother`: Rauch, Tung, Striebel, AIAA J. 3(8), 1445 (1965).
"""

import warnings

import numpy as np

from passband.analysis.motion.fusion import SpeedSensor, fuse_speed

STEP_S, NOISE_MPS = 0.01, 0.5
TIME = np.arange(0.0, 10.0, STEP_S)
TRUE_ACCELERATION = 9.0 * np.exp(-TIME / 6.0)
TRUE_SPEED = np.cumsum(TRUE_ACCELERATION) * STEP_S
MEASURED = TRUE_SPEED + np.random.default_rng(7).normal(0, NOISE_MPS, TIME.size)


def textbook_acceleration():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from filterpy.kalman import KalmanFilter

        filtered = KalmanFilter(dim_x=2, dim_z=1)
        filtered.x = np.array([[0.0], [9.0]])
        filtered.F = np.array([[1.0, STEP_S], [0.0, 1.0]])
        filtered.H = np.array([[1.0, 0.0]])
        filtered.P = np.diag([1.0, 10.0])
        filtered.R = np.array([[NOISE_MPS**2]])
        filtered.Q = 1.2**2 * np.array([[STEP_S**3 / 3, STEP_S**2 / 2], [STEP_S**2 / 2, STEP_S]])
        means, covariances, _, _ = filtered.batch_filter(MEASURED)
        smoothed, _, _, _ = filtered.rts_smoother(means, covariances)
    return smoothed[:, 1, 0]


def test_the_derivative_is_as_good_as_the_textbook_smoother():
    # published: same data, same process noise; ours must not be more than a tenth worse
    sensor = SpeedSensor("speed", TIME, MEASURED, 0.02, 0.0, 1e-5, 0.0)
    posterior = fuse_speed([sensor], None, span_s=(0.0, 9.9), rest_until_s=0.0)
    inside = (TIME > 0.5) & (TIME < 9.0)
    ours = np.interp(TIME, posterior.time_s, np.gradient(posterior.speed, posterior.time_s))
    own = np.std((ours - TRUE_ACCELERATION)[inside])
    textbook = np.std((textbook_acceleration() - TRUE_ACCELERATION)[inside])
    assert own < 1.1 * textbook
