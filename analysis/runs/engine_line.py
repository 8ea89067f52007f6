"""One line after every run: is it the same engine, and where to look if not.

Public: `say_engine`, `say_engine_fault`.
"""

from __future__ import annotations

import math

from passband.analysis.quantities import FOOT_M
from passband.analysis.runs.same_engine_found import SameEngine

STEP = 0.5
"""A bound is given in steps of this many per cent."""
ROUGH = 6.0
"""A bound beyond this is none to lean on. [%]"""
EXPLAINS = 0.5
"""Manifold pressure is named as the cause to look at where it explains so much of the change. Chosen, no source. [-]"""


def say_engine(found: SameEngine) -> str:
    """Say in one line what was found.

    Parameters
    ----------
    found : SameEngine
        A run against its references.

    Returns
    -------
    str
        A sentence or two.
    """
    against = f" against {len(found.against)} earlier run{'s' if len(found.against) > 1 else ''}"
    air = "" if found.air_known else " The air of a run is not known and was not taken out."
    if found.as_before:
        return f"{_as_before(found)}{against}.{air}"
    changed = _changed(found)
    return f"{changed[0].upper()}{changed[1:]}{against}{_pressure(found)}.{air}"


def say_engine_fault(found: SameEngine) -> str:
    """Say in a few words that an engine was down.

    Parameters
    ----------
    found : SameEngine
        A run that was unlike its references, and down.

    Returns
    -------
    str
        ``engine down 8 %``, as it stands beside a missed shift or a lift.
    """
    if found.from_gear is None:
        return f"engine down {100 * (1 - found.power.value):.0f} %"
    return f"engine down {100 * (1 - found.gears[-1].power.value):.0f} % from gear {found.from_gear} on"


def _as_before(found: SameEngine) -> str:
    bound = 100 * (abs(found.power.value - 1.0) + found.power.plus_minus)
    within = f"{max(STEP, math.ceil(bound / STEP) * STEP):g} %"
    boost = f", but boost {found.boost:.2f} of usual" if found.boost_from_gear is not None and found.boost else ""
    if bound > ROUGH:
        return f"No change of the engine can be told, to within {within}{boost},"
    return f"Engine as before within {within}{boost},"


def _changed(found: SameEngine) -> str:
    beyond = [one for one in found.gears if found.from_gear is None or one.gear >= found.from_gear]
    last = found.power if found.from_gear is None else beyond[-1].power
    way = f"{'down' if last.value < 1 else 'up'} {100 * abs(last.value - 1):.1f} ±{100 * last.plus_minus:.1f} %"
    if found.from_gear is None:
        return f"all gears {way}" if len(found.gears) > 1 else f"power {way}"
    place = f", {found.from_m / FOOT_M:.0f} ft ({found.from_m:.0f} m)" if found.from_m is not None else ""
    rpm = f" at {found.from_rpm:.0f} rpm" if found.from_rpm is not None else ""
    return f"from gear {found.from_gear} on{rpm and f' (it began{rpm}{place})'} {way}"


def _pressure(found: SameEngine) -> str:
    """What manifold pressure has to do with it, and where to look."""
    down = found.power.value < 1
    if found.manifold is None:
        return "; no manifold pressure is logged: whether the way of the air or the tune, no log shows" if down else ""
    name = "boost" if found.boost is not None else "manifold pressure"
    level = found.boost if found.boost is not None else found.manifold
    if found.boost_from_gear is None:
        return f", {name} as usual: look at fuel, spark and tune, then at the engine" if down else f", {name} as usual"
    from_hit = found.boost_from_gear == found.gears[0].gear
    text = f", {name} {level:.2f} of usual from {'the hit' if from_hit else f'gear {found.boost_from_gear}'}"
    if not down:
        return text
    way = "plumbing" if found.boosted else "throttle and intake"
    rest = 1.0 if found.left is None else found.left.value
    lost, unexplained = math.log(found.power.value), math.log(rest)
    if abs(unexplained) < (1 - EXPLAINS) * abs(lost):
        return f"{text}: look at {way} before the tune"
    return f"{text}, which explains {100 * (unexplained - lost):.1f} % of it: look at {way} and at the tune"
