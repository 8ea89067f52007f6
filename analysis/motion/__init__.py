"""How the car moved: ground speed, distance, splits.

The line: `ground_speed` (which sensors) calls `fusion` (the fit) on `factors` (a row an evidence), `solver` and
`band` (its equations); `posterior` is what it leaves. `distance` takes rollout and slip into it, `timed` reads the
strip's marks, `run_window` says when the run was and how it ended.
GPS: `receiver_filter`, `unfelt_smear`, `gps_stray`, `frozen_speed`, `repeated_speed`, `driveline_beside`.
Accelerometer: `accelerometer`, `smeared_start`, `felt_alike`.
Wheels: `counted_wheels`, `lifted_wheels`, `spun_wheel`, `spun_on`, `tire_slip`, `slip_at_shifts`.
No speed logged: `speed_through_gears`. What no sensor shows: `open_errors`.
Timing slip: `slip_used`, `slip_against_log`, `slip_alone`.
"""
