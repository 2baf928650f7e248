"""What the catalogues and the operational addresses answer."""

from typing import Literal

from pydantic import Field

from service.api.schemas.answer import Version
from service.api.schemas.fields import Answer, Exact


class Listing(Answer):
    """The fields after the list of every catalogue."""

    count: int = Field(description="Number of entries.", ge=0)
    version: Version = Field(description="Releases that gave the answer.")


class ProductEntry(Answer):
    """A product of the catalogue."""

    key: str = Field(description="The key that requests name it by.")
    name: str = Field(description="Name for people.")
    kind: str = Field(description="What it is: salt, chelate, feed, supplement, acid, base, ….")
    form: Literal["solid", "liquid"] = Field(description="Weighed, or measured out.")
    formula: str | None = Field(description="Formula of a pure substance.")
    molar_mass_g_per_mol: Exact | None = Field(description="Molar mass of a pure substance.")
    density_kg_per_l: Exact | None = Field(description="Density of a liquid.")
    composition_mmol_per_g: dict[str, Exact] | None = Field(
        description="Amounts of the conserved components in a gram of a pure substance."
    )
    label: dict[str, Exact | str] | None = Field(description="Guaranteed analysis of a feed.")
    oxidiser: bool = Field(description="Whether it feeds a fire.")
    basis: str = Field(description="How the weakest of its values is known.")
    sources: list[str] = Field(description="Keys of `/v1/sources`.")
    note: str = Field(description="Remark, may be empty.")


class ProductListing(Listing):
    """The catalogue of products."""

    products: list[ProductEntry] = Field(description="All products, in the order of the catalogue.")


class AcidEntry(Answer):
    """An acid or a base."""

    key: str = Field(description="The `kind` of an `acid` object.")
    name: str = Field(description="Name for people.")
    role: Literal["acid", "base"] = Field(description="Whether it lowers or raises the pH.")
    form: Literal["solid", "liquid"] = Field(description="Weighed, or measured out.")
    formula: str = Field(description="Formula of the pure substance.")
    molar_mass_g_per_mol: Exact = Field(description="Molar mass of the pure substance.")
    usual_strengths_percent: list[Exact] = Field(description="Strengths that are sold, w/w.")
    default_strength_percent: Exact = Field(description="Strength taken where none is named, w/w.")
    restricted_above_percent: Exact | None = Field(
        description="Strength above which European law restricts sale to the public, w/w."
    )
    sources: list[str] = Field(description="Keys of `/v1/sources`.")
    note: str = Field(description="Remark, may be empty.")


class AcidListing(Listing):
    """Acids and bases."""

    acids: list[AcidEntry] = Field(description="All acids, then all bases.")


class WaterEntry(Answer):
    """A water preset."""

    key: str = Field(description="The text that requests give as `water`.")
    name: str = Field(description="Name for people.")
    analysis: dict[str, Exact] = Field(
        description="The preset as the fields of a `water` object, to copy and change."
    )
    sources: list[str] = Field(description="Keys of `/v1/sources`.")
    note: str = Field(description="Remark, may be empty.")


class WaterListing(Listing):
    """Water presets."""

    waters: list[WaterEntry] = Field(description="All presets.")


class KnownLimit(Answer):
    """A number with how it is known."""

    value: Exact = Field(description="The number, in the unit that its name ends in.")
    basis: str = Field(description="How it is known.")
    source: str = Field(description="Key of `/v1/sources`.")
    note: str = Field(description="Remark, may be empty.")


class PlantEntry(Answer):
    """A plant profile."""

    key: str = Field(description="The key that requests name it by.")
    name: str = Field(description="Name for people.")
    genera: list[str] = Field(description="Genera that it stands for; requests may name these.")
    note: str = Field(description="What the profile rests on.")
    meter_ceilings_ppm: dict[str, KnownLimit] = Field(
        description="Highest meter reading of the whole can, by size of the plants."
    )
    ceilings: dict[str, KnownLimit] = Field(
        description="Every other limit, by its name; a name carries its unit."
    )


class PlantListing(Listing):
    """Plant profiles."""

    plants: list[PlantEntry] = Field(description="All profiles.")


class SourceEntry(Answer):
    """Where numbers come from."""

    key: str = Field(description="The key that answers name it by.")
    citation: str = Field(description="Full citation.")
    kind: str = Field(description="published, standard, informal, memory or common_practice.")
    url: str | None = Field(description="Where it was read, when on the web.")


class SourceListing(Listing):
    """All sources."""

    sources: list[SourceEntry] = Field(description="All sources, sorted by key.")


class AcceptedUnitEntry(Answer):
    """One unit that a text may carry: canonical value = given value × factor + offset."""

    spellings: list[str] = Field(description="Texts that must be written exactly so.")
    any_case: list[str] = Field(description="Texts whose capitals do not matter.")
    factor: Exact = Field(description="Factor into the canonical unit.")
    offset: Exact = Field(description="What is added after the factor.")
    assumption: str | None = Field(description="How a unit with several meanings is read.")
    only_for: str | None = Field(description="The quantity that the unit is kept to.")


class UnitEntry(Answer):
    """One ending of field names and the unit it stands for."""

    suffix: str = Field(description="Ending of the field's name.")
    unit: str = Field(description="Unit of a bare number.")
    kind: str = Field(description="Kind of quantity.")
    meaning: str = Field(description="The unit in words.")
    accepted: list[AcceptedUnitEntry] = Field(description="Units that a text may carry.")


class UnitListing(Listing):
    """Units of fields."""

    units: list[UnitEntry] = Field(description="Every ending that field names have.")


class LimitsAnswer(Answer):
    """What one request may be at most."""

    batch_rows: int = Field(description="Rows of a batch.")
    batch_bytes: int = Field(description="Bytes of the body of a batch.")
    single_bytes: int = Field(description="Bytes of any other body.")
    json_depth: int = Field(description="Levels of nested objects and lists.")
    json_keys: int = Field(description="Keys of one object.")
    table_columns: int = Field(description="Columns of a table.")
    table_heading_letters: int = Field(description="Letters of a heading.")
    table_cell_letters: int = Field(description="Letters of a cell.")
    table_line_bytes: int = Field(
        description="Bytes of one line of a CSV table or of newline-delimited JSON."
    )
    workbook_rows: int = Field(description="Rows of a sheet below its headings.")
    workbook_cells: int = Field(description="Rows times columns of a sheet.")
    workbook_parts: int = Field(description="Files inside a workbook.")
    workbook_bytes: int = Field(description="Bytes of a workbook, unpacked.")
    workbook_ratio: int = Field(
        description="How many times larger than packed a part of a workbook may be."
    )
    workbook_seconds: int = Field(description="Processor time for reading a workbook.")
    body_seconds: Exact = Field(
        description="Time for a body and for its next piece; for a large one, what its bytes take"
        " at `slowest_bytes_per_second` comes on top. Then the answer is 408."
    )
    slowest_bytes_per_second: int = Field(
        description="Rate at which a body and an answer have to move at least."
    )
    header_seconds: Exact = Field(description="Time for the headers of a request.")
    header_bytes: int = Field(
        description="Bytes of the headers of a request, its address included."
    )
    request_seconds: Exact = Field(description="Longest work on one request; then 503.")
    batch_seconds: Exact = Field(description="Longest work on one batch; then 503.")
    batches: int = Field(description="Batches in work at once.")
    batches_waiting: int = Field(description="Batches that may wait; more are answered 503.")
    batch_wait_seconds: Exact = Field(description="Longest wait of a batch; then 503.")
    bodies: int = Field(
        description="Bodies that arrive at once; beyond this the one that has been silent longest"
        " is answered 408."
    )
    connections: int = Field(description="Requests in work at once; more are answered 503.")
    open_connections: int = Field(
        description="Connections that may be open, idle ones included; more are answered 503."
    )
    requests_per_minute: int | None = Field(
        description="Requests of one key, or of one address where no keys are asked for, in a"
        " minute; more are answered 429. Null for no limit."
    )
    version: Version = Field(description="Releases that gave the answer.")


class Alive(Answer):
    """The process answers."""

    status: Literal["alive"] = Field(description="Always `alive`.")


class Ready(Answer):
    """The service has checked itself."""

    status: Literal["ready"] = Field(description="Always `ready`; otherwise the answer is 503.")
    version: Version = Field(description="Releases of service and data.")


class Root(Answer):
    """Where everything is."""

    name: str = Field(description="Name of the service.")
    version: Version = Field(description="Releases of service and data.")
    docs: str = Field(description="Documentation for people.")
    openapi: str = Field(description="The OpenAPI document.")
    capabilities: list[str] = Field(description="Paths under /v1.")


class ProblemPage(Answer):
    """What a code of a problem, or of a single fault, means."""

    code: str = Field(description="The code.")
    status: int = Field(description="HTTP status that it comes with; 200 for what an answer says.")
    title: str = Field(description="The kind of problem in a few words.")
    explanation: str = Field(description="What it means and what to do.")
