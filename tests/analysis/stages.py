"""The stages of the driveline in one call each, their evidence prepared from a planted run's parts.

Public: `label_gears`, `find_shifts`, `measure_launch`, `gears_between_shifts`, `with_wheelspin`, `evidence_of`,
`planted_boost`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.driveline import gears as naming
from passband.analysis.driveline import launch as launching
from passband.analysis.driveline import wheelspin as spinning
from passband.analysis.driveline.state import read_driveline
from passband.analysis.given.car import Car
from passband.analysis.results.boost import BoostBasis
from passband.analysis.sensors.boost_trace import BOOST_NOT_LOGGED, BoostTrace
from passband.analysis.sensors.evidence import prepare_evidence
from passband.analysis.shifts import find

NOTHING_GIVEN = Car(name="nothing given")


def planted_boost(time_s, boost_pa):
    """Boost as a log holds it."""
    return BoostTrace(np.asarray(time_s), np.asarray(boost_pa), BoostBasis.AS_LOGGED, None, "boost")


def evidence_of(motion, traces, car=None, *, launch_s=0.0, end_s, boost=BOOST_NOT_LOGGED, launch_plus_minus_s=0.0):
    return prepare_evidence(
        traces, car or NOTHING_GIVEN, launch_s=launch_s, end_s=end_s, record_end_s=float(motion.time_s[-1]),
        boost=boost, launch_plus_minus_s=launch_plus_minus_s,
    )  # fmt: skip


def label_gears(motion, traces, car, *, launch_s, end_s):
    evidence = evidence_of(motion, traces, car, launch_s=launch_s, end_s=end_s)
    return naming.label_gears(read_driveline(motion, evidence), motion, evidence)


def find_shifts(motion, traces, gears, car, *, launch_s, end_s, boost=BOOST_NOT_LOGGED):
    evidence = evidence_of(motion, traces, car, launch_s=launch_s, end_s=end_s, boost=boost)
    return find.find_shifts(read_driveline(motion, evidence), motion, evidence, gears)


def measure_launch(motion, traces, gears, *, car=None, **more):
    evidence = evidence_of(motion, traces, car, end_s=float(motion.time_s[-1]), **more)
    return launching.measure_launch(read_driveline(motion, evidence), motion, evidence, gears)


def gears_between_shifts(gears, shifts, motion, *, launch_s, end_s):
    return naming.gears_between_shifts(gears, shifts, evidence_of(motion, Traces(()), launch_s=launch_s, end_s=end_s))


def with_wheelspin(motion, traces, car, **more):
    return spinning.with_wheelspin(motion, evidence_of(motion, traces, car, end_s=float(motion.time_s[-1])), **more)
