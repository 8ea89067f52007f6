"""What pages are given: of a `run`, a `car`, its `parts`, `groups` of runs, and what lies in the `trash`."""
