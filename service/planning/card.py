"""
From a finished row to the words and numbers of an answer.

Nothing is computed here that a kernel has not computed; this is where positions become keys,
bits become sentences and additions stand in the order in which they go into the can.
"""

import math
from typing import Any, Final

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.instruments import pre_solution_strength, rounded_amount
from service.planning.products import IS_STIMULANT
from service.planning.targets import DOSING_SCALE
from service.reference.components import (
    CALCIUM,
    ELEMENT_NAMES,
)

DEFAULT_ACID: Final = (rows.ACID_KINDS + rows.BASE_KINDS).index("citric")
METER_SCALES: Final = (500, 640, 700)
_METER_FIELDS: Final = {f"meter_ppm_{scale}": scale for scale in METER_SCALES}
NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")
CALCIUM_ROW: Final = ELEMENT_NAMES.index("calcium")
MAGNESIUM_ROW: Final = ELEMENT_NAMES.index("magnesium")
OK: Final = rows.STATUSES.index("ok")
INFEASIBLE: Final = rows.STATUSES.index("infeasible")
REJECTED: Final = rows.STATUSES.index("rejected")


def number(value: float) -> float | None:
    """
    Return a finite number, or None where there is none.

    Parameters
    ----------
    value : float
        A number of a result row.

    Returns
    -------
    float or None
        The number as a plain float.
    """
    plain = float(value)
    return plain if math.isfinite(plain) else None


def mixing_order(row: Any, result: Any, catalogue: Catalogue) -> list[int]:
    """
    Return the slots of a can in the order in which they go in.

    Calcium last among the feeds, into the diluted rest; a stimulant after everything else.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Names the products.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of int
        Positions in the row's products.
    """

    def place(slot: int) -> tuple[bool, bool, int]:
        product = catalogue.product_table[row["product"][slot]]
        return bool(product[IS_STIMULANT]), bool(product[CALCIUM] > 0.0), slot

    return sorted(range(int(row["product_count"])), key=place)


def additions(row: Any, result: Any, catalogue: Catalogue) -> list[dict[str, Any]]:
    """
    Return what goes into the can, in order.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Names the products.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of dict
        One object per product: `order`, `product`, `mass_g` or `volume_ml`, the exact amount, and
        the pre-stock to use where the amount cannot be measured directly.
    """
    listed = []
    for order, slot in enumerate(mixing_order(row, result, catalogue), start=1):
        product = catalogue.product_rows[row["product"][slot]]
        amount = float(result["amount"][slot])
        exact = float(result["exact_amount"][slot])
        strength = float(result["pre_stock_g_per_l"][slot])
        pre_stock = None
        if strength > 0.0:
            pre_stock = {
                "g_per_l": None if product.liquid else strength,
                "ml_per_l": strength if product.liquid else None,
                "volume_ml": float(result["pre_stock_ml"][slot]),
            }
        listed.append(
            {
                "order": order,
                "product": product.key,
                "mass_g": None if product.liquid else amount,
                "volume_ml": amount if product.liquid else None,
                "exact_mass_g": None if product.liquid else exact,
                "exact_volume_ml": exact if product.liquid else None,
                "pre_stock": pre_stock,
            }
        )
    return listed


def acid_portion(row: Any, result: Any) -> dict[str, Any] | None:
    """
    Return what of the acid or base goes into the can, as it is measured.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Names the acid.
    result : record of `rows.DOSE_RESULT`
        The finished row.

    Returns
    -------
    dict or None
        `name` (with strength and dilution), `amount` and its `first` half in steps of the syringe,
        `unit`, `amount_text` and `weaker_g_per_l`, above 0 where crystals are too few to weigh and
        a solution of them is measured; None without acid.
    """
    if not result["acid_mmol_per_l"] > 0.0:
        return None
    kind = int(row["acid_kind"])
    key = (rows.ACID_KINDS + rows.BASE_KINDS)[kind if kind != rows.ABSENT else DEFAULT_ACID]
    name = f"{key} acid" if key in rows.ACID_KINDS else key.replace("_", " ")
    percent = row["acid_percent"]
    strength = f" {percent:g} %" if math.isfinite(percent) else ""
    volume, factor = float(result["acid_volume_ml"]), float(result["acid_dilution_factor"])
    step, weaker = float(row["syringe_resolution_ml"]), 0.0
    if not math.isfinite(volume):
        mass, resolution = float(result["acid_mass_g"]), float(row["balance_resolution_g"])
        weaker = pre_solution_strength(mass, resolution, step, float(result["volume_l"]))
        if weaker == 0.0:
            weighed = rounded_amount(mass, resolution, True)
            return {
                "name": f"{name}{strength}",
                "amount": weighed,
                "first": rounded_amount(0.5 * weighed, resolution, True),
                "unit": "g",
                "amount_text": f"{float(f'{weighed:.6g}'):g} g",
                "weaker_g_per_l": 0.0,
            }
        volume, factor = 1000.0 * mass / weaker, 1.0
    measured = round(volume * factor / step) * step
    made = f"{weaker:g} g/L " if weaker > 0.0 else f"1-in-{factor:.0f} " if factor > 1.0 else ""
    return {
        "name": f"{made}{name}{strength}",
        "amount": measured,
        "first": round(0.5 * measured / step) * step,
        "unit": "mL",
        "amount_text": f"{float(f'{measured:.6g}'):g} mL",
        "weaker_g_per_l": weaker,
    }


def meter_readings(conductivity: float | None) -> dict[str, float | None]:
    """
    Return a conductivity as the three meter scales show it.

    Parameters
    ----------
    conductivity : float or None
        Conductivity at 25 degC [mS/cm].

    Returns
    -------
    dict
        `meter_ppm_500`, `meter_ppm_640` and `meter_ppm_700`.
    """
    if conductivity is None:
        return dict.fromkeys(_METER_FIELDS)
    return {name: conductivity * scale for name, scale in _METER_FIELDS.items()}


def target_fields(result: Any) -> dict[str, Any]:
    """
    Return the strength that plants and air allow.

    Parameters
    ----------
    result : record of `rows.DOSE_RESULT`
        A row whose targets are filled in.

    Returns
    -------
    dict
        Flat fields of the answer.
    """
    conductivity = number(result["ec_ceiling_ms_per_cm"])
    return {
        "meter_ppm": number(result["meter_ppm"]),
        "meter_scale": int(DOSING_SCALE),
        **meter_readings(conductivity),
        "ec_ms_per_cm": conductivity,
        "nitrogen_mg_per_l": number(result["nitrogen_ceiling_mg_per_l"]),
        "ammonium_and_urea_nitrogen_mg_per_l": number(result["ammonium_ceiling_mg_per_l"]),
        "vapour_pressure_deficit_kpa": number(result["vapour_pressure_deficit_kpa"]),
        "projected_ec_ms_per_cm": number(result["projected_ec_ms_per_cm"]),
    }


def achieved_strength(row: Any, result: Any, catalogue: Catalogue) -> dict[str, Any]:
    """
    Return how strong the finished can is, in every way that growers say it.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Names the products.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    dict
        Product per litre, nitrogen, conductivity and meter readings.
    """
    single = int(row["product_count"]) == 1
    liquid = single and catalogue.product_rows[row["product"][0]].liquid
    per_litre = float(result["amount"][0] / result["volume_l"]) if single else None
    conductivity = number(result["predicted_ec_ms_per_cm"])
    return {
        "product_g_per_l": None if liquid else per_litre,
        "product_ml_per_l": per_litre if liquid else None,
        "nitrogen_mg_per_l": number(result["elements_mg_per_l"][NITROGEN]),
        "ec_ms_per_cm": conductivity,
        **meter_readings(conductivity),
    }


def card_fields(row: Any, result: Any, catalogue: Catalogue) -> dict[str, Any]:
    """
    Return the flat results of a dose or a dilution.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    dict
        Flat fields of the answer, None where there is no number.
    """
    infeasible = result["status"] == INFEASIBLE
    single = int(row["product_count"]) == 1 and not infeasible
    product = catalogue.product_rows[row["product"][0]] if single else None
    amount = float(result["amount"][0]) if single else None
    conductivity = number(result["predicted_ec_ms_per_cm"])
    elements = result["elements_mg_per_l"]
    return {
        "status": rows.STATUSES[result["status"]],
        "product_mass_g": amount if product is not None and not product.liquid else None,
        "product_volume_ml": amount if product is not None and product.liquid else None,
        "additions": [] if infeasible else additions(row, result, catalogue),
        "volume_l": number(result["volume_l"]),
        "volume_per_plant_ml": number(result["volume_per_plant_ml"]),
        "binding_limit": rows.BINDING_LIMITS[result["binding_limit"]],
        **{
            name: None if infeasible else number(result[name])
            for name in (
                "acid_volume_ml",
                "acid_mass_g",
                "acid_mmol_per_l",
                "acid_dilution_factor",
            )
        },
        "vapour_pressure_deficit_kpa": number(result["vapour_pressure_deficit_kpa"]),
        "predicted_ec_ms_per_cm": conductivity,
        **meter_readings(conductivity),
        "predicted_ph": number(result["predicted_ph"]),
        "predicted_ph_open": number(result["predicted_ph_open"]),
        "nitrogen_mg_per_l": number(elements[NITROGEN]),
        "nitrogen_mg_per_plant_per_month": number(result["nitrogen_mg_per_plant_per_month"]),
        "elements_mg_per_l": {
            name: number(elements[position]) for position, name in enumerate(ELEMENT_NAMES)
        },
        "saturation": [
            {
                "solid": solid,
                "index": number(result["saturation"][position]),
                "index_open": number(result["saturation_open"][position]),
            }
            for position, solid in enumerate(rows.SOLIDS_IN_ANSWERS)
        ],
        "feasible_water_share_percent": number(result["feasible_water_share_percent"]),
    }
