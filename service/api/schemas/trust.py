"""How far to trust it: what checks compare, what is known of a source."""

from typing import Literal

from pydantic import Field

from service.api.schemas.catalogue import SourceEntry
from service.api.schemas.fields import Answer, Exact

Basis = Literal["published", "computed", "informal", "memory"]
Error = Literal["percent", "absolute"]


class CheckFigures(Answer):
    """The errors of all checks of a quantity that are known in one way."""

    basis: Basis = Field(
        description="Where theirs come from: printed in a publication, computed by another"
        " program, printed on a page of no standing, or recalled (plausibility only)."
    )
    count: int = Field(description="How many values were compared.")
    origins: list[str] = Field(description="Where they stand.")
    median: Exact = Field(description="Size of the error in the middle.")
    lowest: Exact = Field(description="The error furthest below theirs.")
    highest: Exact = Field(description="The error furthest above theirs.")
    worst_at: str = Field(description="The row of the largest error.")
    nearest_percent: Exact | None = Field(
        description="The largest share of what its test allows; null where a test bounds all rows"
        " together."
    )


class QuantityChecks(Answer):
    """What checks found about one quantity."""

    key: str = Field(description="Its key, and its place on the page.")
    title: str = Field(description="The quantity in words.")
    unit: str = Field(description="Unit of its values.")
    error: Error = Field(description="Errors are in percent of theirs, or in the unit.")
    validity: str = Field(description="Where it holds.")
    cannot_be_known: str | None = Field(description="What nobody can know; null where nothing.")
    checks: list[CheckFigures] = Field(description="One entry for each way of knowing.")


class Headline(Answer):
    """One of the numbers that matter most."""

    quantity: str = Field(description="Key of the quantity.")
    what: str = Field(description="What is compared.")
    unit: str = Field(description="Unit of the errors.")
    count: int = Field(description="How many values were compared.")
    median: Exact = Field(description="Size of the error in the middle.")
    lowest: Exact = Field(description="The error furthest below theirs.")
    highest: Exact = Field(description="The error furthest above theirs.")


class Mistake(Answer):
    """A slip of the trade, and what becomes of it here."""

    slip: str = Field(description="What goes wrong.")
    answer: Literal["impossible", "caught", "cautioned", "not_met"] = Field(
        description="No request can say it; refused or set right; answered with a caution; not met."
    )
    how: str = Field(description="How it is met, or why not.")
    tests: list[str] = Field(description="Tests that show it; each passed when this was made.")


class SourceCoverage(Answer):
    """What checks the numbers of a source, and which modules cite it."""

    quantities: list[str] = Field(description="Keys of the quantities whose checks cover it.")
    reason: str | None = Field(description="Why nothing checks it; null where something does.")
    modules: list[str] = Field(description="Modules of the code that cite it.")


class TrustReport(Answer):
    """How far to trust the service, made from its tests."""

    inputs: str = Field(description="SHA-256 of the tables and check rows that it was made from.")
    test_count: int = Field(description="How many tests passed.")
    comparison_count: int = Field(description="How many values were compared.")
    headlines: list[Headline] = Field(description="The numbers that matter most.")
    quantities: list[QuantityChecks] = Field(description="Every quantity.")
    mistakes: list[Mistake] = Field(description="Slips of the trade.")
    sources: dict[str, SourceCoverage] = Field(description="Every source, by its key.")


class CitedRow(Answer):
    """A row of a reference table that rests on a source."""

    table: str = Field(description="The table, or `plants` for the profiles.")
    values: dict[str, str] = Field(description="The row as it stands in the table, by column.")
    basis: str | None = Field(description="How it is known.")
    locator: str | None = Field(description="Where in the source it stands.")
    note: str | None = Field(description="What is said about it.")


class SourcePage(SourceEntry):
    """A source with what rests on it, and what checks that."""

    rows: list[CitedRow] = Field(description="Rows of the reference tables that cite it.")
    modules: list[str] = Field(description="Modules of the code that cite it.")
    checks: list[QuantityChecks] = Field(description="Checks of what is computed from it.")
    unchecked: str | None = Field(description="Why nothing checks it; null where something does.")
