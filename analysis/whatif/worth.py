"""What a per cent of torque is worth at the finish line, class by class of engine speed: where a head should gain.

Public: `WorthClass`, `worth_of_torque`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.whatif.changes import with_engine
from passband.analysis.whatif.drive import Driven, drive
from passband.analysis.whatif.model import RunModel

CLASS_RPM = 500.0
"""Width of a class. [rpm]"""
TRIED = 0.01
"""Share by which torque is raised. [-]"""


@dataclass(frozen=True, slots=True)
class WorthClass:
    """One class of engine speed."""

    from_rpm: float
    """[rpm]"""
    to_rpm: float
    """[rpm]"""
    elapsed_s: float
    """Elapsed time won by one per cent more torque in it; above 0 is quicker. [s]"""
    elapsed_plus_minus_s: float
    """95 % half-width: 12 % of it. [s]"""
    launch: bool
    """Whether the launch's clutch slips within it: there the gain holds as far as the tires do."""


def worth_of_torque(model: RunModel, as_run: Driven) -> tuple[WorthClass, ...]:
    """What one per cent more torque in each class of 500 rpm would win.

    Parameters
    ----------
    model : RunModel
        Of the run.
    as_run : Driven
        Its own drive.

    Returns
    -------
    tuple of WorthClass
        From the lowest engine speed under load, the launch's included, to the highest.

    Notes
    -----
    The whole drive is made anew for each class. Power averaged by the time spent at each speed would be another answer,
    and may have the wrong sign: watts early in the run are worth more at the finish than watts late.
    """
    slips = model.launch.engine_rpm
    low = min(float(slips.min()) if slips.size else math.inf, float(model.engine_rpm(model.torque.least_rpm)))
    edges = (
        np.arange(
            math.floor(low / CLASS_RPM), math.ceil(float(model.engine_rpm(model.torque.most_rpm)) / CLASS_RPM) + 1
        )
        * CLASS_RPM
    )
    return tuple(_class(model, as_run, float(a), float(a + CLASS_RPM)) for a in edges[:-1])


def _class(model: RunModel, as_run: Driven, from_rpm: float, to_rpm: float) -> WorthClass:
    within = (model.node_rpm >= from_rpm) & (model.node_rpm < to_rpm)
    driven = drive(with_engine(model, np.where(within, 1.0 + TRIED, 1.0)))
    won = 0.0 if driven is None else as_run.elapsed_s - driven.elapsed_s
    launch = bool(np.any((model.launch.engine_rpm >= from_rpm) & (model.launch.engine_rpm < to_rpm)))
    return WorthClass(from_rpm, to_rpm, won, 0.12 * abs(won), launch)
