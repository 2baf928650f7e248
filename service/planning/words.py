"""
What is said of a finished row: its problem, its cautions and its assumptions in sentences.

Bits become codes here, and codes become sentences with the row's own numbers.
"""

from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.acid_dose import acid_phosphorus
from service.planning.catalogue import Catalogue
from service.planning.cautions import ASSUMPTIONS, CAUTIONS, PROBLEMS, Notice, notices
from service.planning.ceilings import MICRONUTRIENTS
from service.planning.profiles import (
    AMMONIUM_SHARE,
    CHLORIDE_CAUTION,
    FIRST_MICRONUTRIENT_MAXIMUM,
    PH_HIGH,
    PH_LOW,
    SODIUM_CAUTION,
)
from service.reference.components import (
    AMMONIUM,
    CALCIUM,
    ELEMENT_NAMES,
    MAGNESIUM,
    UNMEASURED,
    UREA,
)
from service.reference.elements import ELEMENT_MATRIX

NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")
CALCIUM_ROW: Final = ELEMENT_NAMES.index("calcium")
MAGNESIUM_ROW: Final = ELEMENT_NAMES.index("magnesium")
REJECTED: Final = rows.STATUSES.index("rejected")

BINDING_WORDS: Final = {
    "none": "nothing",
    "requested_strength": "the strength asked for",
    "conductivity": "conductivity",
    "total_nitrogen": "total nitrogen",
    "ammonium_and_urea_nitrogen": "ammonium and urea nitrogen",
    "product_rate": "the usual rate of the product",
    "acid_phosphorus": "phosphorus that the acid brings",
    **{name: name for name in MICRONUTRIENTS},
}


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


def acid_feeds_in_words(row: Any, result: Any) -> str:
    """
    Return what an acid brings that plants feed on.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Names the acid.
    result : record of `rows.DOSE_RESULT`
        The finished row.

    Returns
    -------
    str
        Amount and element, such as ``24 mg/L phosphorus``.
    """
    phosphorus = acid_phosphorus(row, result)
    if phosphorus > 0.0:
        return f"{phosphorus:.0f} mg/L phosphorus"
    return f"{float(np.nan_to_num(result['acid_nitrogen_mg_per_l'])):.0f} mg/L nitrogen"


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
        "water_ec_stated": water["ec_ms_per_cm"],
        "water_ec_computed": float(result["water_ec_ms_per_cm"])
        - float(result["unexplained_ec_ms_per_cm"]),
        "humidity": float(row["humidity_percent"]),
        "credited_nitrogen": float(result["water_nitrogen_mg_per_l"])
        + float(np.nan_to_num(result["acid_nitrogen_mg_per_l"])),
        "acid_feeds": acid_feeds_in_words(row, result),
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


def cautions_in_words(
    row: Any, result: Any, catalogue: Catalogue, words: dict[str, Any] | None = None
) -> list[dict[str, Any]]:
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
    words : dict or None
        What `numbers_in_words` gives for the row, where it is known already.

    Returns
    -------
    list of dict
        Objects with `code`, `severity`, `field` and `message`.
    """
    named = numbers_in_words(row, result, catalogue) if words is None else words
    return spoken(CAUTIONS, int(result["cautions"]), named)


def assumptions_in_words(
    row: Any, result: Any, catalogue: Catalogue, words: dict[str, Any] | None = None
) -> list[dict[str, Any]]:
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
    words : dict or None
        What `numbers_in_words` gives for the row, where it is known already.

    Returns
    -------
    list of dict
        Objects with `code`, `field` and `message`.
    """
    named = numbers_in_words(row, result, catalogue) if words is None else words
    said = spoken(ASSUMPTIONS, int(result["assumptions"]), named)
    return listed_assumptions(said, row, catalogue, "product")


def listed_assumptions(
    said: list[dict[str, Any]], row: Any, catalogue: Catalogue, field: str
) -> list[dict[str, Any]]:
    """
    Return the assumptions of a row as answers list them, then those of its product labels.

    Parameters
    ----------
    said : list of dict
        Assumptions in words, from `spoken`.
    row : record
        Names the products; of `rows.DOSE_REQUEST` or `ph_adjustment_rows.PH_REQUEST`.
    catalogue : Catalogue
        Knows the products.
    field : str
        Field of the request that names the products.

    Returns
    -------
    list of dict
        Objects with `code`, `field` and `message`.
    """
    listed = [{name: each[name] for name in ("code", "field", "message")} for each in said]
    for slot in range(int(row["product_count"])):
        product = catalogue.product_rows[row["product"][slot]]
        listed += [
            {"code": each.code, "field": field, "message": f"{product.name}: {each.detail}"}
            for each in product.assumptions
        ]
    return listed
