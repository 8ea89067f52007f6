"""What pages are given: of a `run`, a `car`, its `parts`, `groups`, what was `put_right`, what lies in the `trash`."""
