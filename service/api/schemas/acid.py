"""The acid, or base, that sets the pH."""

from typing import Annotated, Literal

from pydantic import Field

from service.api.schemas.fields import Quantity, Request

AcidKind = Literal[
    "nitric",
    "phosphoric",
    "sulfuric",
    "citric",
    "potassium_hydroxide",
    "potassium_bicarbonate",
    "potassium_carbonate",
]


class Acid(Request):
    """What is in the bottle."""

    kind: AcidKind = Field(description="Key of `/v1/acids`.", examples=["nitric"])
    percent: Annotated[float, Quantity(gt=0, le=100)] | None = Field(
        default=None,
        description="Strength of the bottle, mass of acid in mass of liquid. Absent, the usual"
        " strength of `/v1/acids` is taken and said.",
        examples=[38],
    )
