"""What every answer holds around its results."""

from typing import Any, Literal

from pydantic import Field

from service.api.schemas.fields import Answer, Exact, Unrounded

Status = Literal["ok", "infeasible", "rejected"]
Severity = Literal["info", "warning", "danger"]


class Assumption(Answer):
    """Something that was not said and was taken to be so."""

    code: str = Field(description="Stable code.", examples=["us_customary_assumed"])
    field: str | None = Field(description="Dotted name of the field, or null.")
    message: str = Field(description="What was assumed, for people.")


class Caution(Answer):
    """Something to know before this is poured."""

    code: str = Field(description="Stable code.", examples=["saturated_brushite"])
    severity: Severity = Field(description="`danger` can harm plants or people.")
    field: str | None = Field(description="Dotted name of the field, or null.")
    message: str = Field(description="What it is and what to do, for people.")


class Conflict(Answer):
    """A limit that a plan cannot keep."""

    limit: str = Field(description="Name of the limit.", examples=["target_ph"])
    needed: Exact | None = Field(description="What the plan would need.")
    allowed: Exact | None = Field(description="What the limit allows.")
    message: str = Field(description="Which limits collide, for people.")


class Step(Answer):
    """One thing to do, in its place."""

    order: int = Field(description="Place in the sequence, from 1.", ge=1)
    instruction: str = Field(description="What to do.")
    quantity: Exact | None = Field(
        description="How much, in `unit`; null where nothing is measured."
    )
    unit: str | None = Field(description="Unit of the quantity, as on the instrument.")


class WorkingStep(Answer):
    """One line of the working: a quantity and where it comes from."""

    order: int = Field(description="Place in the working, from 1.", ge=1)
    part: str = Field(description="Part of the working that it belongs to.", examples=["air"])
    quantity: str = Field(
        description="What it is: the name by which later formulas call it, or a field of the"
        " answer.",
        examples=["air_deficit_kpa"],
    )
    value: Unrounded = Field(
        description="Its value in `unit`, not rounded; a field of the answer is rounded as there."
    )
    unit: str = Field(description="Unit of the value; `1` for a plain number.", examples=["kPa"])
    how: Literal["given", "looked_up", "computed", "solved", "check", "answer"] = Field(
        description="`given` (sent or assumed), `looked_up` (a table or a model, see `source`),"
        " `computed` (the formula gives it), `solved` (found by iteration; later lines check it),"
        " `check` (comes to nothing, but for species that are left out) or `answer`."
    )
    formula: str = Field(
        description="How it follows from `inputs`: `+ - * / **`, `min`, `max`, `exp`, `log`"
        " (natural), `log10`, `floor`, `nearest` (whole number, halves to the even one), and"
        " `significant(x, n)`, x rounded to n significant digits. Words where"
        " `inputs` is empty and nothing is computed."
    )
    inputs: dict[str, Unrounded] = Field(
        description="The quantities in the formula: earlier lines, and constants of this line."
    )
    source: str | None = Field(
        description="Key of `/v1/sources`; null for common practice and plain arithmetic."
    )
    field: str | None = Field(
        description="Dotted name of the field of the plain answer that has this value.",
        examples=["additions.0.mass_g"],
    )


class Version(Answer):
    """Which release of the service and of its reference data gave the answer."""

    service: str = Field(description="Release of the service.", examples=["0.1.0"])
    data: str = Field(description="Release of the reference data.")


class Outcome(Answer):
    """The first field of every answer."""

    status: Status = Field(
        description="`ok`; `infeasible` when no plan meets the request (`conflicts` says why, the"
        " results are null or those of the nearest plan); `rejected` for a row that is wrong."
    )


class Provenance(Answer):
    """The last fields of every answer: what it rests on."""

    models: list[str] = Field(description="Keys of the models that were used.")
    sources: list[str] = Field(description="Keys of `/v1/sources` that the numbers come from.")
    version: Version = Field(description="Releases that gave the answer.")


class Understanding(Answer):
    """How the request was read."""

    inputs: dict[str, Any] = Field(
        description="The request as it was understood: same names, canonical units, defaults"
        " filled in."
    )
    assumptions: list[Assumption] = Field(description="What was taken to be so.")
    cautions: list[Caution] = Field(description="What to know before pouring.")


class Feasibility(Answer):
    """What an infeasible answer says instead of results, and texts in other units."""

    conflicts: list[Conflict] = Field(
        description="Limits that collide; empty unless the status is `infeasible`."
    )
    nearest: dict[str, Any] | None = Field(
        description="Fields of a request that would be feasible, where there is one."
    )
    display: dict[str, str] = Field(
        description="Results as texts in the units of `?units=`; empty for metric."
    )


class Envelope(Provenance, Understanding, Feasibility):
    """
    The fields after the results, on every single answer.

    An answer model is declared as `class FlushAnswer(Envelope, FlushResult)` where `FlushResult`
    derives from `Outcome`. pydantic collects the fields of the last base first, so that they are
    written as status, results, conflicts, nearest, display, inputs, assumptions, cautions,
    models, sources, version.
    """


class Working(Outcome):
    """The working, in order."""

    steps: list[WorkingStep] = Field(
        description="The working, in order. Each field of the answer is the last line that has it"
        " as its `field`, and equal to it."
    )


class Explanation(Envelope, Working):
    """The ordered working behind an answer, with the words that stand around it."""
