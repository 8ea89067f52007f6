"""The calibrated table of plus-minuses, and the one place where it is applied.

`calibrated` applies the `rules` of `table` to what `evidence` gathers. The run's own share: `parts`, `classes`,
`pairs_table`. Both tables are written by scripts, by nobody's hand.
"""
