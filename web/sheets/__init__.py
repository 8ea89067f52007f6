"""A review laid out, for page and print alike: `whole` calls `track` and `engine`, on `sheet`.

In one line: `run_line`; an event's runs as a table: `season`.
"""
