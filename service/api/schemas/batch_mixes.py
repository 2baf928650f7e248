"""Few cans for many rows: what is asked of shared mixes, and the mixes."""

from typing import Annotated, Literal

from pydantic import Field

from service.api.schemas.answer import Conflict, Step
from service.api.schemas.dilutions import Addition, Saturation
from service.api.schemas.fields import Answer, Exact, Number3, Number4, Quantity, Request


class MixWishes(Request):
    """
    How far rows may share a can.

    Rows share what is one solution at several strengths: the same products in the same
    proportions, water, pH target, acid and application. No plant gets more than it bears on its
    own, and as little less as possible. With a tolerance the fewest cans that keep it are mixed.
    """

    max_count: Annotated[int, Quantity(ge=1, le=100, whole=True)] | None = Field(
        default=None,
        description="Most cans in all. Rows that cannot share a can need one each; then the status"
        " of the summary is `infeasible` and the fewest possible are given.",
        examples=[4],
    )
    tolerance_percent: Annotated[float, Quantity(ge=0, le=100)] | None = Field(
        default=None,
        description="Most by which a plant may get less than it bears, before amounts are rounded"
        " to the steps of the instruments; 10 if neither this nor `max_count` is given. Where"
        " `max_count` forbids it, `max_count` is kept and the summary names the rows.",
        examples=[10],
    )
    reserve_percent: Annotated[float, Quantity(ge=0, le=100)] | None = Field(
        default=None,
        description="How much more is mixed than the rows take; 5 if absent.",
        examples=[5],
    )
    can_volumes_l: list[Annotated[float, Quantity(ge=0.05, le=100_000)]] | None = Field(
        default=None,
        description="Volumes of the cans on hand, each filled as often as needed; absent, every mix"
        " is made at once.",
        min_length=1,
        max_length=20,
        examples=[[10, 4]],
    )


class MixPrediction(Answer):
    """What a can will be, at the amounts as they are measured."""

    predicted_ec_ms_per_cm: Number3 | None = Field(description="What a meter will show, 25 °C.")
    predicted_ph: Number3 | None = Field(description="pH when it is mixed.")
    predicted_ph_open: Number3 | None = Field(description="pH once it stood open to the air.")
    nitrogen_mg_per_l: Number4 | None = Field(description="Total nitrogen of the can.")
    saturation: list[Saturation] = Field(description="Solids that could come out.")


class MixFillingAmounts(Answer):
    """What goes into one can of a mix."""

    volume_l: Number4 = Field(description="Volume to which the can is filled.")
    times: int = Field(description="How often it is filled like this.", ge=1)
    additions: list[Addition] = Field(
        description="What is weighed or measured into one filling, in order; empty when it is"
        " poured from a stronger mix."
    )
    from_mix_volume_l: Number4 | None = Field(
        description="Litres of the stronger mix in one filling; null when it is weighed in."
    )
    acid_mass_g: Number4 | None = Field(
        description="Grams of acid or base to add to one filling, beside what a stronger mix"
        " brings along."
    )
    acid_volume_ml: Number4 | None = Field(
        description="The same in millilitres from the bottle; null for what is weighed."
    )
    acid_dilution_factor: Number4 = Field(
        description="How far the bottle is diluted first so that the syringe can measure it."
    )


class MixSteps(Answer):
    """What to do at the bench."""

    steps: list[Step] = Field(description="How one filling is made, in order.")


class MixFilling(MixSteps, MixPrediction, MixFillingAmounts):
    """One can of a mix, and how often it is filled like this."""


class MixHead(Answer):
    """Whom a mix serves and how it is made."""

    mix: int = Field(description="Number of the mix, in the order of mixing.", ge=1)
    row_indices: list[int] = Field(description="Rows that it serves: places in `rows`, from 0.")
    row_ids: list[str | None] = Field(description="The caller's names of the same rows.")
    water: str = Field(description="Key of the water, or `own analysis`.")
    application: str = Field(description="What it is for.")
    target_ph: Exact | None = Field(description="pH that was asked for.")
    acid: str | None = Field(description="Key of the acid or base.")
    acid_percent: Exact | None = Field(description="Strength of its bottle, by weight.")
    made_by: Literal["weighing", "dilution"] = Field(
        description="Weighed in, or poured from a stronger mix."
    )
    from_mix: int | None = Field(description="Number of the stronger mix; null when weighed in.")
    explanation: str = Field(description="Why it is made like this, for people.")
    needed_volume_l: Number4 = Field(description="What its rows take.")
    volume_l: Number4 = Field(
        description="What is made: with the reserve, what weaker mixes take, and rounded up to"
        " marks of a can."
    )
    drawn_volume_l: Number4 = Field(description="What weaker mixes take of it.")
    product_mass_g: Number4 | None = Field(
        description="Grams of the one product in all fillings; null for a liquid, several products"
        " or a mix that is poured."
    )
    product_volume_ml: Number4 | None = Field(description="The same in millilitres for a liquid.")
    acid_mass_g: Number4 | None = Field(description="Grams of acid or base in all fillings.")
    acid_volume_ml: Number4 | None = Field(
        description="The same in millilitres from the bottle; null for what is weighed."
    )
    below_own_percent: Number3 = Field(
        description="Most by which one of its rows gets less than it bears."
    )


class MixTail(Answer):
    """The cans of a mix, and what to know of them."""

    fillings: list[MixFilling] = Field(
        description="Its cans, the larger ones first; the prediction of the mix is that of the"
        " first."
    )
    cautions: list[str] = Field(description="Codes; the texts stand once at the top.")


class Mix(MixTail, MixPrediction, MixHead):
    """One mix that several rows share."""


class MixRows(Answer):
    """Rows by place and name; at most a thousand are named."""

    row_indices: list[int] = Field(description="Places in `rows`, from 0.")
    row_ids: list[str | None] = Field(description="The caller's names of the same rows.")


class LeftOutRows(MixRows):
    """Rows that are in no mix, and why."""

    reason: Literal["rejected", "infeasible", "plain_water", "no_common_can", "too_many_kinds"] = (
        Field(description="Why they are in no mix.")
    )
    message: str = Field(description="The same for people.")
    count: int = Field(description="How many they are.", ge=1)


class MixSummary(Answer):
    """All mixes together."""

    status: Literal["ok", "infeasible"] = Field(
        description="`infeasible` when the wishes cannot all be kept: `conflicts` says which, and"
        " the mixes are the nearest to them."
    )
    mix_count: int = Field(description="Cans that are mixed.", ge=0)
    kind_count: int = Field(description="Kinds of can that cannot be one.", ge=0)
    fewest_count: int | None = Field(
        description="Cans that the tolerance needs; null without a tolerance."
    )
    max_count: int | None = Field(description="Most cans, as understood.")
    tolerance_percent: Exact | None = Field(description="Tolerance, as understood.")
    reserve_percent: Exact = Field(description="Reserve, as understood.")
    can_volumes_l: list[Exact] = Field(description="Cans on hand, as understood.")
    needed_volume_l: Number4 = Field(description="What all rows in mixes take.")
    volume_l: Number4 = Field(description="What is there to pour in all.")
    mean_below_own_percent: Number3 | None = Field(
        description="By how much less than they bear the rows get, weighted by volume."
    )
    below_own_percent: Number3 | None = Field(description="The most that any row gets less.")
    conflicts: list[Conflict] = Field(description="Wishes that collide; empty unless infeasible.")
    outside_tolerance: MixRows = Field(
        description="Rows whose mix is weaker than the tolerance lets it be."
    )
    left_out: list[LeftOutRows] = Field(description="Rows that are in no mix, by reason.")
