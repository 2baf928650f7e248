"""What is sent by OpenTelemetry, where an installation asks for it: numbers, never inputs."""

import importlib.util
import logging
import os
from collections.abc import Mapping
from typing import Final

from fastapi.telemetry import TelemetryConfig

logger = logging.getLogger("service.telemetry")

ENDPOINTS: Final = ("OTEL_EXPORTER_OTLP_ENDPOINT", "OTEL_EXPORTER_OTLP_METRICS_ENDPOINT")
PACKAGE: Final = "opentelemetry.exporter.otlp.proto.http"


def is_installed() -> bool:
    """Tell whether the optional packages are there."""
    try:
        return importlib.util.find_spec(PACKAGE) is not None
    except ModuleNotFoundError:
        return False


def telemetry_of(environment: Mapping[str, str] | None = None) -> TelemetryConfig:
    """
    Return what the framework may send.

    Durations and numbers of requests go out by route template, method and status, once an endpoint
    is named and the packages are installed. Spans and logs of the framework never do: they carry
    addresses with their queries, and the texts of exceptions.

    Parameters
    ----------
    environment : mapping of str to str, optional
        The variables; by default those of the process.
    """
    variables = os.environ if environment is None else environment
    wanted = any(variables.get(name) for name in ENDPOINTS)
    if wanted and not is_installed():
        logger.warning("OpenTelemetry is configured but not installed; install velamen[telemetry]")
    sent = wanted and is_installed()
    return {"tracing": False, "logs": False, "metrics": sent, "auto_configure": sent}
