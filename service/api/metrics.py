"""What the process counts, in the text form that Prometheus reads; no inputs are among it."""

import functools
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Final

import numpy as np
from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    ProcessCollector,
    disable_created_metrics,
    generate_latest,
)
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_1_0_0

from service.planning import rows
from service.planning.cautions import PROBLEMS

METRICS_MEDIA_TYPE: Final = CONTENT_TYPE_PLAIN_1_0_0
UNMATCHED: Final = "unmatched"
UNCONFIRMED: Final = "forward_check_failed"
METHODS: Final = ("GET", "HEAD", "POST", "OPTIONS")
SECONDS: Final = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 20.0, 60.0)

disable_created_metrics()  # type: ignore[no-untyped-call]
REGISTRY: Final = CollectorRegistry()
ProcessCollector(registry=REGISTRY)

REQUESTS: Final = Counter(
    "velamen_requests_total",
    "Requests by route template, method and status.",
    ("route", "method", "status"),
    registry=REGISTRY,
)
REQUEST_SECONDS: Final = Histogram(
    "velamen_request_seconds",
    "Time from the headers of a request to the end of its answer.",
    ("route",),
    buckets=SECONDS,
    registry=REGISTRY,
)
ROWS: Final = Counter(
    "velamen_rows_total",
    "Rows that were planned, by what they came to.",
    ("status",),
    registry=REGISTRY,
)
REJECTIONS: Final = Counter(
    "velamen_row_rejections_total",
    "Rows without an answer, by the code of their first problem.",
    ("code",),
    registry=REGISTRY,
)
FAILED_CHECKS: Final = Counter(
    "velamen_failed_checks_total",
    "Results that were held back because computing them forward did not confirm them.",
    ("of",),
    registry=REGISTRY,
)
for _kind in ("row", "answer"):
    FAILED_CHECKS.labels(_kind)
KERNEL_SECONDS: Final = Counter(
    "velamen_kernel_seconds_total",
    "Time in the kernels that plan rows, summed over threads.",
    registry=REGISTRY,
)
IN_WORK: Final = Gauge("velamen_requests_in_work", "Requests in work.", registry=REGISTRY)
BATCHES_IN_WORK: Final = Gauge("velamen_batches_in_work", "Batches in work.", registry=REGISTRY)
BATCHES_WAITING: Final = Gauge(
    "velamen_batches_waiting", "Batches that wait for their turn.", registry=REGISTRY
)


@functools.cache
def _counters_of(route: str, method: str, status: int) -> tuple[Counter, Histogram]:
    return REQUESTS.labels(route, method, str(status)), REQUEST_SECONDS.labels(route)


def count_request(route: str, method: str, status: int, seconds: float) -> None:
    """Count one request that has been answered."""
    known = method if method in METHODS else "other"
    requests, times = _counters_of(route, known, status)
    requests.inc()
    times.observe(seconds)


_own: Final = threading.local()


@contextmanager
def uncounted() -> Iterator[None]:
    """Leave out what this thread plans: nobody asked for it."""
    _own.uncounted = True
    try:
        yield
    finally:
        _own.uncounted = False


def count_rows(results: np.ndarray, seconds: float) -> None:
    """Count rows that were planned, what they came to and what planning them took."""
    if getattr(_own, "uncounted", False):
        return
    KERNEL_SECONDS.inc(seconds)
    for status, count in zip(*_counted(results["status"]), strict=True):
        _rows_of(status).inc(count)
    for problem, count in zip(*_counted(results["problem"]), strict=True):
        if problem:
            code = PROBLEMS[problem].code
            REJECTIONS.labels(code).inc(count)
            if code == UNCONFIRMED:
                FAILED_CHECKS.labels("row").inc(count)


def _counted(numbers: np.ndarray) -> tuple[list[int], list[int]]:
    """Return the different numbers and how often each stands; most often there is one row."""
    if len(numbers) == 1:
        return [int(numbers[0])], [1]
    found, counts = np.unique(numbers, return_counts=True)
    return found.tolist(), counts.tolist()


@functools.cache
def _rows_of(status: int) -> Counter:
    return ROWS.labels(rows.STATUSES[status])


def count_unreadable_rows(codes: Iterable[str]) -> None:
    """Count rows that could not be read, by the code of the first fault of each."""
    for code in codes:
        ROWS.labels("rejected").inc()
        REJECTIONS.labels(code).inc()


def count_failed_check(of: str) -> None:
    """Count an answer, or a row, that was held back."""
    FAILED_CHECKS.labels(of).inc()


def metrics_text() -> bytes:
    """Return everything that is counted."""
    return bytes(generate_latest(REGISTRY))
