"""What is known of sensors beforehand, and a run's channels prepared once for all stages.

`priors`: the one table of delays, lags and scales, each with its source. `evidence`: the run's channels, prepared.
Engine speed: `engine_speed`, `engine_speed_copy`, `beats` (its pick-up's lag), `despiking`.
Wheels: `wheels`, `teeth`. Others: `boost_trace`, `cut_signals`, `forward_axis`, `new_values`, `standing`.
"""
