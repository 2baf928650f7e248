"""Random requests to every operation of the document: no failure, each refusal a problem."""

import math
import time
from collections import Counter
from dataclasses import dataclass
from typing import Any, Final

import requests
import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.core.failures import Failure, FailureGroup
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.resilience.batch_bodies import MEDIA_TYPES
from tests.resilience.installation import PATIENCE_SECONDS, Installation
from tests.resilience.outcome import Outcome
from tests.resilience.problem_documents import fault_of
from tests.resilience.table_bodies import XLSX, bodies

PART: Final = "operations"
TABLES: Final = {MEDIA_TYPES["csv"]: "csv", MEDIA_TYPES["ndjson"]: "ndjson", XLSX: "xlsx"}
SEARCHES: Final = ("/v1/recipes", "/v1/stock-plans", "/v1/programmes")
"""Operations that may take a second for one answer get fewer cases."""

SEARCH_WEIGHT: Final = 0.3
ROUNDS: Final = 6
EVEN_PART: Final = 0.3
MOST_TO_LEAST: Final = 8.0
"""How many times more cases than another an operation may get because it is quicker."""

SHOWN_COMMAND: Final = 1_500


@dataclass
class Kind:
    """One operation with one kind of body, valid or not."""

    operation: Any
    media_type: str | None
    mode: GenerationMode

    @property
    def name(self) -> str:
        """Say which it is."""
        body = f" {TABLES[self.media_type]}" if self.media_type in TABLES else ""
        return f"{self.operation.label}{body}, {self.mode.value}"

    @property
    def weight(self) -> float:
        """How many cases it gets beside others."""
        return SEARCH_WEIGHT if self.operation.path in SEARCHES else 1.0


class Operations:
    """
    Send cases and judge their answers.

    Parameters
    ----------
    running : Installation
        The service.
    outcome : Outcome
        Receives what is found.
    """

    def __init__(self, running: Installation, outcome: Outcome) -> None:
        self.outcome = outcome
        self.session = requests.Session()
        self.slowest = (0.0, "")
        self.statuses: Counter[int] = Counter()
        self.bodies: Counter[str] = Counter()
        for media_type, name in TABLES.items():
            schemathesis.openapi.media_type(media_type, bodies(name))
        schema = schemathesis.openapi.from_url(f"{running.address}/openapi.json")
        self.kinds = [
            Kind(operation, media_type, mode)
            for operation in (result.ok() for result in schema.get_all_operations())
            for media_type in operation.get_request_payload_content_types() or [None]
            for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
        ]
        self.operations = len({kind.operation.label for kind in self.kinds})

    def run(self, cases: int, seeded: int) -> None:
        """
        Send at least so many cases, as long as the operations differ in so many ways.

        A part of them is shared out evenly; more of the rest go where a case takes little time.
        """
        open_kinds = self.kinds
        share = {kind.name: kind.weight for kind in open_kinds}
        for turn in range(ROUNDS):
            left = cases - self.outcome.tried
            if left <= 0 or not open_kinds:
                return
            wanted_now = EVEN_PART * left if turn == 0 else left
            whole = sum(share[kind.name] for kind in open_kinds)
            following = []
            for kind in open_kinds:
                wanted = math.ceil(wanted_now * share[kind.name] / whole)
                began = time.perf_counter()
                had = self.some(kind, wanted, seeded + turn)
                if had >= wanted:
                    following.append(kind)
                    share[kind.name] = kind.weight * had / (time.perf_counter() - began)
            open_kinds = following
            if open_kinds:
                most = MOST_TO_LEAST * min(share[kind.name] for kind in open_kinds)
                share = {name: min(each, most) for name, each in share.items()}

    def some(self, kind: Kind, wanted: int, seeded: int) -> int:
        """Send cases of one kind; return how many there were."""
        before = self.outcome.tried
        strategy = kind.operation.as_strategy(kind.mode, media_type=kind.media_type)

        @settings(
            max_examples=wanted,
            deadline=None,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @seed(seeded)
        @given(case=strategy)
        def sent(case: Any) -> None:
            self.judge(kind, case)

        try:
            sent()
        except Unsatisfiable:
            # Nothing about this operation can be wrong, or right, in this way.
            return 0
        return self.outcome.tried - before

    def judge(self, kind: Kind, case: Any) -> None:
        """Send one case and note what is wrong with its answer."""
        began = time.perf_counter()
        try:
            response = case.call(session=self.session, timeout=PATIENCE_SECONDS)
        except requests.RequestException as lost:
            self.outcome.count()
            command = case.as_curl_command()[:SHOWN_COMMAND]
            self.outcome.fault(f"{kind.name}: {lost!r} | {command}")
            return
        self.slowest = max(self.slowest, (time.perf_counter() - began, kind.name))
        self.outcome.count()
        self.statuses[response.status_code] += 1
        if kind.media_type in TABLES:
            self.bodies[TABLES[kind.media_type]] += 1
        media_type = (response.headers.get("content-type") or [""])[0]
        fault = fault_of(response.status_code, media_type, response.content)
        if fault is None:
            fault = self.breach(case, response)
        if fault is not None:
            command = case.as_curl_command()[:SHOWN_COMMAND]
            self.outcome.fault(f"{kind.name}: {fault} | {command}")

    @staticmethod
    def breach(case: Any, response: Any) -> str | None:
        """Return what the document does not allow in an answer, or None."""
        checks = [status_code_conformance, content_type_conformance]
        if "fields" not in (case.query or {}):
            # A part of an answer lacks fields by the caller's own choice.
            checks.append(response_schema_conformance)
        try:
            case.validate_response(response, checks=checks)
        except (Failure, FailureGroup) as failure:
            return str(failure)[:600]
        return None


def run(running: Installation, cases: int, seeded: int) -> Outcome:
    """
    Send random requests to every operation.

    Parameters
    ----------
    running : Installation
        The service.
    cases : int
        Requests, over all operations.
    seeded : int
        Decides the requests.
    """
    outcome = Outcome(PART, "requests")
    operations = Operations(running, outcome)
    operations.run(cases, seeded)
    outcome.remarks += [
        f"{operations.operations} operations",
        f"slowest {operations.slowest[0]:.1f} s ({operations.slowest[1]})",
        "bodies beside JSON: "
        + ", ".join(f"{count:,} {name}" for name, count in sorted(operations.bodies.items())),
        "answers: "
        + ", ".join(
            f"{count:,} × {status}" for status, count in sorted(operations.statuses.items())
        ),
    ]
    return outcome.finished()
