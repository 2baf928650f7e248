"""Products of a request that stand in a list with an amount for a litre, as parts of a mix."""

from collections.abc import Sequence

from fastapi import Request

from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import invalid_request
from service.api.recipe_inputs import label_of
from service.api.schemas.solutions import MixAddition
from service.planning.mix_parts import MixPart, mix_part
from service.planning.notes import Notes


def recipe_parts(
    request: Request, listed: Sequence[MixAddition], place: str, notes: Notes
) -> list[MixPart]:
    """
    Return the products of a list.

    Parameters
    ----------
    request : Request
        Carries the catalogue.
    listed : sequence of MixAddition
        Products with their amounts.
    place : str
        Name of the field that the list stands in.
    notes : Notes
        Receives what labels leave open.
    """
    names = OpenCatalogue(request.app.state.catalogue)
    positions = []
    for number, each in enumerate(listed):
        try:
            positions.append(names.product_position(each.product))
        except NamingError as error:
            inside = (error.fault.pointer or "#").removeprefix("#")
            pointer = f"#/{place}/{number}{inside}"
            raise invalid_request(error.fault.model_copy(update={"pointer": pointer})) from None
    known = names.closed()
    return [
        mix_part(
            known.product_rows[position],
            each.g_per_l,
            each.ml_per_l,
            label_of(each.product, request),
            f"{place}.{number}",
            notes,
        )
        for number, (position, each) in enumerate(zip(positions, listed, strict=True))
    ]
