"""Amounts as they are weighed and measured out, or dosed from a pre-stock."""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.planning import products
from service.planning.cautions import caution_bit
from service.planning.instruments import TRUSTED_STEPS, pre_stock_strength, rounded_amount

PRE_STOCK: Final = caution_bit("pre_stock")
NOTHING_TO_MEASURE: Final = caution_bit("nothing_to_measure")


@kernel
def measure_amounts(
    row: np.void, product_table: np.ndarray, factor: float, result: np.void
) -> None:
    """
    Turn amounts per litre into what the balance and the syringe can show.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    factor : float
        Factor on the requested amounts [dimensionless].
    result : record of `rows.DOSE_RESULT`
        Holds volume and requested amounts; receives exact and measured amounts and pre-stocks.
    """
    volume = result["volume_l"]
    downwards = row["limited"] == 1
    for slot in range(row["product_count"]):
        product = product_table[row["product"][slot]]
        liquid = product[products.IS_LIQUID] == 1.0
        exact = result["requested_g_per_l"][slot] * factor * volume
        result["exact_amount"][slot] = exact
        resolution = row["syringe_resolution_ml"] if liquid else row["balance_resolution_g"]
        result["pre_stock_g_per_l"][slot] = 0.0
        result["pre_stock_ml"][slot] = 0.0
        if exact <= 0.0:
            result["amount"][slot] = 0.0
            continue
        trusted = resolution
        if not liquid and row["balance_minimum_g"] > TRUSTED_STEPS * resolution:
            trusted = row["balance_minimum_g"] / TRUSTED_STEPS
        if exact < TRUSTED_STEPS * trusted:
            strength = pre_stock_strength(
                exact,
                trusted,
                row["syringe_resolution_ml"],
                product[products.STRONGEST_PRE_STOCK],
                volume,
            )
            if strength > 0.0:
                taken = rounded_amount(
                    1000.0 * exact / strength, row["syringe_resolution_ml"], downwards
                )
                result["pre_stock_g_per_l"][slot] = strength
                result["pre_stock_ml"][slot] = taken
                result["amount"][slot] = taken * strength / 1000.0
                result["cautions"] = result["cautions"] | PRE_STOCK
                continue
        result["amount"][slot] = rounded_amount(exact, resolution, downwards)
        if result["amount"][slot] == 0.0:
            result["cautions"] = result["cautions"] | NOTHING_TO_MEASURE
