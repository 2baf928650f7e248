"""Fuzzed rows through the batch endpoint: each answered, none over its ceilings, no failure."""

import random
from collections.abc import Sequence
from typing import Any, Final

import httpx

from tests.resilience.batch_bodies import (
    MEDIA_TYPES,
    csv_body,
    csv_rows,
    json_body,
    json_rows,
    ndjson_body,
    ndjson_rows,
)
from tests.resilience.ceilings import drawn_circumstances
from tests.resilience.dose_rows import DoseRow, RowMaker
from tests.resilience.installation import Installation
from tests.resilience.outcome import Outcome
from tests.resilience.problem_documents import fault_of
from tests.resilience.row_check import UNCONFIRMED, RowCheck

PART: Final = "fuzzed rows"
ROWS_OF_A_BATCH: Final = 2_000
KNOWN_CIRCUMSTANCES: Final = 400
SHOWN_BYTES: Final = 1_500
SHOWN_HELD_BACK: Final = 20
PATH: Final = "/v1/doses/batch"


class FuzzedBatches:
    """
    Send batches and judge their answers.

    Parameters
    ----------
    running : Installation
        The service.
    outcome : Outcome
        Receives what is found.
    seed : int
        Decides the rows.
    """

    def __init__(self, running: Installation, outcome: Outcome, seed: int) -> None:
        self.running = running
        self.outcome = outcome
        self.rng = random.Random(seed)
        products = running.listed("products")
        self.check = RowCheck(products)
        self.client = running.client()
        self.held_back: list[str] = []
        circumstances = drawn_circumstances(
            self.client, running.listed("plants"), KNOWN_CIRCUMSTANCES, seed
        )
        # A few bases and acids too, which are in the catalogue and yet cannot be fed.
        fed = [each["key"] for each in products if each["kind"] not in ("acid", "base")]
        self.maker = RowMaker(seed, [*fed, "potassium_hydroxide", "citric_acid"], circumstances)

    def run(self, count: int) -> None:
        """Send at least so many rows, the formats in turn."""
        number = 0
        kinds = tuple(MEDIA_TYPES)
        while self.outcome.tried < count:
            size = min(ROWS_OF_A_BATCH, max(count // len(kinds), 1))
            rows = [self.maker.row(number + place) for place in range(size)]
            number += size
            self.batch(kinds[number // size % len(kinds)], rows)

    def batch(self, kind: str, rows: Sequence[DoseRow]) -> None:
        """Send rows in one format and judge every answer."""
        sent: Sequence[DoseRow | None]
        if kind == "json":
            body, sent = json_body(rows), rows
        elif kind == "ndjson":
            body, sent = ndjson_body(rows, self.rng)
        else:
            body, sent = csv_body(rows)
        answer = self.posted(kind, body)
        fault = fault_of(answer.status_code, answer.headers.get("content-type", ""), answer.content)
        if fault is None and answer.status_code != 200:
            fault = f"the whole batch is refused: {answer.text[:600]}"
        if fault is not None:
            self.outcome.fault(f"{kind}: {fault} | {self.culprit(kind, rows)}")
            return
        try:
            answered = {"json": json_rows, "ndjson": ndjson_rows, "csv": csv_rows}[kind](
                answer.content
            )
        except (ValueError, KeyError, IndexError) as unreadable:
            self.outcome.fault(f"{kind}: {unreadable!r} | {self.culprit(kind, rows)}")
            return
        if len(answered) != len(sent):
            self.outcome.fault(f"{kind}: {len(sent)} rows in, {len(answered)} out")
            return
        self.outcome.count(len(sent))
        for place, (row, each) in enumerate(zip(sent, answered, strict=True)):
            self.judge(kind, place, row, each)

    def judge(self, kind: str, place: int, row: DoseRow | None, answer: dict[str, Any]) -> None:
        """Note what is wrong with one row of an answer."""
        if row is None:
            if answer["status"] != "rejected":
                self.outcome.fault(f"{kind}: a broken line is {answer['status']}")
            return
        wanted = f"p{place}" if kind == "csv" else row.fields.get("id")
        found = answer["place"] if kind == "csv" else answer["id"]
        named = isinstance(wanted, str) and wanted.startswith(("r", "p"))
        if named and found != wanted:
            self.outcome.fault(f"{kind}: {wanted!r} is answered as {found!r}")
            return
        if UNCONFIRMED in str(answer["problems"]):
            self.held_back.append(repr(row.nested()))
        fault = self.check.fault_of(row, answer)
        if fault is not None:
            self.outcome.fault(f"{kind}: {fault} | {row.nested()}"[:SHOWN_BYTES])

    def posted(self, kind: str, body: bytes) -> httpx.Response:
        """Return the answer to a body."""
        return self.client.post(PATH, content=body, headers={"Content-Type": MEDIA_TYPES[kind]})

    def culprit(self, kind: str, rows: Sequence[DoseRow]) -> str:
        """Return the row that fails by itself, if there is one."""
        for row in rows:
            body = {
                "json": lambda one=row: json_body([one]),
                "ndjson": lambda one=row: ndjson_body([one], random.Random(0))[0],
                "csv": lambda one=row: csv_body([one])[0],
            }[kind]()
            if self.posted(kind, body).status_code != 200:
                return repr(body)[:SHOWN_BYTES]
        return "no row fails by itself"


def run(running: Installation, count: int, seed: int) -> Outcome:
    """
    Send fuzzed rows as JSON, NDJSON and CSV.

    Parameters
    ----------
    running : Installation
        The service.
    count : int
        Rows.
    seed : int
        Decides the rows.
    """
    outcome = Outcome(PART, "rows")
    batches = FuzzedBatches(running, outcome, seed)
    batches.run(count)
    check = batches.check
    statuses = ", ".join(f"{check.statuses[each]:,} {each}" for each in sorted(check.statuses))
    outcome.remarks += [
        statuses,
        f"{check.compared:,} held against ceilings asked for separately",
        f"{len(batches.held_back):,} held back by the self-check",
    ]
    for row in batches.held_back[:SHOWN_HELD_BACK]:
        print(f"{PART}: held back by the self-check: {row}", flush=True)
    return outcome.finished()
