"""An upload that waits as a job: reviewed from the store, then kept as one that was waited for, or refused likewise.

Public: `work_upload`, `refuse_upload`.
"""

from __future__ import annotations

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.engines_held import hold_engines
from passband.service.given.details import UploadDetails
from passband.service.http.errors import Problem
from passband.service.jobs.passes import MOST_LOST
from passband.service.library import Library
from passband.service.reviewing.progress import Progress
from passband.service.reviewing.upload_review import UploadReviewer
from passband.service.store.jobs import Job
from passband.service.store.trash import Reason, TrashedFile
from passband.service.uploads.received import ReceivedFile


def work_upload(library: Library, job: Job, progress: Progress) -> None:
    """Review an upload's logs out of the store and keep its runs; the job ends in the same transaction."""
    if job.lost >= MOST_LOST:
        raise Problem(422, "Not reviewable", f"The service ended {MOST_LOST} times over this upload; it was given up.")
    of = job.task["car"]
    car = library.records.car(*of) if of else None
    with library.incoming() as folder:
        reviewer = UploadReviewer(library.workers, library.folder.originals)
        paths = reviewer.copy_out(job.logs, folder, run_id=job.id)
        files = [
            ReceivedFile(path, name, log.bytes, log.sha256) for (path, name), log in zip(paths, job.logs, strict=True)
        ]
        details = UploadDetails(**job.task["details"])
        taken = library.take_in(files, car=car, details=details, progress=progress, job=job)
    if taken.new:
        hold_engines(library, taken.runs)
    else:  # sent by another way too, and kept meanwhile
        runs = [run.id for run in taken.runs]
        library.records.jobs.finish(job, {"runs": runs, "findings": taken.findings, "new": False})


def refuse_upload(library: Library, job: Job, problem: JsonObject) -> None:
    """Say why an upload has no runs; its logs go to the trash, for who sent them may trust that they are here."""
    originals = library.folder.originals
    files = [TrashedFile(log.sha256, originals) for log in job.logs]
    names = ", ".join(log.name for log in job.logs)
    library.trash.put(Reason.REFUSED, f"{names}: {problem['detail']}", files=files)
    library.records.jobs.fail(job, {"problem": problem})
    library.writes.let_go_of(originals, [log.sha256 for log in job.logs])
