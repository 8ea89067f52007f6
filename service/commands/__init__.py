"""What the command line does; its words and options are in `service/cli.py`.

One run: `printing`, `printing_doubts`. Lists of runs: `many_runs`, `printing_runs`, `what_if`, `forecast_check`,
`bench_and_map`. A library: `demo`, `loading`, `list_items`, `mending`, `reviewing_again`, `keeping`, `restoring`.
"""
