"""Dates: whole days, written year-month-day."""

from datetime import date
from typing import Annotated, Final

from pydantic import BeforeValidator, WithJsonSchema

from service.api.received import repeatable
from service.api.schemas.fields import fault

EARLIEST: Final = date(1900, 1, 1)
LATEST: Final = date(2199, 12, 31)

_LEAP_YEARS: Final = "((19|20|21)(0[48]|[2468][048]|[13579][26])|2000)"
DATE_PATTERN: Final = (
    r"^((19|20|21)[0-9]{2}-((0[13578]|1[02])-(0[1-9]|[12][0-9]|3[01])"
    r"|(0[469]|11)-(0[1-9]|[12][0-9]|30)|02-(0[1-9]|1[0-9]|2[0-8]))"
    rf"|{_LEAP_YEARS}-02-29)$"
)
"""Every date from 1900 to 2199 and nothing else, so that the schema allows what is read."""


def iso_date(received: object) -> date:
    """Return the date of a text; anything else is refused, times and numbers included."""
    if isinstance(received, date):
        return received
    if isinstance(received, str) and len(received) == 10 and received.isascii():
        try:
            day = date.fromisoformat(received)
        except ValueError:
            day = None
        if day is not None and EARLIEST <= day <= LATEST and day.isoformat() == received:
            return day
    detail = "A date is a text such as `2027-03-01`: year, month and day, from 1900 to 2199."
    raise fault("malformed", detail, received=repeatable(received), allowed="YYYY-MM-DD")


IsoDate = Annotated[
    date,
    BeforeValidator(iso_date),
    WithJsonSchema(
        {"type": "string", "pattern": DATE_PATTERN, "maxLength": 10, "examples": ["2027-03-01"]}
    ),
]
"""A date of ISO 8601, without a time."""
