"""The pages, out of what `web/shown` holds: each on `page`.

`start`, `run`, `car`, `parts`, `foretold`, `many_runs` (overlay, change, costs, event).
"""
