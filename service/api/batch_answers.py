"""Answers to a batch in the format asked for, written while it is planned wherever that can be."""

import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any, Final

from starlette.responses import Response, StreamingResponse
from starlette.types import Receive, Scope, Send

from service.api.batch import COLUMN_NAMES, MIX_FIELDS, Batch
from service.api.batch_rows import Block, Tally, blocks, column_of, whole
from service.api.formats.batch_sheet import MOST_PRINTED, batch_sheet
from service.api.formats.csv_dialect import Dialect
from service.api.formats.csv_table import CsvLines, too_many_rows
from service.api.formats.json import json_response_with_rows
from service.api.formats.mix_sheets import write_mixes
from service.api.formats.ndjson import ndjson
from service.api.formats.text_sheet import mixing_sheet
from service.api.formats.workbook import WorkbookFile
from service.api.negotiation import MEDIA_TYPES
from service.api.row_writer import written_lines
from service.api.schemas.doses_batch import DoseBatchAnswer
from service.api.table_sources import RESULT_COLUMNS, Source
from service.api.validation import FieldError
from service.planning.catalogue import Catalogue

FILE_CHUNK: Final = 1024 * 1024
FILE_NAME: Final = "doses"
PLAIN_COLUMNS: Final = ("id", "status", *COLUMN_NAMES, "cautions", "problems")
"""Columns of a table that answers rows which were no table."""

SHEETS: Final = {"txt": mixing_sheet, "html": batch_sheet}
"""Formats to read and to print."""

DOSES, CAUTIONS, ASSUMPTIONS, SUMMARY = "doses", "cautions", "assumptions", "summary"
CAUTION_COLUMNS: Final = ("code", "severity", "field", "message")
ASSUMPTION_COLUMNS: Final = ("code", "field", "message")
SUMMARY_COLUMNS: Final = ("name", "value")


@dataclass(frozen=True)
class Answering:
    """
    What an answer that is written while it is planned is made of.

    Attributes
    ----------
    headings : sequence of str
        The caller's columns; none where the rows were no table.
    dialect : Dialect
        How CSV is written.
    planned : iterator of Block
        At least one block.
    closing : callable
        The answer but for its rows; known when all blocks are.
    mixed : bool
        Whether rows share cans.
    close : callable
        Lets go of what the rows are read from.
    """

    headings: Sequence[str]
    dialect: Dialect
    planned: Iterator[Block]
    closing: Callable[[], DoseBatchAnswer]
    mixed: bool
    close: Callable[[], None]

    def columns(self) -> tuple[str, ...]:
        """Return the headings of an answered table."""
        mixed = MIX_FIELDS if self.mixed else ()
        plain = (*self.headings, *RESULT_COLUMNS) if self.headings else PLAIN_COLUMNS
        return (*plain, *mixed)

    def cells(self, block: Block) -> list[list[Any]]:
        """Return rows of an answered table: the caller's cells as they were, then the results."""
        if not self.headings:
            return [
                [answer["id"], *self._results(answer)]
                for _, answer in block.answered()
                if answer is not None
            ]
        blank = [None] * (len(self.columns()) - len(self.headings))
        return [
            [*row.cells, *(blank if answer is None else self._results(answer))]
            for row, answer in block.answered()
        ]

    def _results(self, answer: dict[str, Any]) -> list[Any]:
        cells = result_cells(answer)
        return [*cells, *(answer[name] for name in MIX_FIELDS)] if self.mixed else cells


def answer_of(source: Source, wanted: str, catalogue: Catalogue) -> Response:
    """
    Return the answer to a batch that is read row by row.

    Parameters
    ----------
    source : Source
        Its rows; it is closed here, or when the answer was sent.
    wanted : str
        Format: `json`, `csv`, `ndjson`, `xlsx`, `txt` or `html`.
    catalogue : Catalogue
        The catalogue of the installation.
    """
    tally = Tally()
    if wanted in ("json", *SHEETS):
        # They say first what is known last: the batch is planned as a whole.
        try:
            batch = whole(source, catalogue)
            if wanted in SHEETS:
                return sheet_response(batch, wanted)
            tally.add(batch)
            closing = tally.closing(source.assumptions())
            return json_response_with_rows(closing, batch.answers)
        finally:
            source.close()
    return _written(
        Answering(
            source.headings,
            source.dialect,
            blocks(source, catalogue, tally),
            lambda: tally.closing(source.assumptions()),
            source.mixes is not None,
            source.close,
        ),
        wanted,
    )


def answer_of_planned(batch: Batch, wanted: str, dialect: Dialect) -> Response:
    """
    Return the answer to a batch that was planned as a whole.

    Parameters
    ----------
    batch : Batch
        Its rows were no table.
    wanted : str
        Format: `json`, `csv`, `ndjson`, `xlsx`, `txt` or `html`.
    dialect : Dialect
        How CSV is written.
    """
    if wanted in SHEETS:
        return sheet_response(batch, wanted)
    tally = Tally()
    tally.add(batch)
    if wanted == "json":
        return json_response_with_rows(tally.closing(), batch.answers)
    one = iter((Block.of(batch),))
    return _written(
        Answering((), dialect, one, tally.closing, batch.mixes is not None, lambda: None), wanted
    )


def _written(answering: Answering, wanted: str) -> Response:
    if wanted == "csv":
        return streamed(_csv_pieces(answering), "csv", answering.close)
    if wanted == "ndjson":
        return streamed(_ndjson_pieces(answering), "ndjson", answering.close)
    try:
        return _workbook_response(answering)
    finally:
        answering.close()


def sheet_response(batch: Batch, wanted: str) -> Response:
    """Return the mixing sheet of a batch, as text or as a page."""
    if wanted == "html" and len(batch.outcomes) > MOST_PRINTED:
        raise too_many_rows(MOST_PRINTED)
    return Response(
        SHEETS[wanted](batch),
        media_type=f"{MEDIA_TYPES[wanted]}; charset=utf-8",
        headers={"Cache-Control": "no-store"},
    )


def headers_of(wanted: str) -> dict[str, str]:
    """Return the headers of an answer that is a file to keep."""
    return {
        "Cache-Control": "no-store",
        "Content-Disposition": f'attachment; filename="{FILE_NAME}.{wanted}"',
    }


def media_type_of(wanted: str) -> str:
    """Return the content type of an answer."""
    if wanted == "csv":
        return f"{MEDIA_TYPES['csv']}; charset=utf-8; header=present"
    return MEDIA_TYPES[wanted]


class SentAnswer(StreamingResponse):
    """An answer in pieces that lets go of its file: sent whole, broken off, or never begun."""

    def __init__(self, pieces: Iterator[bytes], close: Callable[[], None], **response: Any) -> None:
        super().__init__(pieces, **response)
        self.close = close

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the answer; a caller who has left before it began takes none of it."""
        try:
            await super().__call__(scope, receive, send)
        finally:
            self.close()


def streamed(pieces: Iterator[bytes], wanted: str, close: Callable[[], None]) -> Response:
    """
    Return an answer that is sent while it is written.

    Its first piece is made before anything is sent: what fails then still has a status of its own.
    """
    try:
        first = next(pieces)
    except BaseException:
        close()
        raise

    return SentAnswer(
        chain((first,), pieces), close, media_type=media_type_of(wanted), headers=headers_of(wanted)
    )


def result_cells(answer: dict[str, Any]) -> list[Any]:
    """Return the result columns of a row."""
    return [
        answer["status"],
        *[answer[name] for name in COLUMN_NAMES],
        " ".join(answer["cautions"]),
        problem_text(answer["problems"]),
    ]


def problem_text(problems: Sequence[FieldError]) -> str:
    """Return the problems of a row as the text of a cell."""
    return " | ".join(f"{_place(fault)}: {_said_of_place(fault)}" for fault in problems)


def _said_of_place(fault: FieldError) -> str:
    """Return what is wrong without the name of the field, which stands before it."""
    return fault.detail.removeprefix(f"`{column_of(fault).rsplit('.', 1)[-1]}`: ")


def _place(fault: FieldError) -> str:
    column = column_of(fault)
    if fault.column is not None and fault.column != column:
        column = f"{column} in {fault.column}"
    return column if fault.cell is None else f"{column} ({fault.cell})"


def _csv_pieces(answering: Answering) -> Iterator[bytes]:
    lines = CsvLines(answering.dialect)
    block = next(answering.planned)
    yield lines.head(answering.columns()) + lines.lines(answering.cells(block))
    for block in answering.planned:
        yield lines.lines(answering.cells(block))


def _ndjson_pieces(answering: Answering) -> Iterator[bytes]:
    for block in answering.planned:
        if block.batch.mixes is None:
            yield written_lines(block.batch)
        else:
            yield ndjson([answer for _, answer in block.answered() if answer is not None])
    yield ndjson([said_once(answering.closing())])


def _workbook_response(answering: Answering) -> Response:
    with tempfile.TemporaryDirectory(prefix="velamen-book-") as folder:
        path = Path(folder, "book.xlsx")
        with WorkbookFile(str(path)) as book:
            book.sheet(DOSES, answering.columns())
            for block in answering.planned:
                book.rows(DOSES, answering.cells(block))
            write_notes(book, said_once(answering.closing()))
        # The open file outlives its folder.
        size = path.stat().st_size
        file = path.open("rb")

    headers = {**headers_of("xlsx"), "Content-Length": str(size)}
    pieces = iter(lambda: file.read(FILE_CHUNK), b"")
    return SentAnswer(pieces, file.close, media_type=MEDIA_TYPES["xlsx"], headers=headers)


def said_once(answer: DoseBatchAnswer) -> dict[str, Any]:
    """Return what stands once beside the rows."""
    return answer.model_dump(mode="json", exclude={"status", "rows"})


def write_notes(book: WorkbookFile, said: dict[str, Any]) -> None:
    """Write what stands once beside the rows: mixes, cautions, assumptions, counts, sources."""
    if said["mixes_summary"] is not None:
        write_mixes(book, said["mixes"])
    for name, columns in ((CAUTIONS, CAUTION_COLUMNS), (ASSUMPTIONS, ASSUMPTION_COLUMNS)):
        book.sheet(name, columns)
        book.rows(name, [[each[column] for column in columns] for each in said[name]])
    book.sheet(SUMMARY, SUMMARY_COLUMNS)
    rows: list[tuple[str, object]] = [*said["summary"].items()]
    rows += [
        (f"mixes.{name}", value)
        for name, value in (said["mixes_summary"] or {}).items()
        if value is None or isinstance(value, str | int | float)
    ]
    rows += [(f"{name}_version", text) for name, text in said["version"].items()]
    rows += [("model", key) for key in said["models"]]
    rows += [("source", key) for key in said["sources"]]
    book.rows(SUMMARY, rows)
