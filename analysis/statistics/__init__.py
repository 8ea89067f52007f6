"""Numbers that every stage shares; none knows a car.

Signals: `filters`, `correlation`, `intervals`, `thinning`. Fits: `fits`, `trend`, `hidden_path`. Few runs: `groups`.
"""
