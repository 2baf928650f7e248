"""When each kind of can was last given."""

from pydantic import Field

from service.api.schemas.dates import IsoDate
from service.api.schemas.fields import Request


class LastApplied(Request):
    """When each was last given."""

    feed: IsoDate | None = Field(default=None, description="Last feed.", examples=["2027-02-20"])
    supplement: IsoDate | None = Field(
        default=None, description="Last supplement.", examples=["2027-02-13"]
    )
    stimulant: IsoDate | None = Field(
        default=None, description="Last stimulant.", examples=["2026-11-01"]
    )
    flush: IsoDate | None = Field(default=None, description="Last flush.", examples=["2027-02-01"])
