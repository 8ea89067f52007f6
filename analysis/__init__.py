"""Pure computation: from the bytes of a data-logger file to the review of a run.

`review` is the line through the rooms. Beside it: `report` (a run's channels as one table), `held_again` (a stored
review against other bounds), `versions`. For all rooms: `quantities` and `unit_factors` (SI inside), `at_once`,
`kept_memory`.
"""
