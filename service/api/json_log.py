"""The log: one JSON object a line. Of an exception it says the kind and the place, not the text."""

import json
import logging
import traceback
from datetime import UTC, datetime
from typing import Any, Final

LOG_CONFIGURATION: Final[dict[str, Any]] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": {"()": "service.api.json_log.JsonFormatter"}},
    "handlers": {
        "json": {
            "class": "logging.StreamHandler",
            "formatter": "json",
            "stream": "ext://sys.stderr",
        }
    },
    "root": {"handlers": ["json"], "level": "WARNING"},
    "loggers": {
        "uvicorn": {"handlers": ["json"], "level": "INFO", "propagate": False},
        "service": {"handlers": ["json"], "level": "INFO", "propagate": False},
    },
}

_JSON: Final = json.JSONEncoder(ensure_ascii=True, default=str)


class JsonFormatter(logging.Formatter):
    """
    Write a record as one line of JSON.

    The text of an exception may repeat what a caller sent; its kind and the lines of code that it
    went through do not.
    """

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        moment = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        line: dict[str, Any] = {
            "time": moment.replace("+00:00", "Z"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        fields = getattr(record, "fields", None)
        if isinstance(fields, dict):
            line |= fields
        if record.exc_info and record.exc_info[0] is not None:
            frames = traceback.extract_tb(record.exc_info[2])
            line["exception"] = record.exc_info[0].__name__
            line["where"] = [f"{each.filename}:{each.lineno} {each.name}" for each in frames]
        return _JSON.encode(line)
