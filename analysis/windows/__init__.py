"""Which stretches of a log are runs, and when each began.

`window` is the line: `movement` (what moves), `trips`, `launch_moment` (with `two_step`), `other_events` (burnouts,
false starts, the return road), `log_ends`.
"""
