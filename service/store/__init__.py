"""What is kept: rows (`records`) and files (`files`).

Opened by `opening`, in a `folder`, and looked at: `soundness`, `settling`, `sweeping`, `claiming`, `room`, `faults`,
`away`.
Rows: `row_records` for both keepers, `rows`, `schema`; SQLite: `sqlite_records`, `ledger`, `released_forms`;
PostgreSQL: `postgres`, `postgres_records`, `postgres_form`, `postgres_text`, `sending_rows`; from form to form:
`migrating`.
Beside the rows: `record_files`, `upload_records`, `digest_rows`, `kept_review`, `kept_runs`, `new_review_rows`,
`run_order` (runs as they were made).
Files: `kept_files` (folder or object store), `packing`, `object_store`, `object_blobs`,
`read_lately`.
`trash`, `archives` (backups). Work kept until done: `jobs`, `job_rows`. Taken one after another: `turns`.
"""
