"""OpenTelemetry sends numbers when it is configured, and nothing that callers sent."""

import pytest

from service.api import telemetry
from service.api.telemetry import telemetry_of
from service.main import create_app
from service.settings import Settings

ENDPOINT = {"OTEL_EXPORTER_OTLP_ENDPOINT": "http://127.0.0.1:4318"}


def test_nothing_is_sent_unless_an_endpoint_is_named() -> None:
    assert not any(telemetry_of({}).values())
    assert not create_app(Settings())._native_telemetry.enabled()


def test_numbers_alone_are_sent_to_an_endpoint(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(telemetry, "is_installed", lambda: True)
    assert telemetry_of(ENDPOINT) == {
        "tracing": False,
        "logs": False,
        "metrics": True,
        "auto_configure": True,
    }


def test_missing_packages_are_said_and_stop_nothing(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(telemetry, "is_installed", lambda: False)
    assert not any(telemetry_of(ENDPOINT).values())
    assert "velamen[telemetry]" in caplog.text
