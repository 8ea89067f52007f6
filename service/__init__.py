"""The service and the command line: what is around the analysis.

Start: `app`, `settings`, `serving`, `workers` (`workload`, `memory`, `threads`), `version`, `made_ready`, `demo`.
A request: `guard`, `headers`, `bodies` and `long_bodies`, `slow_clients`, `request_ids`, `questions`, `answers`,
`errors`, `answered`, `log_lines`, `metrics`, `readiness`; routes in `routes/`, who may in `access/`.
What is told of car, run, slip and air: `given`, `details`, `when_made`, `understanding`, `beside_understood`; what
another told meanwhile: `told_meanwhile`.
An upload: `uploads`, `files_coming`, `sent_files`, `upload_jobs`, `upload_review`, `reviewing`, `progress`,
`following`, `same_logs`, `sorting`, `answering` (questions about columns).
The library: `library`, `whole_writes`, `run_files`, `tables`, `cars`, `corrections`, `items`, `usuals`,
`kept_sheets`, `digests`, `remembered`, `turns`; `deleting`, `bringing_back`, `backup`, `restoring`, `recheck`; rows
and files in `store/`.
A review again: `what_changed`, `holding_again`, `reviewing_again`, `passes`, `job_work`.
Answers: `run_answers`, `side_by_side`, `car_between`, `traces`, `downloads`, `sheet_files`, `group_change`,
`back_tests`, `whatif_asked`, `search_asked`, `bench_laid`, `job_answers`, `assets`; their form: `openapi`,
`answer_schemas`, `item_schemas`, `job_schemas`.
Commands: `cli`, `printing`, `printing_doubts`, `printing_runs`, `run_list`, `many_runs`, `list_items`,
`listed_sheets`, `loading`, `what_if`, `forecast_check`, `bench_and_map`, `keeping`, `mending`.
"""

import os

# Set before polars is loaded, whose allocator reads it: the system may take back at any time what a log used, but need
# not clear it for the next log, which takes a fifteenth of the time of reading one of 45 MB.
os.environ.setdefault("_RJEM_MALLOC_CONF", "muzzy_decay_ms:-1")
