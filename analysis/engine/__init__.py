"""What the engine did against bounds: boost, band, limits.

`kept_run` holds a run's bounds, on what is kept of it (`kept_bytes`): `boost`, `band`, `limits`, with `excursions`
(stretches outside) and `run_times` (when and where). Limits: `channels_meant` (a word to channels), `limits_given`
(what is wrong with one as given), `sensor_ends`. `exhaust`: the spread of exhaust temperatures.
"""
