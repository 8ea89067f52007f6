"""The time of a table: which column, which unit, and a clock that rises evenly.

`timebase` finds it (`candidates`, `timestamps`, `clock_in_columns`, `summed_steps`, `stamps_now_and_then`),
`day_beside` the day of a clock,
`unit_of_time` its unit, by what engine and vehicle can do (`what_moves`, `engine_and_time`, `vehicle_and_time`).
`mending` makes it sound, on `stamps`: `newest_last`, `equal_stamps`, `flushed_stamps`, `strewn_rows`,
`clock_jumps`, `parted_recordings`.
"""
