"""What a lone driven wheel slips, as its shifts show it: while nothing drives it, it turns as fast as the ground.

Before a shift the tire leads the ground by its slip; with the drive cut it falls to the ground's speed within a few
hundredths of a second, while the car loses only what air and rolling take. So the fall beyond that is the slip, at a
pull that the wheel itself shows. As the shafts unwind the wheel swings a little below the ground, so the lowest speed
shows somewhat more than the slip.

Public: `slip_shown`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.speed_through_gears import Upshift, find_upshifts
from passband.analysis.motion.tire_slip import TireSlip
from passband.analysis.sensors.engine_speed import read_engine_speed
from passband.analysis.sensors.priors import ROLLING_MPS2, WHEEL
from passband.analysis.windows.window import RunWindow

LEAST_HZ = 50.0
"""A wheel logged more rarely does not show how far it falls. [Hz]"""
SINCE_S = 0.6
"""Shifts are looked for so long after the launch: before it the clutch bites. [s]"""
BEFORE_S, AFTER_S, SETTLES_S = (0.4, 0.02), (0.12, 0.5), 0.06
"""The wheel's pull is taken so long before a shift and so long after it, and its lowest speed until so long after.
[s]"""
LEAST_SAMPLES, OVER_S = 6, 0.01
"""Fewest samples of a line, and over how long the lowest speed is a mean: a quick shift's fall lasts not much longer.
[-], [s]"""
PULL_MPS2, LIKE_BEFORE = 1.0, 1.5
"""A wheel pulls at least so much on both sides, and before a shift no more than so many times what it does after it:
beyond the step between two gears it spun. [m/s2], [-] By arithmetic."""
OF_FALL, OF_FALL_SD = 0.93, 0.15
"""Share of the fall that is slip, and its standard deviation, over cars and again over a car's shifts: the rest is the
shafts' swing and noise. [-] 0.78 to 1.06 over 21 shifts of eight cars of three simulators (seeds 12300 to 12311), once
0.015 of growth at 70 m/s is taken out of what their tires turned."""


def slip_shown(usual: TireSlip, wheel: Channel, traces: Traces, car: Car, window: RunWindow) -> TireSlip:
    """A driven tire's slip with what the run's shifts show of it.

    Parameters
    ----------
    usual : TireSlip
        As it is to be expected.
    wheel : Channel
        Speed of the driven tires. [m/s]
    traces : Traces
        Engine speed shows the shifts.
    car : Car
        Gear ratios.
    window : RunWindow
        The run.

    Returns
    -------
    TireSlip
        As expected where no shift shows any: behind a converter, which pushes on, by a shaft, which swings far, in a
        log that is too slow, without ratios.

    Notes
    -----
    Both what is expected and what the shifts show are weighed by how sure each is. It does not see how slip bends as
    grip ends.
    """
    ratios = car.overall_ratios
    if ratios is None or car.has_converter or wheel.name == "driveshaft_speed" or wheel.rate_hz < LEAST_HZ:
        return usual
    engine = read_engine_speed(traces, start_s=window.launch_s - 0.5, stop_s=window.stop_s)
    if engine is None:
        return usual
    shifts = find_upshifts(engine, ratios, start_s=window.launch_s + SINCE_S, stop_s=window.stop_s)
    falls = [fall for shift in shifts if (fall := _fall_in(shift, wheel, usual.drag_per_m)) is not None]
    if not falls:
        return usual
    shown = OF_FALL * float(np.median(falls))
    shown_sd = OF_FALL_SD / OF_FALL * shown * (1.0 + 1.0 / len(falls)) ** 0.5
    weight = usual.per_mps2_sd**2 / (usual.per_mps2_sd**2 + shown_sd**2)
    return replace(
        usual,
        per_mps2=usual.per_mps2 + weight * (shown - usual.per_mps2),
        per_mps2_sd=weight**0.5 * shown_sd,
    )


def _fall_in(shift: Upshift, wheel: Channel, drag_per_m: float) -> float | None:
    """Fall over speed and thrust, s2/m; None where its pull is not seen on both sides."""
    time_s, speed_mps = wheel.time_s, wheel.values
    begins_s, ends_s = shift.start_s + WHEEL.late_s, shift.end_s + WHEEL.late_s
    before = (time_s > begins_s - BEFORE_S[0]) & (time_s < begins_s - BEFORE_S[1])
    after = (time_s > ends_s + AFTER_S[0]) & (time_s < ends_s + AFTER_S[1])
    within = (time_s > begins_s) & (time_s < ends_s + SETTLES_S)
    if min(before.sum(), after.sum()) < LEAST_SAMPLES or not within.any():
        return None
    gain, left_mps = np.polyfit(time_s[before] - begins_s, speed_mps[before], 1)
    gain_after = float(np.polyfit(time_s[after] - ends_s, speed_mps[after], 1)[0])
    if min(gain, gain_after) < PULL_MPS2 or gain > LIKE_BEFORE * gain_after:
        return None
    held_back = drag_per_m * left_mps**2 + ROLLING_MPS2
    kept_up = speed_mps[within] + held_back * (time_s[within] - begins_s)
    over = min(max(round(OVER_S * wheel.rate_hz), 1), kept_up.size)
    lowest_mps = float(np.convolve(kept_up, np.ones(over) / over, mode="valid").min())
    return max(float(left_mps) - lowest_mps, 0.0) / float(left_mps * (gain + held_back))
