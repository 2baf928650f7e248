"""The air that the plants stand in."""

from typing import Annotated

from pydantic import Field

from service.api.schemas.fields import Quantity, Request


class Air(Request):
    """Humidity and temperature now, and on average since the last watering."""

    humidity_percent: Annotated[float, Quantity(ge=0, le=100)] = Field(
        description="Relative humidity of the air around the plants.", examples=[55]
    )
    temperature_celsius: Annotated[float, Quantity(ge=0, le=50)] | None = Field(
        default=None, description="Temperature of the air.", examples=[22, "72 °F"]
    )
    average_humidity_percent: Annotated[float, Quantity(ge=0, le=100)] | None = Field(
        default=None,
        description="Humidity that stands for the whole interval. An average is an average of the"
        " vapour pressure deficit, so give it together with `average_temperature_celsius`.",
        examples=[50],
    )
    average_temperature_celsius: Annotated[float, Quantity(ge=0, le=50)] | None = Field(
        default=None, description="Temperature that belongs to the average humidity.", examples=[21]
    )
