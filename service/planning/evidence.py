"""What a dose rests on: the models that were computed and the sources of its numbers."""

from typing import Any, Final

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.reference.acids import acids
from service.reference.plants import plants

STRENGTH_MODELS: Final = ("wagner-pruss-2002", "velamen-strength-in-air")
SOLUTION_MODELS: Final = ("parkhurst-appelo-2013", "onsager-1927", "kell-1975")
ACID_MODELS: Final = ("stumm-morgan-1996", "laliberte-2009")

SOLUTION_SOURCES: Final = ("prohaska-2022",)


def models_of(row: Any, *, solution: bool = True) -> list[str]:
    """
    Return the keys of the models behind an answer.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request.
    solution : bool
        Whether a solution was computed, or ceilings alone.

    Returns
    -------
    list of str
        Keys of `/v1/sources`.
    """
    models: list[str] = []
    if row["limited"] == 1:
        models += STRENGTH_MODELS
    if solution:
        models += SOLUTION_MODELS
        if row["acid_kind"] != rows.ABSENT:
            models += ACID_MODELS
    return models


def sources_of(row: Any, catalogue: Catalogue) -> list[str]:
    """
    Return the keys of the sources of an answer's numbers.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of str
        Keys of `/v1/sources`, each once.
    """
    keys: dict[str, None] = dict.fromkeys(SOLUTION_SOURCES)
    profile = plants().get(catalogue.profile_names[row["profile"]])
    if profile is not None:
        keys |= dict.fromkeys(
            limit.provenance.source
            for limit in (
                *profile.meter_ceilings_ppm.values(),
                profile.nitrogen_ceiling_mg_per_l,
                profile.ammonium_and_urea_share_max,
                *profile.micronutrient_maxima_mg_per_l.values(),
            )
        )
    for slot in range(int(row["product_count"])):
        keys |= dict.fromkeys(catalogue.product_rows[row["product"][slot]].sources)
    if row["acid_kind"] != rows.ABSENT:
        kind = (rows.ACID_KINDS + rows.BASE_KINDS)[row["acid_kind"]]
        keys |= dict.fromkeys(acids()[kind].sources)
    return list(keys)
