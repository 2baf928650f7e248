"""From a validated request about a pot to a plan, and the fields that stand around its results."""

from collections.abc import Callable
from typing import Any, TypeVar

from pydantic import BaseModel

from service.api.assumptions import assumptions_of
from service.api.dosing import fault_of
from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import invalid_request
from service.api.provenance import versions
from service.planning.catalogue import Catalogue
from service.planning.containers import named_profile
from service.planning.notes import Notes, RefusalError

Plan = TypeVar("Plan")


def planned_pot(
    asked: Any, base: Catalogue, plan: Callable[[Any, int, Catalogue, Notes], Plan]
) -> tuple[Plan, Catalogue, Notes]:
    """
    Plan one request about a pot.

    Parameters
    ----------
    asked : BaseModel
        A request with `plants`.
    base : Catalogue
        The catalogue of the installation.
    plan : callable
        The planner.

    Raises
    ------
    ProblemError
        422 when the request has no answer.
    """
    notes, names = Notes(), OpenCatalogue(base)
    try:
        profile = named_profile(asked.plants, names, notes)
        catalogue = names.closed()
        return plan(asked, profile, catalogue, notes), catalogue, notes
    except NamingError as error:
        raise invalid_request(error.fault) from None
    except RefusalError as error:
        raise invalid_request(fault_of(error.notice)) from None


def around(
    asked: BaseModel,
    notes: Notes,
    inputs: dict[str, Any],
    models: list[str],
    sources: list[str],
) -> dict[str, Any]:
    """Return the fields around the results, feasible ones."""
    read = [
        {"code": note.code, "field": note.field, "message": note.message}
        for note in assumptions_of(asked)
    ]
    return {
        "conflicts": [],
        "nearest": None,
        "display": {},
        "inputs": inputs,
        "assumptions": read + notes.assumptions,
        "cautions": notes.cautions,
        "models": models,
        "sources": sources,
        "version": versions(),
    }
