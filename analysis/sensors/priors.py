from dataclasses import dataclass


@dataclass
class L:
    late_s: float
    sigma_s: float


ACCELEROMETER = L(0.022, 0.008)
ACCELEROMETER_SCALE_SD = 0.03
