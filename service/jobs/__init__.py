"""Work that waits and is done beside the questions.

`job_work` takes it, `upload_jobs` and `passes` do it, `job_answers` tell of it.
"""
