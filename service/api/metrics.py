"""What the process counts, in the text form that Prometheus reads; no inputs are among it."""

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

from service.planning import rows
from service.planning.cautions import PROBLEMS

METRICS_MEDIA_TYPE: Final = "text/plain; version=1.0.0; charset=utf-8"
UNMATCHED: Final = "unmatched"
METHODS: Final = ("GET", "HEAD", "POST", "OPTIONS")
SECONDS: Final = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 20.0, 60.0)

disable_created_metrics()
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
    "Rows without an answer, by the code of their problem.",
    ("code",),
    registry=REGISTRY,
)
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


def count_request(route: str, method: str, status: int, seconds: float) -> None:
    """Count one request that has been answered."""
    known = method if method in METHODS else "other"
    REQUESTS.labels(route, known, str(status)).inc()
    REQUEST_SECONDS.labels(route).observe(seconds)


def count_rows(results: np.ndarray, seconds: float) -> None:
    """Count rows that were planned, what they came to and what planning them took."""
    KERNEL_SECONDS.inc(seconds)
    for status, count in enumerate(np.bincount(results["status"], minlength=len(rows.STATUSES))):
        if count:
            ROWS.labels(rows.STATUSES[status]).inc(int(count))
    for problem, count in enumerate(np.bincount(results["problem"])):
        if problem and count:
            REJECTIONS.labels(PROBLEMS[problem].code).inc(int(count))


def metrics_text() -> bytes:
    """Return everything that is counted."""
    return bytes(generate_latest(REGISTRY))
