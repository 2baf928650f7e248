"""The few numbers that a row of a batch is answered with, for all rows at once."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.card import INFEASIBLE, NITROGEN, REJECTED
from service.planning.catalogue import Catalogue

ALWAYS: Final = (
    "volume_l",
    "predicted_ec_ms_per_cm",
    "predicted_ph",
    "predicted_ph_open",
    "nitrogen_mg_per_plant_per_month",
    "feasible_water_share_percent",
)
"""Results that a row has whether its can is feasible or not."""

OF_A_CAN: Final = ("acid_volume_ml", "acid_mass_g")
"""Results that only a can that is to be mixed has."""


def compact_numbers(
    requests: NDArray[np.void], results: NDArray[np.void], catalogue: Catalogue
) -> dict[str, NDArray[np.float64]]:
    """
    Return the flat results of many rows, column by column.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        The requests, defaults filled in.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        The finished rows.
    catalogue : Catalogue
        Tables that the rows refer to.

    Returns
    -------
    dict of str to ndarray of float, shape (n_rows,)
        NaN where a row has no such number; the names and meanings are those of `card_fields`.
    """
    answered = results["status"] != REJECTED
    mixed = answered & (results["status"] != INFEASIBLE)
    single = mixed & (requests["product_count"] == 1)
    liquid = np.array([product.liquid for product in catalogue.product_rows], dtype=bool)
    by_volume = liquid[np.where(single, requests["product"][:, 0], 0)]
    amount = results["amount"][:, 0]
    columns = {
        "product_mass_g": np.where(single & ~by_volume, amount, np.nan),
        "product_volume_ml": np.where(single & by_volume, amount, np.nan),
        "nitrogen_mg_per_l": np.where(answered, results["elements_mg_per_l"][:, NITROGEN], np.nan),
    }
    for name in ALWAYS:
        columns[name] = np.where(answered, results[name], np.nan)
    for name in OF_A_CAN:
        columns[name] = np.where(mixed, results[name], np.nan)
    return {name: np.where(np.isfinite(column), column, np.nan) for name, column in columns.items()}


def binding_limits(results: NDArray[np.void]) -> list[Any]:
    """
    Return what decided the amount of each row.

    Parameters
    ----------
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        The finished rows.

    Returns
    -------
    list of str or None
        Names from `rows.BINDING_LIMITS`; None for a row without an answer.
    """
    names = np.array([*rows.BINDING_LIMITS, None], dtype=object)
    rejected = results["status"] == REJECTED
    chosen: list[Any] = names[np.where(rejected, len(names) - 1, results["binding_limit"])].tolist()
    return chosen


def figures(column: NDArray[np.float64], digits: int) -> NDArray[np.float64]:
    """
    Return numbers rounded to significant digits.

    Parameters
    ----------
    column : ndarray of float, shape (n_rows,)
        NaN where there is no number.
    digits : int
        Significant digits that are kept.

    Returns
    -------
    ndarray of float, shape (n_rows,)
        NaN where there was none.
    """
    known = np.isfinite(column) & (column != 0.0)
    exponent = np.floor(np.log10(np.abs(np.where(known, column, 1.0))))
    places = digits - 1 - exponent
    # Powers of ten are exact only upwards: scale by the one that is.
    up, down = 10.0 ** np.maximum(places, 0.0), 10.0 ** np.maximum(-places, 0.0)
    shown: NDArray[np.float64] = (
        np.where(known, np.rint(column * up / down) / up * down, column) + 0.0
    )
    return shown


def rounded(column: NDArray[np.float64], digits: int) -> list[float | None]:
    """
    Return numbers rounded to significant digits.

    Parameters
    ----------
    column : ndarray of float, shape (n_rows,)
        NaN where there is no number.
    digits : int
        Significant digits that are kept.

    Returns
    -------
    list of float or None
        None for NaN.
    """
    numbers: list[float | None] = figures(column, digits).tolist()
    for position in np.flatnonzero(np.isnan(column)).tolist():
        numbers[position] = None
    return numbers
