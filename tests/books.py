"""Workbooks for tests: good ones, and ones that were made in bad faith."""

import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import python_calamine
import xlsxwriter

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
SHEET = "xl/worksheets/sheet1.xml"
HEADINGS = ("id", "plants.size", "air.humidity_percent", "product", "water", "volume_l")
ROW = ("a", "large", 60, "feed_13_3_15_ca_mg", "rain", 10)


def book(
    rows: Sequence[Sequence[Any]],
    more: Callable[[Any, Any], None] | None = None,
    sheet: str = "Beds",
) -> bytes:
    """Return a workbook with these rows on its first sheet; `more` takes the book and the sheet."""
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as made:
        page = made.add_worksheet(sheet)
        for row, cells in enumerate(rows):
            for column, cell in enumerate(cells):
                if isinstance(cell, str):
                    page.write_string(row, column, cell)
                elif cell is not None:
                    page.write(row, column, cell)
        if more is not None:
            more(made, page)
    return stream.getvalue()


def changed(content: bytes, changes: Mapping[str, Callable[[bytes], bytes]]) -> bytes:
    """Return an archive some of whose parts are changed; a part that is not there is added."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as source,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for name in source.namelist():
            part = source.read(name)
            target.writestr(name, changes[name](part) if name in changes else part)
        for name in changes.keys() - set(source.namelist()):
            target.writestr(name, changes[name](b""))
    return stream.getvalue()


def with_rows(xml: str) -> bytes:
    """Return a workbook whose sheet has this XML for its rows."""

    def replaced(part: bytes) -> bytes:
        start = part.index(b"<sheetData>") + len(b"<sheetData>")
        end = part.index(b"</sheetData>")
        return part[:start] + xml.encode() + part[end:]

    return changed(book([HEADINGS, ROW]), {SHEET: replaced})


def cells_of(content: bytes, sheet: str = "doses") -> list[list[Any]]:
    """Return what a workbook holds, read by another program than the one that wrote it."""
    opened = python_calamine.load_workbook(io.BytesIO(content))
    return opened.get_sheet_by_name(sheet).to_python()
