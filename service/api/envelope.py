"""What the routes share that answer one request without planning a row."""

from collections.abc import Iterable
from typing import Any

from pydantic import BaseModel

from service.api.assumptions import assumptions_of
from service.api.dosing import fault_of
from service.api.problems import ProblemError, invalid_request
from service.api.provenance import versions
from service.planning.notes import Notes, RefusalError


def refused(error: RefusalError) -> ProblemError:
    """Return the problem document of a request that has no answer."""
    return invalid_request(fault_of(error.notice))


def envelope_of(
    request: BaseModel,
    notes: Notes,
    inputs: dict[str, Any],
    models: Iterable[str],
    sources: Iterable[str],
    *,
    conflicts: Iterable[dict[str, Any]] = (),
    nearest: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Return the fields that stand around the results of a single answer."""
    read = [
        {"code": note.code, "field": note.field, "message": note.message}
        for note in assumptions_of(request)
    ]
    return {
        "conflicts": list(conflicts),
        "nearest": nearest,
        "display": {},
        "inputs": inputs,
        "assumptions": read + notes.assumptions,
        "cautions": notes.cautions,
        "models": list(dict.fromkeys(models)),
        "sources": list(dict.fromkeys(sources)),
        "version": versions(),
    }
