"""Whether an answer that is no result is a problem document."""

import json
from typing import Final

PROBLEM_MEDIA_TYPE: Final = "application/problem+json"
MEMBERS: Final = {"type", "title", "status", "detail", "instance", "errors"}
SELF_CHECK: Final = "/problems/failed_check"
"""The one failure that the service answers on purpose."""


def fault_of(status: int, media_type: str, body: bytes) -> str | None:
    """
    Return what is wrong with an answer, or None.

    Statuses below 300 and 304 are results; everything else has to be a problem document, and of
    5xx only a failed check of the service's own is one that may be.
    """
    if status < 300 or status == 304:
        return None
    if media_type.partition(";")[0].strip() != PROBLEM_MEDIA_TYPE:
        return f"{status} is {media_type or 'untyped'}, not a problem document: {body[:200]!r}"
    try:
        document = json.loads(body)
    except ValueError:
        return f"{status} is no JSON: {body[:200]!r}"
    if not isinstance(document, dict) or set(document) != MEMBERS:
        return f"{status} lacks members of a problem document: {body[:200]!r}"
    if document["status"] != status or not document["detail"]:
        return f"{status} says {document['status']} with {document['detail']!r}"
    if status >= 500 and document["type"] != SELF_CHECK:
        return f"{status}: {document['detail']}"
    return None
