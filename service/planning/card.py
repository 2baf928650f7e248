"""
From a finished row to the words and numbers of an answer.

Nothing is computed here that a kernel has not computed; this is where positions become keys,
bits become sentences and additions stand in the order in which they go into the can.
"""

from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.cautions import ASSUMPTIONS, CAUTIONS, PROBLEMS, Notice, notices
from service.planning.ceilings import MICRONUTRIENTS
from service.planning.products import IS_STIMULANT
from service.planning.profiles import (
    AMMONIUM_SHARE,
    CHLORIDE_CAUTION,
    FIRST_MICRONUTRIENT_MAXIMUM,
    PH_HIGH,
    PH_LOW,
    SODIUM_CAUTION,
)
from service.planning.targets import DOSING_SCALE
from service.reference.components import (
    AMMONIUM,
    CALCIUM,
    ELEMENT_NAMES,
    MAGNESIUM,
    UNMEASURED,
    UREA,
)
from service.reference.elements import ELEMENT_MATRIX

DEFAULT_ACID: Final = (rows.ACID_KINDS + rows.BASE_KINDS).index("citric")
METER_SCALES: Final = (500, 640, 700)
NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")
CALCIUM_ROW: Final = ELEMENT_NAMES.index("calcium")
MAGNESIUM_ROW: Final = ELEMENT_NAMES.index("magnesium")
OK: Final = rows.STATUSES.index("ok")
INFEASIBLE: Final = rows.STATUSES.index("infeasible")
REJECTED: Final = rows.STATUSES.index("rejected")

BINDING_WORDS: Final = {
    "none": "nothing",
    "requested_strength": "the strength asked for",
    "conductivity": "conductivity",
    "total_nitrogen": "total nitrogen",
    "ammonium_and_urea_nitrogen": "ammonium and urea nitrogen",
    "product_rate": "the usual rate of the product",
    **{name: name for name in MICRONUTRIENTS},
}


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
    return plain if np.isfinite(plain) else None


def problem_of(result: Any) -> Notice | None:
    """
    Return the problem of a rejected row.

    Parameters
    ----------
    result : record of `rows.DOSE_RESULT`
        A finished row.

    Returns
    -------
    Notice or None
        The problem, None for a row that has an answer.
    """
    return PROBLEMS[result["problem"]] if result["status"] == REJECTED else None


def caution_codes(result: Any) -> list[str]:
    """
    Return the caution codes of a row, for compact batch answers.

    Parameters
    ----------
    result : record of `rows.DOSE_RESULT`
        A finished row.

    Returns
    -------
    list of str
        Codes in the order of `service.planning.cautions.CAUTIONS`.
    """
    return [notice.code for notice in notices(int(result["cautions"]), CAUTIONS)]


def spoken(table: tuple[Notice, ...], bits: int, numbers: dict[str, Any]) -> list[dict[str, Any]]:
    """
    Return the notices of a row in words.

    Parameters
    ----------
    table : tuple of Notice
        `CAUTIONS` or `ASSUMPTIONS`.
    bits : int
        Bits that kernels set.
    numbers : dict
        Values for the places in the sentences, from `numbers_in_words`.

    Returns
    -------
    list of dict
        Objects with `code`, `severity`, `field` and `message`.
    """
    return [
        {
            "code": notice.code,
            "severity": notice.severity,
            "field": notice.field,
            "message": notice.words(numbers),
        }
        for notice in notices(bits, table)
    ]


def numbers_in_words(row: Any, result: Any, catalogue: Catalogue) -> dict[str, Any]:
    """
    Return what the sentences of cautions and assumptions name.

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
        Numbers and words by the names that the sentences use.
    """
    profile = catalogue.profile_table[row["profile"]]
    elements = dict(zip(ELEMENT_NAMES, result["elements_mg_per_l"].tolist(), strict=True))
    water = dict(zip(rows.WATER_FIELDS, row["water"].tolist(), strict=True))
    composition = result["composition_mmol_per_l"]
    brought = result["water_composition_mmol_per_l"]
    nitrogen = max(elements["nitrogen"], 1e-9)
    urea = float(ELEMENT_MATRIX[NITROGEN, UREA] * composition[UREA])
    ammonium = float(ELEMENT_MATRIX[NITROGEN, AMMONIUM] * composition[AMMONIUM])
    share_maximum = float(profile[AMMONIUM_SHARE])
    if row["limited"] == 1 and result["nitrogen_ceiling_mg_per_l"] > 0.0:
        share_maximum = float(
            result["ammonium_ceiling_mg_per_l"] / result["nitrogen_ceiling_mg_per_l"]
        )
    words: dict[str, Any] = {
        "binding_limit": BINDING_WORDS[rows.BINDING_LIMITS[result["binding_limit"]]],
        "share_percent": 100.0 * float(result["share_of_requested"]),
        "meter_ppm": float(result["meter_ppm"]),
        "sodium": water["sodium_mg_per_l"],
        "sodium_caution": float(profile[SODIUM_CAUTION]),
        "chloride": water["chloride_mg_per_l"],
        "chloride_caution": float(profile[CHLORIDE_CAUTION]),
        "charge_error": abs(float(result["water_charge_error_percent"])),
        "unmeasured": abs(float(result["water_composition_mmol_per_l"][UNMEASURED])),
        "water_temperature": water["temperature_celsius"],
        "credited_nitrogen": float(result["water_nitrogen_mg_per_l"])
        + float(np.nan_to_num(result["acid_nitrogen_mg_per_l"])),
        "application": rows.APPLICATIONS[max(int(row["application"]), 0)],
        "reduced_share": 100.0 * (urea + ammonium) / nitrogen,
        "reduced_share_maximum": 100.0 * share_maximum,
        "urea_share": 100.0 * urea / nitrogen,
        "ph": float(result["predicted_ph"]),
        "ph_open": float(result["predicted_ph_open"]),
        "ph_low": float(profile[PH_LOW]),
        "ph_high": float(profile[PH_HIGH]),
        "ph_spread": float(result["ph_spread"]),
        "alkalinity": water["alkalinity_mg_per_l_caco3"],
        "water_alkalinity": float(result["water_alkalinity_mg_per_l_caco3"]),
        "water_calcium": float(ELEMENT_MATRIX[CALCIUM_ROW, CALCIUM] * brought[CALCIUM]),
        "water_magnesium": float(ELEMENT_MATRIX[MAGNESIUM_ROW, MAGNESIUM] * brought[MAGNESIUM]),
        "target_ph": float(row["target_ph"]),
        "deficit": float(result["limiting_deficit_kpa"]),
        "usual_deficit": float(result["average_deficit_kpa"]),
        "acid_dilution": float(result["acid_dilution_factor"]),
        "acid_diluted_ml": float(result["acid_volume_ml"] * result["acid_dilution_factor"]),
        "blend_percent": float(result["feasible_water_share_percent"]),
        "volume_per_plant_ml": float(result["volume_per_plant_ml"]),
        **elements,
    }
    for position, solid in enumerate(rows.SOLIDS_IN_ANSWERS):
        words[solid] = float(result["saturation"][position])
        words[f"{solid}_open"] = float(result["saturation_open"][position])
    for position, element in enumerate(MICRONUTRIENTS):
        words[f"{element}_maximum"] = float(profile[FIRST_MICRONUTRIENT_MAXIMUM + position])
    return words


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
        `unit`, `amount_text`; None without acid.
    """
    if not result["acid_mmol_per_l"] > 0.0:
        return None
    kind = int(row["acid_kind"])
    key = (rows.ACID_KINDS + rows.BASE_KINDS)[kind if kind != rows.ABSENT else DEFAULT_ACID]
    name = f"{key} acid" if key in rows.ACID_KINDS else key.replace("_", " ")
    percent = row["acid_percent"]
    strength = f" {percent:g} %" if np.isfinite(percent) else ""
    volume, factor = float(result["acid_volume_ml"]), float(result["acid_dilution_factor"])
    if not np.isfinite(volume):
        mass = float(result["acid_mass_g"])
        text = f"{mass:.3g} g"
        return {
            "name": f"{name}{strength}",
            "amount": mass,
            "first": 0.5 * mass,
            "unit": "g",
            "amount_text": text,
        }
    step = float(row["syringe_resolution_ml"])
    measured = round(volume * factor / step) * step
    diluted = f"1-in-{factor:.0f} " if factor > 1.0 else ""
    return {
        "name": f"{diluted}{name}{strength}",
        "amount": measured,
        "first": round(0.5 * measured / step) * step,
        "unit": "mL",
        "amount_text": f"{float(f'{measured:.6g}'):g} mL",
    }


def conflicts(result: Any) -> list[dict[str, Any]]:
    """
    Return the limit that the water of an infeasible row passes.

    Parameters
    ----------
    result : record of `rows.DOSE_RESULT`
        The finished row.

    Returns
    -------
    list of dict
        `limit`, `needed`, `allowed` and `message`; empty for a row that is feasible.
    """
    if result["status"] != INFEASIBLE:
        return []
    limit = rows.BINDING_LIMITS[result["binding_limit"]]
    needed, allowed = None, None
    if limit == "conductivity":
        needed = number(result["water_ec_ms_per_cm"])
        allowed = number(result["ec_ceiling_ms_per_cm"])
    elif limit == "total_nitrogen":
        needed = number(result["water_nitrogen_mg_per_l"])
        allowed = number(result["nitrogen_ceiling_mg_per_l"])
    words = BINDING_WORDS[limit]
    message = f"The water alone is above the ceiling of {words}."
    return [{"limit": limit, "needed": needed, "allowed": allowed, "message": message}]


def nearest_feasible(row: Any, result: Any) -> dict[str, Any] | None:
    """
    Return the water that would do for an infeasible row: this one blended with pure water.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Holds the water.
    result : record of `rows.DOSE_RESULT`
        The finished row.

    Returns
    -------
    dict or None
        `water`, an analysis to ask again with, and the litres of both waters; None for a row that
        is feasible.
    """
    share = float(result["feasible_water_share_percent"]) / 100.0
    if result["status"] != INFEASIBLE or not 0.0 < share < 1.0:
        return None
    kept = ("ph", "temperature_celsius")
    water = {
        name: float(value) * (1.0 if name in kept else share)
        for name, value in zip(rows.WATER_FIELDS, row["water"].tolist(), strict=True)
        if np.isfinite(value)
    }
    volume = float(result["volume_l"])
    return {
        "water": {name: float(f"{value:.4g}") for name, value in water.items()},
        "this_water_l": float(f"{share * volume:.4g}"),
        "pure_water_l": float(f"{(1.0 - share) * volume:.4g}"),
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
    return {
        f"meter_ppm_{scale}": None if conductivity is None else conductivity * scale
        for scale in METER_SCALES
    }


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


def cautions_in_words(row: Any, result: Any, catalogue: Catalogue) -> list[dict[str, Any]]:
    """
    Return the cautions of a row in words.

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
    list of dict
        Objects with `code`, `severity`, `field` and `message`.
    """
    words = numbers_in_words(row, result, catalogue)
    return spoken(CAUTIONS, int(result["cautions"]), words)


def assumptions_in_words(row: Any, result: Any, catalogue: Catalogue) -> list[dict[str, Any]]:
    """
    Return the assumptions of a row in words, those of its product labels included.

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
    list of dict
        Objects with `code`, `field` and `message`.
    """
    words = numbers_in_words(row, result, catalogue)
    said = spoken(ASSUMPTIONS, int(result["assumptions"]), words)
    listed = [{name: each[name] for name in ("code", "field", "message")} for each in said]
    for slot in range(int(row["product_count"])):
        product = catalogue.product_rows[row["product"][slot]]
        listed += [
            {"code": each.code, "field": "product", "message": f"{product.name}: {each.detail}"}
            for each in product.assumptions
        ]
    return listed
