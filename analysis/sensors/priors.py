"""What is known beforehand of each kind of sensor, and of the tires that wheels turn on: one table for all stages.

A sensor is late by a dead time and a filter. Where one kind of sensor stands here twice, the two are not the same
quantity: what a slow change is late by is not what the line through a first motion is late by; the name says which.
No figure here is measured in the run at hand; where a run can tell (the smoother finds each delay), it starts here.

Public: `Lateness`, `gps_lateness`, `gps_together`, and the rows of the table.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Lateness:
    """How late a kind of sensor shows what happens."""

    late_s: float
    """What is usual. [s]"""
    sigma_s: float
    """Standard deviation over devices. [s]"""


# --- engine speed -----------------------------------------------------------------------------------------------------

PICKUP_LATENCY_S = 0.006
"""Pure delay of an engine-speed channel: one firing interval and the ECU's cycle; devices lie from 3 to 9 ms. [s]"""
PICKUP_LAG_S = 0.0075
"""Time constant of the averaging behind it; devices lie from 4 to 11 ms. [s]"""
PICKUP_DELAY_S = PICKUP_LATENCY_S + PICKUP_LAG_S
"""How late a slow change shows: their sum. [s]"""
PICKUP_DELAY_PLUS_MINUS_S = 0.0065
"""95 % half-width of the sum, over devices from 7 to 20 ms. [s]"""
PICKUP_LAG_PLUS_MINUS_S = 0.004
"""95 % half-width of the lag alone. [s]"""
ENGINE_SPEED = Lateness(PICKUP_DELAY_S, 0.004)
"""Engine speed as a speed: 5 to 20 ms."""
ENGINE_SPEED_TAKEN_BACK = Lateness(0.0, 0.004)
"""The same once the pick-up's delay has been taken off its times."""
ENGINE_COPY = Lateness(0.042, 0.028)
"""Another logger's copy of engine speed against the ECU's own channel, its hold allowed for: from prompt (a second
pick-up, a fast bus) to 100 ms late, any of it as likely."""

ENGINE_AT_LAUNCH = Lateness(0.085, 0.040)
"""How late the engine shows a launch where it sinks from its two-step, or climbs from a converter's stall: the pick-up
takes 14 ms, the clutch bites the while."""
FLARE_AT_LAUNCH = Lateness(-0.020, 0.020)
"""The same where it climbs as the clutch is let go: the two-step lets go with it, 35 ms before the car moves."""

# --- speeds -----------------------------------------------------------------------------------------------------------

WHEEL = Lateness(0.022, 0.010)
"""A wheel under way, as the smoother starts from: 1 to 40 ms. Below, in a match by speed, teeth and gates at low speed
are in it too."""
WHEEL_COUNTED = Lateness(0.016, 0.012)
"""The same where the run shows that it is late by a way: what is not teeth is the electronics', 2 to 25 ms, or another
unit's that filters it and sends it on over a bus, up to 45. Common practice, no source."""
WHEEL_WAY_M, WHEEL_WAY_SD_M = 0.03, 0.10
"""How late by a way a wheel's speed is where it is counted by teeth, and its standard deviation: half the teeth that
the mean is over, and what the value is held for. 60 teeth on 1.9 m make 3 cm of it, 20 make 9, 5 studs 38. [m] By
arithmetic."""
WAY_OPEN_SHARE = 0.35
"""What stays open of such a way, a standard deviation, where no accelerometer shows how the car began to move. [-]
Chosen on simulated runs."""
WAY_TOLD_SHARE = 0.2
"""The same where its first teeth show over how many pitches a value is the mean: a quarter of a pitch, for whether all
samples count or new ones alone. [-] By arithmetic."""
WAY_OPEN_DRIVEN_M = 0.08
"""The least of it where a driven wheel stands alone: as the clutch bites or a converter loads them, tires turn up to
twice as far as the car over its first tenths of a metre. [m] Chosen on simulated runs (two simulators, seeds 6100 to
6102)."""
NO_WAY_SD_M = 0.002
"""What is left open of it where the run shows none. [m]"""
WHEEL_IN_MATCH = Lateness(0.027, 0.012)
"""The same over a whole pull from 4 m/s on: 5 to 50 ms, the most where few teeth pass."""
DRIVEN_TIRE_LATE_S = 0.025
"""Wheel or shaft sensor at the driven tires, where wheelspin is told from it. [s]"""
WHEEL_AT_LAUNCH = Lateness(0.050, 0.030)
"""The line through a wheel's first speeds: its delay, the 80 ms over which the push builds up, and the way that a
counted wheel goes before its first teeth have passed."""
TIRE_AT_LAUNCH = Lateness(0.020, 0.035)
"""The same for the driven tire, which jumps ahead of the car where it spins."""
SHAFT_LATE_S = 0.020
"""A driveshaft's sensor, where the final drive is found from it. [s]"""
SHAFT_IN_MATCH = Lateness(0.017, 0.010)
"""The same in a match by speed: a shaft turns faster than a wheel, so its teeth tell sooner."""
GPS = Lateness(0.18, 0.13)
"""GPS speed's own latency, 0.05 to 0.4 s, and what a receiver that smooths adds, up to as much again; half of half a
period comes on top (`gps_lateness`). Beside the driveline, whose slip looks like lateness, a narrower one made slip of
what such a receiver is late by."""
GPS_PERIOD_SHARE = 0.25
"""Share of a receiver's period by which its speed is late on top: it tells a mean over half of it. [-]"""
GPS_SMEAR_S2, GPS_SMEAR_SD_S2 = 0.003, 0.007
"""Half the variance in time of the kernel of all its filters, and its standard deviation: from a tracking loop of 20 Hz
alone to a navigation filter of 0.4 s, by logarithm. [s2] Common practice, no source; by arithmetic."""
SMEAR_OF_LATENESS, SMEAR_OPEN_OF_LATENESS = 0.05, 0.065
"""The same over its lateness squared, and its standard deviation: of what it is late by two equal time constants make
anything from nothing to nearly all, which gives 0 to 0.2. [-] By arithmetic."""
GPS_TOGETHER_S = 0.1
"""How long an error of a GPS speed fades, where no other speed beside it shows it: a tracking loop of 3 to 20 Hz and
the navigation filter behind it hand it on to the next values. [s] Common practice, no source."""
GPS_IN_MATCH = Lateness(0.190, 0.090)
"""The same in a match by speed, filters and half a period in it: 0.05 to 0.4 s over receivers."""
GPS_AT_LAUNCH = Lateness(0.190, 0.055)
"""The line through GPS speed's first values: latency, filter, and how the push builds up."""
UNKNOWN_SPEED_IN_MATCH = Lateness(0.050, 0.040)
"""A ground speed of unknown origin: anything between wheel and GPS."""

WHEEL_WAKES_MPS, DRIVEN_WAKES_MPS, GPS_WAKES_MPS = 1.5, 0.6, 2.0
"""Below these a wheel sensor may still read zero, and GPS speed is mostly noise and filter; a driven wheel that must
carry the start is believed from the second on, for there is nothing else. [m/s] Common practice, no source."""
SLOW_GPS_HZ, SLOW_GPS_WAKES_MPS = 2.5, 0.5
"""A receiver slower than this tells so little of the launch that its first sample under way is believed too. [Hz],
[m/s] Chosen on simulated runs."""
WHEEL_NOISE_MPS, DRIVEN_NOISE_MPS, GPS_NOISE_MPS, ENGINE_SPEED_NOISE_MPS = 0.01, 0.02, 0.03, 0.1
"""Least noise of a speed, whatever the step it is printed in. [m/s]"""
UNDRIVEN_SCALE_SD, WHEEL_ON_GPS_SCALE_SD, DRIVEN_SCALE_SD = 0.002, 0.004, 0.004
"""What is open of an undriven wheel's circumference when nothing else shows it, when GPS does, and of a driven tire's;
standard deviations. [-]"""
GPS_SCALE_SD = 0.00015
"""GPS speed comes from a carrier's Doppler: its scale is as good as its clock. [-]"""
GPS_STRAYS_MPS, GPS_STRAYS_SPREAD = 0.02, 0.6
"""Besides, it strays by some hundredths over seconds, under noise that hides how it hangs together: the middle over
receivers, and by how much they differ, a deviation of the logarithm. [m/s], [-] Common practice, no source."""
GPS_STRAYS_SHOWN_MPS = 0.04
"""The same of a receiver alone whose errors are seen to hang together: the fit has taken most of such an error for the
car's, what is left is a part of it. [m/s] Common practice, no source."""

# --- accelerometer ----------------------------------------------------------------------------------------------------

ACCELEROMETER = Lateness(0.022, 0.012)
"""Own filter and sampling: 10 to 35 ms are usual, a low-pass of 3 Hz alone makes 53, one of 80 Hz 2."""
ACCELEROMETER_SAMPLED = Lateness(0.0105, 0.0055)
"""Its sampling and its device's cycle alone, 1 to 20 ms; the filter of `ACCELEROMETER_LAGS_S` comes on top."""
ACCELEROMETER_AT_LAUNCH = Lateness(0.019, 0.006)
"""The same at the crossing of a small share of the rise, which a filter delays less: 10 to 30 ms."""
ACCELEROMETER_LAGS_S = (0.002, 0.053)
"""Time constant of its filter alone, a low-pass of 80 to 3 Hz, one over 2 pi f: what comes through the gate. [s] By
arithmetic."""
SQUAT_SMEAR_S2 = 1e-4
"""Half the variance that a squatting body adds: it leans by half a degree to one and a half at 1 g, by which a device
fixed to it feels 1 to 2.5 % more, and takes 0.05 to 0.12 s to do so. Common practice, no source. [s2]"""
ACCELEROMETER_SCALE_SD, CALIBRATED_SCALE_SD = 0.03, 0.002
"""Standard deviation of its scale about 1: calibration and squat; and once the run's own speed has set it. [-]"""
ACCELEROMETER_NOISE_MPS2 = 0.02
"""Its least noise. [m/s2]"""

# --- what tells that torque is cut ------------------------------------------------------------------------------------

FLAG_LATENCY_S = 0.003
"""How late an ECU logs its own flag or lever. [s]"""
IGNITION_DELAY_S = 0.0015
"""How late the ECU's own ignition angle shows. [s]"""
THROTTLE_DELAY_S = 0.0055
"""How late a throttle position shows: a logger's cycle of up to 10 ms and a filter of 1 to 20. [s]"""
MANIFOLD_DELAY_S = 0.028
"""From the throttle's first movement until manifold pressure shows it: 20 to 35 ms, sensor included. [s]"""

LIFTED = 0.75
"""Below this share of the run's own throttle the foot has lifted: a linkage and a nervous foot take less. [-]"""
SURELY_OPEN = 0.9
"""From this share on it has surely not begun to: where engine speed must stand for the car's. [-]"""
POWER_ASKED = 0.6
"""Share of the throttle's whole travel from which power is asked for, part throttle on a wet strip included. [-]"""

# --- tires ------------------------------------------------------------------------------------------------------------

SLIP_PER_MPS2, SLIP_PER_MPS2_SD = 0.0040, 0.0012
"""Driven tire's slip for each m/s2 of the car's own acceleration, over a whole run, 3 to 6 % at 1 g: what wheelspin is
told from, and what GPS finds it from beside a drifting scale. The launch's pull, past the straight part of the tire's
curve, is in it. [s2/m] Common practice, no source."""
SLIP_AT_MOST_PULL, SLIP_AT_MOST_PULL_SD = 0.035, 0.025
"""The same times the run's greatest pull, and its standard deviation: what a lone driven wheel's speed is corrected by.
[-] Grip is greatest at a slip of 8 to 16 %, of which the straight part of a tire's curve makes a third to a half, so
0.027 to 0.08 by arithmetic; 0.03 to 0.11 over 70 cars of two simulators (seeds 6100 to 6102). Taken near the lower end,
where tires with grip to spare lie, and open to the upper: by the middle such cars' times were off by 75 to 107 ms at
the median, where they had been off by 22 to 33."""
USUAL_DRAG_PER_M = 3.3e-4
"""What air takes off a car, over its mass and speed squared: 0.6 m2 on 1,100 kg. [1/m] By arithmetic."""
ROLLING_MPS2 = 0.15
"""What rolling takes off it, 1.5 % of its weight. [m/s2]"""
SLIP_AT_LIMIT_SD, SLIP_WITH_CLUTCH_SD = 0.012, 0.025
"""What is open beside it of the slip at the limit of grip, where a car pulls hardest, standard deviation; and where the
engine's speed stands for the tires', so that the last of the clutch's slip is in it. [-] By the shape of a brush
tire's curve: at nine tenths of its grip a tire that slips 4 % slips half as much again for its pull as at three
tenths, which is 1.5 %, and more above."""
DRIVEN_WANDER_SD, ENGINE_WANDER_SD = 0.001, 0.004
"""By how much a driven tire's size and grip, beside all that, may change from one sixth of a run to the next: tires
warm, the track changes; and where the engine's speed stands for it, through clutch and shifts. [-] The latter as
beside a GPS speed (`motion/driveline_beside.py`)."""
WINDUP_M, WINDUP_SD_M = 0.010, 0.007
"""Way that a driven wheel turns further than the car goes as its tire takes up the launch's pull, and its standard
deviation. [m] By arithmetic: slip takes a relaxation length of 0.2 to 0.4 m to build, of which 3 to 6 % are 0.6 to
2.4 cm. Common practice, no source."""
SLIP_PER_G, SLIP_PER_G_SD = 0.030, 0.010
"""Slip while gripping, per force of one car weight at the ground, at a small pull, and its spread over tires: what
power starts from, which bends the curve by itself. Chosen: slicks at 1 g turn some 3 or 4 % faster than the ground; a
road tire of the CommonRoad vehicle models slips 2 % at 0.44 of its load."""
GROWTH_AT_70, GROWTH_AT_70_SD = 0.015, 0.012
"""Growth of the rolling radius at 70 m/s, with the square of speed, and its spread from a radial to a soft slick: what
a fit starts from that tells growth from slip. Chosen: no published table was found."""
GROWTH, GROWTH_SD = GROWTH_AT_70 / 70.0**2, GROWTH_AT_70_SD / 70.0**2
"""The same with speed squared, for a driven tire that nothing else shows. [1/(m/s)2]"""
UNDRIVEN_GROWTH, UNDRIVEN_GROWTH_SD = 4e-7, 4e-7
"""Growth of an undriven tire with speed squared, an eighth of a driven one's: 0.2 % at 70 m/s; and what it may differ
by, which GPS may show: a stiff radial grows by next to nothing, a narrow soft one by twice as much. Common practice,
no source; much looser lets the launch bend the scale, seen on simulated runs. [1/(m/s)2]"""


def gps_lateness(rate_hz: float) -> Lateness:
    """How late a GPS speed of a rate shows.

    Parameters
    ----------
    rate_hz : float
        Of the receiver. [Hz]

    Returns
    -------
    Lateness
        Its own latency and what the period adds.

    Examples
    --------
    >>> round(gps_lateness(10.0).late_s, 3)
    0.205
    """
    return Lateness(GPS.late_s + GPS_PERIOD_SHARE / max(rate_hz, 1.0), GPS.sigma_s)


def gps_together(period_s: float) -> float:
    """How many of its neighbours one error of a lone GPS speed stands for.

    Parameters
    ----------
    period_s : float
        Of the receiver, > 0. [s]

    Returns
    -------
    float
        1 where values come so rarely that their errors are free. [-]

    Examples
    --------
    >>> round(gps_together(0.1), 2), round(gps_together(1.0), 2)
    (2.16, 1.0)
    """
    alike = math.exp(-period_s / GPS_TOGETHER_S)
    return (1.0 + alike) / (1.0 - alike)
