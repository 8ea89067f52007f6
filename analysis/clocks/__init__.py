"""The further logs of a run on the ECU log's clock.

In order: `gather` (which logs are of the run) calls `match`, which asks each kind of evidence: `engine_copy` (a
second copy of engine speed), `speed_match` (whatever turns with the wheels), `cut_match` with `thrust_falls` (torque
cuts).
`opinions` brings them together. `clock_step`: a clock set amid the recording. `engine_scale`: engine speeds that
differ.
"""
