"""
Batches that are read, planned and answered in blocks, so that none is held as a whole.

A source gives rows in order, whatever it reads them from; `planned` plans them with the function
that plans the rows of a JSON batch; `Tally` keeps what stands once at the end of an answer.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Any, Final, Protocol

from service.api.batch import MOST_FAULTS, Batch, own_name, planned_batch
from service.api.batch_mixes import mixes_of, with_mixes
from service.api.formats.table_rows import GivenRow
from service.api.provenance import versions
from service.api.row_columns import Columns
from service.api.rows_together import planned_columns, planned_texts
from service.api.schemas.batch_mixes import MixWishes
from service.api.schemas.doses_batch import DoseBatchAnswer
from service.api.validation import FieldError
from service.planning.catalogue import Catalogue
from service.planning.cautions import CAUTIONS
from service.planning.evidence import SOLUTION_MODELS, SOLUTION_SOURCES, STRENGTH_MODELS

BLOCK_ROWS: Final = 4_000
"""Rows that are planned together: enough to share out over the cores, few enough to hold."""

_ORDER: Final = {notice.code: position for position, notice in enumerate(CAUTIONS)}


class RowSource(Protocol):
    """Rows of a request, in order, from the first each time."""

    @property
    def defaults(self) -> Mapping[str, Any]:
        """Fields for every row that does not say otherwise."""

    @property
    def mixes(self) -> MixWishes | None:
        """How far rows may share a can; None when each has its own."""

    def rows(self) -> Iterator[GivenRow]:
        """Yield every row, blank ones included."""

    def read(self, row: GivenRow) -> GivenRow:
        """Return a row with its value, or with what is wrong with it."""

    def together(self, rows: Sequence[GivenRow]) -> Columns | None:
        """Return rows as columns; None where rows are not made of cells."""

    def placed(self, fault: FieldError, row: GivenRow) -> FieldError:
        """Return a fault of a row with its place in what was sent."""

    def remark(self, row: GivenRow) -> str:
        """Return what the caller noted beside a row, for the sheet to print."""

    def assumptions(self) -> list[dict[str, Any]]:
        """Return how the request was read, once its rows were."""


@dataclass
class Block:
    """
    Some rows of a batch and their answers.

    Attributes
    ----------
    rows : sequence of GivenRow
        In order, blank ones included.
    batch : Batch
        Planned; one outcome for each row that is not blank.
    """

    rows: Sequence[GivenRow]
    batch: Batch

    @classmethod
    def of(cls, batch: Batch) -> "Block":
        """Return a planned batch whose rows were no table."""
        return cls([GivenRow(None)] * len(batch.outcomes), batch)

    def answered(self) -> Iterator[tuple[GivenRow, dict[str, Any] | None]]:
        """Yield every row with its answer; None for a blank one."""
        answers = iter(self.batch.answers)
        for row in self.rows:
            yield row, None if row.blank else next(answers)


@dataclass
class Tally:
    """What stands once at the end of an answer: counts, and the texts of codes."""

    counts: dict[str, int] = field(default_factory=dict)
    cautions: dict[str, dict[str, Any]] = field(default_factory=dict)
    assumptions: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)
    mixes: Mapping[str, Any] = field(default_factory=lambda: {"mixes_summary": None, "mixes": []})

    def add(self, batch: Batch) -> None:
        """Take in a planned block."""
        for name, count in batch.summary().items():
            self.counts[name] = self.counts.get(name, 0) + count
        if batch.mixes is not None:
            self.mixes = mixes_of(batch)
        for each in batch.cautions():
            self.cautions.setdefault(each["code"], each)
        for each in batch.assumptions():
            self.assumptions.setdefault((each["code"], each["message"]), each)

    def closing(self, read: Iterable[dict[str, Any]] = ()) -> DoseBatchAnswer:
        """Return an answer but for its rows; `read` says how the request was read."""
        cautions = sorted(self.cautions.values(), key=lambda each: _ORDER.get(each["code"], -1))
        return DoseBatchAnswer(
            status="ok",
            summary=self.counts,
            rows=[],
            **self.mixes,
            assumptions=[*read, *self.assumptions.values()],
            cautions=cautions,
            models=[*STRENGTH_MODELS, *SOLUTION_MODELS],
            sources=list(SOLUTION_SOURCES),
            version=versions(),
        )


def planned(rows: list[GivenRow], source: RowSource, catalogue: Catalogue) -> Batch:
    """
    Plan rows.

    Parameters
    ----------
    rows : list of GivenRow
        Blank ones are left out.
    source : RowSource
        Where they come from; it places their faults and has their defaults.
    catalogue : Catalogue
        The catalogue of the installation.
    """
    told = [row for row in rows if not row.blank]
    batch = _planned_together(told, source, catalogue)
    if batch is None:
        told = [source.read(row) if row.unread else row for row in told]
        batch = planned_batch([row.value for row in told], source.defaults, catalogue)
    for row, outcome in zip(told, batch.outcomes, strict=True):
        if row.problems:
            outcome.problems[:] = row.problems[:MOST_FAULTS]
            outcome.id = own_name(row.name)
        elif outcome.problems:
            outcome.problems[:] = [source.placed(explained(each), row) for each in outcome.problems]
    return with_mixes(batch, source.mixes)


def _planned_together(
    told: list[GivenRow], source: RowSource, catalogue: Catalogue
) -> Batch | None:
    """Plan rows that are not read yet, and read the odd ones in place; None where none are."""
    if not any(row.unread for row in told):
        return None
    texts = [row.text for row in told if row.text is not None]
    if texts:
        known = len(texts) == len(told)
        return planned_texts(texts, source.defaults, catalogue) if known else None

    def value_of(place: int) -> object:
        if told[place].unread:
            told[place] = source.read(told[place])
        return told[place].value

    return planned_columns(
        len(told),
        lambda chunk: source.together(told[chunk]),
        value_of,
        source.defaults,
        catalogue,
    )


def blocks(
    source: RowSource, catalogue: Catalogue, tally: Tally, size: int = BLOCK_ROWS
) -> Iterator[Block]:
    """
    Yield the rows of a source planned, block after block; one block without rows when it has none.

    Parameters
    ----------
    source : RowSource
        The request.
    catalogue : Catalogue
        The catalogue of the installation.
    tally : Tally
        Takes every block in.
    size : int
        Rows of a block.
    """
    rows = source.rows()
    first = True
    # Rows that share cans are planned together.
    most = size if source.mixes is None else None
    while (taken := list(islice(rows, most))) or first:
        first = False
        block = Block(taken, planned(taken, source, catalogue))
        tally.add(block.batch)
        yield block


def whole(source: RowSource, catalogue: Catalogue) -> Batch:
    """Return all rows of a source planned at once, for answers that need them so."""
    rows = list(source.rows())
    batch = planned(rows, source, catalogue)
    told = (row for row in rows if not row.blank)
    for row, outcome in zip(told, batch.outcomes, strict=True):
        outcome.remark = source.remark(row)
    return batch


def explained(fault: FieldError) -> FieldError:
    """Say of a preset that stands beside its parts what it is: two answers to one question."""
    if not (fault.pointer or "").endswith("/"):
        return fault
    column = column_of(fault).rstrip(".")
    detail = f"`{column}` is given as a whole and in part (`{column}.…`); give one of them."
    return fault.model_copy(
        update={
            "pointer": f"#/{column.replace('.', '/')}",
            "code": "contradiction",
            "detail": detail,
            "allowed": None,
        }
    )


def column_of(fault: FieldError) -> str:
    """Return the dotted name of the field at fault, `row` for the row as a whole."""
    return (fault.pointer or "#").removeprefix("#/").removeprefix("#").replace("/", ".") or "row"
