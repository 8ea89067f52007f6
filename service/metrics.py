"""What the service counts of itself, in the text form that Prometheus reads.

Each application has a registry of its own, so that two in one process do not count into each other. What stands still
between questions (queue, room, bytes kept) is read when it is asked for.

Public: `Metrics`, `METRICS_TYPE`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager

from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from passband.analysis.channels.log import LogError
from passband.service.bytes_kept import Kept
from passband.service.given.facts import GivenError
from passband.service.http.answered import Answered
from passband.service.http.errors import Problem
from passband.service.jobs.job_work import WorkedJob
from passband.service.reviewing.progress import Cancelled
from passband.service.reviewing.workers import Load, ServiceEnding, TaskLost, Worked
from passband.service.store.faults import QuotaUsedUp

METRICS_TYPE = CONTENT_TYPE_LATEST
ANSWER_BOUNDS_S = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 120.0)
"""From a page out of the cache to the longest review that is let go on. [s]"""
REVIEW_BOUNDS_S = (0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 120.0)
"""A usual pair takes some 0.3 s. [s]"""
UPLOADS = ("kept", "here_already", "refused", "cancelled", "failed")
"""What becomes of an upload: ``refused`` is the sender's to mend, ``failed`` is ours."""
REFUSALS = (LogError, GivenError, QuotaUsedUp, TaskLost)


class Metrics:
    """The counters of one application.

    Parameters
    ----------
    load : callable
        How busy the processes for reviews are now.
    kept : callable
        How much each library keeps now.
    """

    def __init__(self, *, load: Callable[[], Load], kept: Callable[[], Sequence[Kept]]) -> None:
        self._registry = CollectorRegistry()
        asked = ("method", "route", "status")
        self._requests = Counter("passband_requests", "Questions answered.", asked, registry=self._registry)
        self._seconds = Histogram(
            "passband_request_seconds", "From a question to the last byte of its answer.", asked[:2],
            buckets=ANSWER_BOUNDS_S, registry=self._registry,
        )  # fmt: skip
        self._uploads = Counter(
            "passband_uploads", "Uploads, by what became of them.", ("outcome",), registry=self._registry
        )
        self._work = Counter(
            "passband_reviews", "Tasks of the processes for reviews, by what came of them.", ("kind", "outcome"),
            registry=self._registry,
        )  # fmt: skip
        self._work_seconds = Histogram(
            "passband_review_seconds", "Work on a task.", ("kind",), buckets=REVIEW_BOUNDS_S, registry=self._registry
        )
        self._waited = Histogram(
            "passband_review_wait_seconds", "From a task to its begin.", (), buckets=REVIEW_BOUNDS_S,
            registry=self._registry,
        )  # fmt: skip
        self._jobs = Counter(
            "passband_jobs", "Turns at jobs, by what came of them.", ("kind", "outcome"), registry=self._registry
        )
        self._job_seconds = Histogram(
            "passband_job_seconds", "A turn at a job.", ("kind",), buckets=REVIEW_BOUNDS_S, registry=self._registry
        )
        for outcome in UPLOADS:
            self._uploads.labels(outcome)
        self._registry.register(_Now(load, kept))

    def answered(self, done: Answered) -> None:
        """Count a question."""
        self._requests.labels(done.method, done.route, str(done.status)).inc()
        self._seconds.labels(done.method, done.route).observe(done.seconds)

    def worked(self, done: Worked) -> None:
        """Count a task."""
        self._work.labels(done.kind, done.outcome).inc()
        self._work_seconds.labels(done.kind).observe(done.seconds)
        self._waited.observe(done.waited_s)

    def worked_job(self, done: WorkedJob) -> None:
        """Count a turn at a job."""
        self._jobs.labels(done.kind, done.outcome).inc()
        self._job_seconds.labels(done.kind).observe(done.seconds)

    def upload_taken(self, *, new: bool) -> None:
        """Count an upload that was answered with its runs."""
        self._uploads.labels("kept" if new else "here_already").inc()

    @contextmanager
    def refusals(self) -> Iterator[None]:
        """Count an upload that comes to no good end within."""
        with ExitStack() as ended:
            ended.push(self._came_to_no_good)
            yield

    def _came_to_no_good(self, _kind: object, error: BaseException | None, _trace: object) -> None:
        if error is not None:
            self._uploads.labels(_outcome(error)).inc()

    def text(self) -> bytes:
        """All of it, as Prometheus reads it."""
        return generate_latest(self._registry)


def _outcome(error: BaseException) -> str:
    if isinstance(error, Cancelled):
        return "cancelled"
    if isinstance(error, ServiceEnding) or (isinstance(error, Problem) and error.status >= 500):
        return "failed"
    return "refused" if isinstance(error, (Problem, *REFUSALS)) else "failed"


class _Now(Collector):
    """What is read anew each time it is asked for."""

    def __init__(self, load: Callable[[], Load], kept: Callable[[], Sequence[Kept]]) -> None:
        self._load, self._kept = load, kept

    def describe(self) -> list[Metric]:
        """Nothing ahead of time: naming them must not open a database."""
        return []

    def collect(self) -> Iterator[Metric]:
        """The gauges."""
        load = self._load()
        yield GaugeMetricFamily("passband_queue_length", "Tasks that wait for a process.", load.waiting)
        yield GaugeMetricFamily("passband_workers_busy", "Processes for reviews that work on a task.", load.busy)
        yield GaugeMetricFamily("passband_workers", "Processes for reviews; 0 where the server reviews.", load.workers)
        stored = GaugeMetricFamily("passband_stored_bytes", "Bytes of logs in each open library.", labels=["team"])
        quota = GaugeMetricFamily("passband_quota_bytes", "Most of them; none where unbounded.", labels=["team"])
        jobs = GaugeMetricFamily("passband_jobs_open", "Jobs yet to be done.", labels=["team", "state"])
        for one in self._kept():
            if one.jobs is not None:
                jobs.add_metric([one.team, "waiting"], one.jobs.waiting)
                jobs.add_metric([one.team, "working"], one.jobs.working)
            if one.bytes is not None:
                stored.add_metric([one.team], one.bytes)
            if one.quota_bytes is not None:
                quota.add_metric([one.team], one.quota_bytes)
        yield from (stored, quota, jobs)
