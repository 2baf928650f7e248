"""An application left open: what is due today decides it, and which products go into the can."""

from typing import Any

from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import invalid_request
from service.api.schemas.doses import TodaysDoseRequest
from service.planning.catalogue import Catalogue
from service.planning.due_today import Record, due_today


def decided(
    asked: TodaysDoseRequest, base: Catalogue
) -> tuple[TodaysDoseRequest, dict[str, Any] | None]:
    """
    Return the request with its application decided, and what is due.

    Parameters
    ----------
    asked : TodaysDoseRequest
        A dose; one that is not `auto`, or says nothing of what was last given, is returned as it
        is.
    base : Catalogue
        The catalogue of the installation.

    Raises
    ------
    ProblemError
        422 when a product is unknown.
    """
    last = asked.last_applied
    if asked.application != "auto" or last is None or asked.today is None:
        return asked, None
    several = asked.products or []
    shelf = [each.product for each in several]
    if asked.product is not None:
        shelf.append(asked.product)
    names = OpenCatalogue(base)
    try:
        positions = [names.product_position(each) for each in shelf]
    except NamingError as error:
        raise invalid_request(error.placed(asked)) from None
    known = names.closed()
    due, places = due_today(
        Record(
            asked.today,
            {
                name: when
                for name in type(last).model_fields
                if (when := getattr(last, name)) is not None
            },
            asked.hemisphere,
            asked.interval_days,
        ),
        asked.plants,
        asked.air,
        [known.product_rows[position] for position in positions],
    )
    changes: dict[str, Any] = {"application": due.kind}
    if not places:
        changes = {"application": "flush", "product": None, "products": None, "strength": None}
    elif several:
        changes["products"] = [several[place] for place in places]
    said = {"application": due.kind, "flush_first": due.flush_first, "reasons": list(due.reasons)}
    return asked.model_copy(update=changes), said
