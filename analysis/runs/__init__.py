"""Two runs and more held against each other.

One run: `verdict`, `faults`, `summary`, `digest` (`kept_digest`), `engine_use`, `used_up`.
Run against run: `compared_run` makes it ready, `fair_pairs` says whether it is fair, `compare` where time went by,
`cost` what each part cost at the finish, `companions` and `why` what happened there.
Group against group: `change`, of `change_in_power`, `change_in_shifts`, `change_in_dwell`, on `cells` and
`two_groups`; left out or left open: `weak_engines`, `gear_winds`, `same_air`, `own_air`, `geared_unlike`,
`charge_changed`, `change_limits`.
Same engine: `same_engine`, `same_engine_found`, `engine_line`. Sheets: `season_sheet`, `weekend`. JSON: `as_json`.
"""
