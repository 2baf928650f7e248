"""The working of the amounts of a can: from each strength to what the balance shows."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from service.planning import products, rows
from service.planning.catalogue import Catalogue
from service.planning.explain.can import source_of
from service.planning.explain.working import Working
from service.planning.strength import (
    BY_ELEMENT,
    BY_METER,
    BY_PRODUCT,
    counts_whole_can,
    element_mass,
    share_of_credit,
)
from service.planning.targets import DOSING_SCALE
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES

UP: Final = 0.5
DOWN: Final = 1e-9
"""What is added before a number of steps is cut to a whole one: the nearest, or never above."""


def unit_of_product(product: Any) -> str:
    """
    Return the unit in which a product is measured.

    Parameters
    ----------
    product : ProductRow
        The product.

    Returns
    -------
    str
        ``mL`` or ``g``.
    """
    return "mL" if product.liquid else "g"


def amount_lines(
    working: Working, row: Any, result: Any, catalogue: Catalogue, names: Sequence[str]
) -> None:
    """
    Add the amount of each product in a litre that its strength asks for.

    Parameters
    ----------
    working : Working
        Holds the water; receives ``{name}_requested`` for each product.
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        Holds the requested amounts.
    catalogue : Catalogue
        Knows the products.
    names : sequence of str
        Name of each product.
    """
    for slot, name in enumerate(names):
        product = catalogue.product_rows[row["product"][slot]]
        values = catalogue.product_table[row["product"][slot]]
        unit = f"{unit_of_product(product)}/L"
        requested = float(result["requested_g_per_l"][slot])
        basis = int(row["strength_basis"][slot])
        target = f"{name}_requested"
        if basis == rows.ABSENT:
            working.given(
                target, requested, unit, "no strength is sent: as much as the ceilings leave"
            )
        elif basis == BY_PRODUCT:
            _by_product(working, row, slot, product, values, target, requested)
        elif basis == BY_ELEMENT:
            _by_element(working, row, slot, product, values, target, requested)
        else:
            wanted = _wanted_conductivity(working, row, slot, name)
            base = (
                "the whole can, the other products included"
                if counts_whole_can(row, slot)
                else "the product in pure water"
            )
            working.solved(
                target,
                requested,
                f"amount at which the ions of {base} reach `{wanted}`, found by iteration",
                "onsager-1927",
                unit,
            )


def _by_product(
    working: Working,
    row: Any,
    slot: int,
    product: Any,
    values: Any,
    target: str,
    requested: float,
) -> None:
    """Add an amount that is sent as such."""
    unit = f"{unit_of_product(product)}/L"
    if product.liquid and row["strength_by_volume"][slot] != 1:
        sent = working.given(f"{target}_g_per_l", row["strength_value"][slot], "g/L")
        working.computed(
            target,
            f"{sent} / density",
            requested,
            unit,
            source_of(product),
            {"density": float(values[products.DENSITY])},
        )
        return
    working.given(target, requested, unit)


def _by_element(
    working: Working,
    row: Any,
    slot: int,
    product: Any,
    values: Any,
    target: str,
    requested: float,
) -> None:
    """Add an amount that brings an element to a concentration."""
    element = int(row["strength_element"][slot])
    said = ELEMENT_NAMES[element]
    unit = unit_of_product(product)
    wanted = working.given(f"{target}_{said}_mg_per_l", row["strength_value"][slot])
    content = working.known(
        f"{target}_{said}_content",
        float(element_mass(values[:COMPONENT_COUNT], element)),
        f"{said} in the product",
        source_of(product),
        f"mg/{unit}",
    )
    brought = "0"
    if counts_whole_can(row, slot):
        before = f"{said}_before_mg_per_l"
        brought = before if working.knows(before) else "0"
        share = float(share_of_credit(row, slot))
        if share != 1.0:
            brought = f"{brought} * {share!r}"
    working.computed(target, f"max({wanted} - {brought}, 0) / {content}", requested, f"{unit}/L")


def _wanted_conductivity(working: Working, row: Any, slot: int, name: str) -> str:
    """Add the conductivity that a strength names, and return its name."""
    value = float(row["strength_value"][slot])
    wanted = f"{name}_wanted_ec_ms_per_cm"
    if row["strength_basis"][slot] != BY_METER:
        return working.given(wanted, value)
    scale = float(row["strength_scale"][slot])
    scale = DOSING_SCALE if np.isnan(scale) else scale
    reading = working.given(f"{name}_wanted_ppm", value)
    return working.computed(wanted, f"{reading} / {scale:g}")


def measured_lines(
    working: Working, row: Any, result: Any, catalogue: Catalogue, names: Sequence[str]
) -> list[str]:
    """
    Add what of each product the balance or the syringe shows, and what that is in a litre.

    Parameters
    ----------
    working : Working
        Holds the requested amounts, the share and the volume; receives ``{name}_exact``,
        ``{name}_measured`` and ``{name}_per_l``.
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Knows the products.
    names : sequence of str
        Name of each product.

    Returns
    -------
    list of str
        Name of the amount of each product in a litre.
    """
    if not names:
        return []
    balance = working.given("balance_resolution_g", row["balance_resolution_g"])
    syringe = working.given("syringe_resolution_ml", row["syringe_resolution_ml"])
    nudge = DOWN if row["limited"] == 1 else UP
    amounts = []
    for slot, name in enumerate(names):
        product = catalogue.product_rows[row["product"][slot]]
        unit = unit_of_product(product)
        exact = working.computed(
            f"{name}_exact",
            f"{name}_requested * share_of_requested * volume_l",
            float(result["exact_amount"][slot]),
            unit,
        )
        strength = float(result["pre_stock_g_per_l"][slot])
        measured = float(result["amount"][slot])
        if strength > 0.0:
            stock = working.known(
                f"{name}_pre_stock",
                strength,
                "weakest handy pre-stock of which the syringe measures the amount well",
                None,
                f"{unit}/L",
            )
            taken = working.computed(
                f"{name}_pre_stock_ml",
                f"floor(1000 * {exact} / {stock} / {syringe} + {nudge!r}) * {syringe}",
                float(result["pre_stock_ml"][slot]),
                "mL",
            )
            working.computed(f"{name}_measured", f"{taken} * {stock} / 1000", measured, unit)
        elif not working.value(exact) > 0.0:
            working.computed(f"{name}_measured", "0", measured, unit)
        else:
            step = syringe if product.liquid else balance
            working.computed(
                f"{name}_measured",
                f"floor({exact} / {step} + {nudge!r}) * {step}",
                measured,
                unit,
            )
        amounts.append(
            working.computed(f"{name}_per_l", f"{name}_measured / volume_l", unit=f"{unit}/L")
        )
    return amounts
