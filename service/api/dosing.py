"""
From a validated request to a planned row, and from the row to the fields of an answer.

The routes of targets, dilutions and doses share these few steps: name the products, fill one row,
plan it, refuse it with a problem document when it has no answer.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from service.api.assumptions import NotedAssumption
from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import ProblemError, invalid_request
from service.api.provenance import versions
from service.api.validation import FieldError
from service.planning import rows
from service.planning.answer_range import range_fields
from service.planning.can_split import can_split
from service.planning.card import card_fields
from service.planning.catalogue import Catalogue
from service.planning.cautions import Notice
from service.planning.doses import plan, plan_targets
from service.planning.evidence import models_of, sources_of
from service.planning.feasibility import conflicts, nearest_feasible
from service.planning.readout import readout
from service.planning.requests import fill_row
from service.planning.steps import mixing_steps
from service.planning.understood import understood
from service.planning.words import (
    NumbersInWords,
    assumptions_in_words,
    cautions_in_words,
    problem_of,
)

UNCONFIRMED: Final = "forward_check_failed"
"""Problem of an answer that fails its own check: the service's fault, not the caller's."""


@dataclass(frozen=True)
class Planned:
    """
    One planned row with the catalogue that it refers to, and the row as it was asked.

    Row and result are readouts; `records` are both as records, for kernels take no readouts. The
    row as it was asked is a record.
    """

    row: Any
    result: Any
    catalogue: Catalogue
    records: tuple[Any, Any]
    asked: Any = None


def pointer_of(field: str | None) -> str | None:
    """Return the JSON pointer of a dotted field name."""
    return None if field is None else "#/" + field.replace(".", "/")


def fault_of(problem: Notice) -> FieldError:
    """Return the fault that a problem of a row is."""
    return FieldError(pointer=pointer_of(problem.field), code=problem.code, detail=problem.message)


def planned(request: BaseModel, base: Catalogue, *, limited: bool) -> Planned:
    """
    Plan one request.

    Parameters
    ----------
    request : BaseModel
        A dose or a dilution.
    base : Catalogue
        The catalogue of the installation.
    limited : bool
        Whether the plant's ceilings bind.

    Raises
    ------
    ProblemError
        422 when a product is unknown or the request has no answer; 500 when the answer fails its
        own check.
    """
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    names = OpenCatalogue(base)
    try:
        fill_row(requests[0], results[0], request, names, limited=limited)
    except NamingError as error:
        raise invalid_request(error.placed(request)) from None
    return plan_filled(requests, results, names.closed())


def plan_filled(
    requests: NDArray[np.void], results: NDArray[np.void], catalogue: Catalogue
) -> Planned:
    """
    Plan a row that was read.

    Parameters
    ----------
    requests, results : ndarray, shape (1,)
        Its records; the planners fill them in.
    catalogue : Catalogue
        Everything that it names.

    Raises
    ------
    ProblemError
        422 when the request has no answer; 500 when the answer fails its own check.
    """
    asked = rows.copied(requests)[0]
    plan(requests, results, catalogue)
    found = readout(results)
    problem = problem_of(found)
    if problem is not None:
        raise refusal(problem)
    return Planned(readout(requests), found, catalogue, (requests[0], results[0]), asked)


def planned_target(request: BaseModel, base: Catalogue) -> Planned:
    """
    Find the ceilings of one request, without a can.

    Parameters
    ----------
    request : BaseModel
        A target request.
    base : Catalogue
        The catalogue of the installation.

    Raises
    ------
    ProblemError
        422 when the air is outside the range in which feeding is judged.
    """
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    names = OpenCatalogue(base)
    try:
        fill_row(requests[0], results[0], request, names, limited=True)
    except NamingError as error:
        raise invalid_request(error.placed(request)) from None
    catalogue = names.closed()
    plan_targets(requests, results, catalogue)
    found = readout(results)
    problem = problem_of(found)
    if problem is not None:
        raise refusal(problem)
    return Planned(readout(requests), found, catalogue, (requests[0], results[0]))


def refusal(problem: Notice) -> ProblemError:
    """Return the problem document of a row that has no answer."""
    if problem.code == UNCONFIRMED:
        return ProblemError("failed_check", problem.message, [fault_of(problem)])
    return invalid_request(fault_of(problem))


def envelope(
    plan_of: Planned, notes: Iterable[NotedAssumption], *, solution: bool = True
) -> dict[str, Any]:
    """
    Return the fields that stand around the results of a single answer.

    Parameters
    ----------
    plan_of : Planned
        The planned row.
    notes : iterable of NotedAssumption
        How texts of the request were read, from `assumptions_of`.
    solution : bool
        Whether a can was planned, or ceilings alone.
    """
    row, result, catalogue = plan_of.row, plan_of.result, plan_of.catalogue
    read = [{"code": note.code, "field": note.field, "message": note.message} for note in notes]
    words = NumbersInWords(row, result, catalogue)
    return {
        "conflicts": conflicts(row, result),
        "nearest": nearest_feasible(row, result, catalogue, plan_of.asked),
        "display": {},
        "inputs": understood(row, catalogue, solution=solution),
        "assumptions": read + assumptions_in_words(row, result, catalogue, words),
        "cautions": cautions_in_words(row, result, catalogue, words),
        "models": models_of(row, solution=solution),
        "sources": sources_of(row, catalogue),
        "version": versions(),
    }


def card(plan_of: Planned) -> dict[str, Any]:
    """Return the flat results of a planned row."""
    return card_fields(plan_of.row, plan_of.result, plan_of.catalogue)


def bounds(plan_of: Planned) -> dict[str, Any] | None:
    """Return between which bounds the answer lies where water or label leave it open."""
    return range_fields(plan_of.asked, plan_of.result, plan_of.catalogue)


def split(plan_of: Planned) -> dict[str, Any] | None:
    """Return the equal cans of a dose that is larger than the largest can."""
    found = can_split(plan_of.asked, plan_of.result, plan_of.catalogue)
    if found is None:
        return None
    fields = card_fields(found.row, found.result, plan_of.catalogue)
    names = ("volume_l", "additions", "acid_volume_ml", "acid_mass_g", "predicted_ec_ms_per_cm")
    return {
        "count": found.count,
        **{name: fields[name] for name in names},
        "steps": mixing_steps(found.row, found.result, plan_of.catalogue),
    }


def steps(plan_of: Planned) -> list[dict[str, Any]]:
    """Return what to do at the bench."""
    return mixing_steps(plan_of.row, plan_of.result, plan_of.catalogue)
