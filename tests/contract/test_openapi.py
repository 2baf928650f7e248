"""
The contract under random requests: what the document allows is answered, the rest is refused.

Three rules cannot be written in JSON Schema; a request that breaks only these is not held against
the service: the range of a number that stands in a text, keys that only the catalogue knows, and
(for GET) parameters that exclude or need each other.
"""

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.core.transport import Response
from schemathesis.specs.openapi.checks import positive_data_acceptance

from tests.contract.probe import probe_app

schema = schemathesis.openapi.from_asgi("/openapi.json", probe_app())

EXAMPLES_PER_OPERATION = 20

TEXT_RANGES = {"out_of_range", "not_finite", "not_a_whole_number"}
CATALOGUE_KEYS = {"unknown_key", "unknown_product", "unknown_plant"}
RELATIONS_OF_PARAMETERS = {"contradiction", "missing", "unknown_basis", "unknown_parameter"}


def breaks_only_unwritten_rules(method: str, response: Response) -> bool:
    if response.status_code != 422:
        return False
    return all(
        (error["code"] in TEXT_RANGES and isinstance(error.get("received"), str))
        or error["code"] in CATALOGUE_KEYS
        or (method == "GET" and error["code"] in RELATIONS_OF_PARAMETERS)
        for error in response.json()["errors"]
    )


@schema.parametrize()
@settings(
    max_examples=EXAMPLES_PER_OPERATION,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)
def test_service_answers_what_the_document_allows(case: schemathesis.Case) -> None:
    response = case.call()
    unwritten = breaks_only_unwritten_rules(case.method, response)
    case.validate_response(
        response, excluded_checks=[positive_data_acceptance] if unwritten else []
    )


@pytest.mark.anyio
async def test_every_example_of_the_document_is_accepted(client: httpx.AsyncClient) -> None:
    document = (await client.get("/openapi.json")).json()
    tried = 0
    for path, item in document["paths"].items():
        for content in item.get("post", {}).get("requestBody", {}).get("content", {}).values():
            for example in content["examples"].values():
                response = await client.post(path, json=example["value"])
                assert response.status_code == 200, response.text
                tried += 1
    assert tried >= 9
