"""Which findings of a reading are questions: what the logs leave open and the person who made them knows.

Public: `READ_WITH_DOUBT`, `UNLIKE_CAR`.
"""

from __future__ import annotations

READ_WITH_DOUBT = (
    "time-column-assumed", "time-unit-assumed", "speed-of-which-wheel", "unit-assumed", "speed-unit-assumed",
    "flow-unit-assumed", "pressure-unit-assumed", "unit-doubted", "unit-against-mapping", "gauge-or-absolute",
    "manifold-pressure-unit", "afr-taken-as-lambda", "engine-speed-assumed", "engine-speed-unclear", "throttle-unclear",
    "manifold-pressure-unclear", "scale-unclear", "unit-unusual", "unit-refuted", "unit-not-known", "name-unclear",
    "engine-speed-scale",
)  # fmt: skip
"""Codes, where they come as cautions; a note says what is as good as sure."""
UNLIKE_CAR = ("ratios-disagree-with-speed", "ratios-disagree-with-driveshaft")
"""Codes that say, as cautions, that the logs go against the gearing of the car chosen: perhaps another made the run."""
