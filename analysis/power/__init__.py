"""Power from the car's motion, with its plus-minus.

The line: `measure` calls `facts` (of the car), `driveline_series` (one grid), `balance` (ground back to flywheel),
`averages`, `curve`, `correction` (standard air), `pistons`. `causes`: what each unknown makes of it.
Clutch: `may_slip`, `clutch_slip`, `clutch_heat`. Held against itself: `cross_checks`, `gear_agreement`,
`unlike_gears`.
What cannot be seen: `flywheel_unseen`, `gear_unseen`, `bent_motion`, `slip_on_top`, `slip_alone`.
"""
