"""What another shift point, gear, mass, day or engine curve would do: a model made of one run, driven twice.

`foretell` is the line: `made_of_run` makes the `model` (`rows_of_run`, `drive_turning`, `torque`, `made_shifts`,
`converter`),
`changes` changes it (`further_shift`), `drive` drives it. Said beside it: `left_open`, `said`.
Uses: `search`, `worth`, `back_test` (foretold against driven).
"""
