"""Shifts: found, timed, named.

`find` is the line: falls of engine speed (`fall`), counted by `signalled_changes`; told from `interruptions` (a lift,
the limiter); `shake` is told beside. When it starts and ends: `edges`, with `kink`, `left_gear`, `flag_timing`,
`handover` (packs), `converter_edges`, `unseen` (a gap in engine speed). What it did: `figures`, `dip` (how slow the
pick-up may be), `kinds`; arithmetic of a step between gears: `step`.
"""
