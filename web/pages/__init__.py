"""The pages, out of what `web/shown` holds: each on `page`.

`start`, `run` (its first screen: `top_of_run`), `car`, `parts`, `foretold`, `many_runs` (overlay, change, costs,
event).
"""
