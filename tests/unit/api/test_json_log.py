"""Lines of the log: JSON, and of an exception its kind and place only."""

import json
import logging
import sys

from service.api.json_log import JsonFormatter


class SpiltError(RuntimeError):
    pass


def line_of(message: str, *values: object, **more: object) -> dict[str, object]:
    record = logging.LogRecord("service.test", logging.INFO, __file__, 1, message, values, None)
    for name, value in more.items():
        setattr(record, name, value)
    text = JsonFormatter().format(record)
    assert "\n" not in text
    found = json.loads(text)
    assert isinstance(found, dict)
    return found


def test_record_is_one_line_of_json_with_its_fields() -> None:
    line = line_of("said %s\nand more", "ü", fields={"status": 200})
    assert line["message"] == "said ü\nand more"
    assert (line["level"], line["logger"], line["status"]) == ("info", "service.test", 200)
    assert str(line["time"]).endswith("Z")


def test_exception_tells_its_kind_and_place_and_not_its_text() -> None:
    try:
        raise SpiltError("what the caller sent")
    except SpiltError:
        line = line_of("failed", exc_info=sys.exc_info())
    assert line["exception"] == "SpiltError"
    assert "test_json_log.py" in str(line["where"])
    assert "caller" not in json.dumps(line)
