"""What the caller measures with; amounts are given in steps that it can measure."""

from typing import Annotated

from pydantic import Field

from service.api.schemas.fields import Quantity, Request


class Instruments(Request):
    """
    The scale, the syringe and the can.

    Whatever is absent is taken as an ordinary household has it, and said under assumptions: a
    scale that shows 0.1 g and weighs truly from 0.5 g, a syringe marked every 0.1 mL, a can of
    10 L.
    """

    balance_resolution_g: Annotated[float, Quantity(ge=0.0001, le=100)] | None = Field(
        default=None, description="Smallest step that the scale shows; 0.1 g.", examples=[0.1]
    )
    balance_minimum_g: Annotated[float, Quantity(ge=0, le=1_000)] | None = Field(
        default=None,
        description="Smallest mass that the scale weighs truly; five steps of its display.",
        examples=[0.5],
    )
    syringe_resolution_ml: Annotated[float, Quantity(ge=0.0001, le=100)] | None = Field(
        default=None, description="Smallest mark of the syringe; 0.1 mL.", examples=[0.1]
    )
    largest_can_l: Annotated[float, Quantity(ge=0.05, le=100_000)] | None = Field(
        default=None,
        description="Largest volume that is mixed at once; a larger dose comes with equal cans in"
        " `split`, a row of a batch with a caution. 10 L for pre-dilutions, no limit for the dose"
        " itself.",
        examples=[10],
    )
