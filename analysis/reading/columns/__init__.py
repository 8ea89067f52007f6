"""Columns of a recording: which channel each is, in which unit, and what must be asked.

Each by itself: `plausibility` (name, unit, values); all together: `joint_resolution`; what comes of it: `understood`.
What a user answered: `answers`; what is left to ask: `doubts`.
Units: `unit_by_values`, `unit_of_a_kind`, `refuted_units`, `speed_witnesses`, `scaled_names`, `engine_in_thousands`,
`warm_engine`. Pressures: `pressure_reference`, `absolute_pressures`, `turned_signs`.
Channels: `unnamed_channels`, `unnamed_engine_speed`, `cut_of_shifts`, `gear_from_zero`, `receiver_speed`,
`shaft_as_road_speed`.
"""
