"""Runs of our own invention: the demo weekend, and the proving ground of runs with known truth.

A drive: `story` (plan and record), `acts` (burnout, staging), `driver`, `shifting`, `strip`; what moves the car:
`drag_car`, `car_models`, `engine_model`, `engine_bay`, `car_specs`.
Devices: `recording`, `loggers`, `sensor_sets`, `sensor_ranges`, `dialects`.
Cases: `proving`, `case_plans`, `trouble_plans`, `troubles`, `truth`, `owner` (facts as an owner knows them).
The weekend: `make_weekend`, `weekend_story`.
"""
