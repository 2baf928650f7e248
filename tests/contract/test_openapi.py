"""
The contract under random requests: what the document allows is answered, the rest is refused.

Some rules cannot be written in JSON Schema; a request that breaks only these is not held against
the service: the range of a number that stands in a text, keys that only the catalogue knows, what
only chemistry can tell (a label whose nitrogen does not add up, a strength that no amount of the
product gives, a product whose contents do not tell its role), the order of dates, for GET
parameters that exclude or need each other, and parameters that say something of tables only;
`field` belongs to `.txt`, needs it, and names a number that the answer has.
"""

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.core.transport import Response
from schemathesis.specs.openapi.checks import (
    negative_data_rejection,
    positive_data_acceptance,
    response_schema_conformance,
)

from service.api.batch_contract import MIX_PARAMETERS
from service.api.negotiation import MEDIA_TYPES
from service.api.validation import LABEL_CODES
from service.main import create_app
from service.planning.notes import NOTED_PROBLEMS
from service.settings import Settings

# Bodies of these are written as the text that was made up for them.
schemathesis.serializer.alias([MEDIA_TYPES["xlsx"], MEDIA_TYPES["ndjson"]], "text/plain")
schema = schemathesis.openapi.from_asgi(
    "/openapi.json", create_app(Settings(limit_request_seconds=300.0))
)

EXAMPLES_PER_OPERATION = 10
EXAMPLES_OF_A_SEARCH = 4

TEXT_RANGES = {"out_of_range", "not_finite", "not_a_whole_number"}
CATALOGUE_KEYS = {"unknown_key", "unknown_product", "unknown_plant"}
CHEMISTRY = {notice.code for notice in NOTED_PROBLEMS} | set(LABEL_CODES) | {"role_unclear"}
DATES = {"dates_out_of_order", "period_too_long", "phases_overlap"}
MAPS = ("#/target_mg_per_l/", "#/weights/")
ONE_NUMBER = {"missing", "no_value", "not_allowed"}
OF_TABLES = {"columns", "sheet", *MIX_PARAMETERS}
RELATIONS_OF_PARAMETERS = {"contradiction", "missing", "unknown_basis", "unknown_parameter"}


def breaks_only_unwritten_rules(method: str, response: Response) -> bool:
    if response.status_code != 422:
        return False
    return all(
        (error["code"] in TEXT_RANGES and isinstance(error.get("received"), str))
        or error["code"] in CATALOGUE_KEYS
        or error["code"] in CHEMISTRY | DATES
        or (error["code"] == "contradiction" and (error.get("pointer") or "").startswith(MAPS))
        or (error.get("parameter") == "field" and error["code"] in ONE_NUMBER)
        or error.get("parameter") in OF_TABLES
        or (method == "GET" and error["code"] in RELATIONS_OF_PARAMETERS)
        for error in response.json()["errors"]
    )


def rejects_rows(response: Response) -> bool:
    """Tell whether a batch answers wrong rows in their place, as it is meant to."""
    if response.status_code != 200 or "json" not in response.headers["content-type"][0]:
        return False
    answer = response.json()
    return isinstance(answer, dict) and answer.get("summary", {}).get("rejected", 0) > 0


SEARCHES = "recipes|stock-plans"
"""Operations that search among many plans, seconds for one answer: fewer examples of these."""


@schema.exclude(path_regex=SEARCHES).parametrize()
@settings(
    max_examples=EXAMPLES_PER_OPERATION,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)
def test_service_answers_what_the_document_allows(case: schemathesis.Case) -> None:
    answered_as_documented(case)


@schema.include(path_regex=SEARCHES).parametrize()
@settings(
    max_examples=EXAMPLES_OF_A_SEARCH,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)
def test_searches_answer_what_the_document_allows(case: schemathesis.Case) -> None:
    answered_as_documented(case)


def answered_as_documented(case: schemathesis.Case) -> None:
    response = case.call()
    unwritten = breaks_only_unwritten_rules(case.method, response)
    # Any text is a table to JSON Schema: what is wrong with one is tested by hand.
    is_table = case.media_type not in (None, "application/json")
    excluded = []
    if unwritten or is_table:
        excluded.append(positive_data_acceptance)
    if is_table or rejects_rows(response):
        excluded.append(negative_data_rejection)
    if "fields" in (case.query or {}):
        # A part of an answer, by the caller's own choice, lacks fields that the whole has.
        excluded.append(response_schema_conformance)
    case.validate_response(response, excluded_checks=excluded)


@pytest.mark.anyio
async def test_every_example_of_the_document_is_accepted(client: httpx.AsyncClient) -> None:
    document = (await client.get("/openapi.json")).json()
    tried = 0
    for path, item in document["paths"].items():
        bodies = item.get("post", {}).get("requestBody", {}).get("content", {})
        for media_type in ("text/csv", "application/x-ndjson"):
            for example in bodies.get(media_type, {}).get("examples", {}).values():
                response = await client.post(
                    path, content=example["value"].encode(), headers={"Content-Type": media_type}
                )
                assert response.status_code == 200, response.text
                tried += 1
        if "application/json" in bodies:
            for example in bodies["application/json"]["examples"].values():
                response = await client.post(path, json=example["value"])
                assert response.status_code == 200, response.text
                tried += 1
    assert tried >= 9
