"""Bodies that no JSON Schema describes: tables, lines and workbooks, whole and damaged."""

import io
import random
from collections.abc import Callable, Sequence
from typing import Any, Final

import xlsxwriter
from hypothesis import strategies as st

from tests.resilience.batch_bodies import csv_body, ndjson_body
from tests.resilience.ceilings import Circumstances
from tests.resilience.dose_rows import DoseRow, RowMaker

XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MOST_ROWS: Final = 6
WHOLE_SHARE: Final = 0.6
PRODUCTS: Final = ("feed_13_3_15_ca_mg", "feed_20_20_20", "urea", "feed_liquid_4_3_6", "no such")
NOBODY_KNOWS: Final = (Circumstances({}, None),)
CELL_FORMATS: Final = ("", "0 %", "yyyy-mm-dd", "@", "0.00E+00")


def workbook_body(rows: Sequence[DoseRow], rng: random.Random) -> bytes:
    """Return rows as a workbook, with formats, formulas and further sheets now and then."""
    names = sorted({name for row in rows for name in row.fields})
    text = io.BytesIO()
    options = {"in_memory": True, "nan_inf_to_errors": True, "strings_to_formulas": False}
    with xlsxwriter.Workbook(text, options) as book:
        formats = [book.add_format({"num_format": each}) for each in CELL_FORMATS]
        if rng.random() < 0.2:
            book.add_worksheet("notes").hide()
        sheet = book.add_worksheet("doses")
        first = rng.choice((0, 0, 0, 3))
        for column, name in enumerate(names):
            sheet.write_string(first, column, name[:100])
            for place, row in enumerate(rows, first + 1):
                _write_cell(sheet, place, column, row.fields.get(name), rng, formats)
        if rng.random() < 0.1 and len(names) > 1:
            sheet.merge_range(first + 1, 0, first + 2, 1, "merged")
    return text.getvalue()


def _write_cell(
    sheet: Any, place: int, column: int, value: Any, rng: random.Random, formats: list[Any]
) -> None:
    if value is None:
        return
    style = rng.choice(formats) if rng.random() < 0.05 else None
    drawn = rng.random()
    # A lone half of a surrogate pair cannot be written in any file.
    shown = str(value)[:30_000].encode("utf-8", "replace").decode()
    if drawn < 0.02:
        sheet.write_formula(place, column, "=1+1", style, shown if drawn < 0.01 else 2)
    elif isinstance(value, bool):
        sheet.write_boolean(place, column, value, style)
    elif isinstance(value, int | float) and abs(value) < 1e300:
        sheet.write_number(place, column, value, style)
    else:
        sheet.write_string(place, column, shown, style)


def damaged(body: bytes, rng: random.Random) -> bytes:
    """Return a body with some of it cut, doubled, turned round or replaced."""
    changed = bytearray(body)
    for _ in range(rng.choice((1, 1, 2, 5, 30))):
        if not changed:
            break
        place = rng.randrange(len(changed))
        kind = rng.randrange(5)
        if kind == 0:
            changed[place] ^= 1 << rng.randrange(8)
        elif kind == 1:
            del changed[place : place + rng.choice((1, 7, 100, 10_000))]
        elif kind == 2:
            changed[place:place] = changed[place : place + rng.choice((1, 50, 500))]
        elif kind == 3:
            changed[place:place] = rng.randbytes(rng.choice((1, 2, 4, 64)))
        else:
            changed[place : place + 1] = rng.choice(
                (b'"', b",", b";", b"\n", b"\r", b"\x00", b"\xff", b"\t", b"{", b"\xef\xbb\xbf")
            )
    return bytes(changed)


def _body(kind: str, seed: int) -> bytes:
    rng = random.Random(seed)
    maker = RowMaker(seed, PRODUCTS, NOBODY_KNOWS)
    rows = [maker.row(place) for place in range(rng.randint(0, MOST_ROWS))]
    whole: Callable[[], bytes] = {
        "csv": lambda: csv_body(rows)[0],
        "ndjson": lambda: ndjson_body(rows, rng)[0],
        "xlsx": lambda: workbook_body(rows, rng),
    }[kind]
    body = whole()
    return body if rng.random() < WHOLE_SHARE else damaged(body, rng)


def bodies(kind: str) -> st.SearchStrategy[bytes]:
    """Return bodies of one kind: mostly rows, whole or damaged; now and then any bytes."""
    made = st.integers(0, 2**48).map(lambda seed: _body(kind, seed))
    return st.integers(0, 19).flatmap(lambda drawn: st.binary(max_size=400) if not drawn else made)
