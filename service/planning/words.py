"""
What is said of a finished row: its problem, its cautions and its assumptions in sentences.

Bits become codes here, and codes become sentences with the row's own numbers.
"""

import math
from collections.abc import Callable, Mapping
from typing import Any, Final

from service.planning import rows
from service.planning.acid_dose import phosphorus_of_acid
from service.planning.can_split import can_count
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
_NITROGEN_OF_UREA: Final = float(ELEMENT_MATRIX[NITROGEN, UREA])
_NITROGEN_OF_AMMONIUM: Final = float(ELEMENT_MATRIX[NITROGEN, AMMONIUM])
_CALCIUM_MASS: Final = float(ELEMENT_MATRIX[CALCIUM_ROW, CALCIUM])
_MAGNESIUM_MASS: Final = float(ELEMENT_MATRIX[MAGNESIUM_ROW, MAGNESIUM])
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


def spoken(
    table: tuple[Notice, ...], bits: int, numbers: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """
    Return the notices of a row in words.

    Parameters
    ----------
    table : tuple of Notice
        `CAUTIONS` or `ASSUMPTIONS`.
    bits : int
        Bits that kernels set.
    numbers : mapping
        Values for the places in the sentences, from `NumbersInWords`.

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
    phosphorus = phosphorus_of_acid(row["acid_kind"], result["acid_mmol_per_l"])
    if phosphorus > 0.0:
        return f"{phosphorus:.0f} mg/L phosphorus"
    return f"{_known_or_zero(result['acid_nitrogen_mg_per_l']):.0f} mg/L nitrogen"


def _known_or_zero(value: float) -> float:
    return 0.0 if math.isnan(value) else float(value)


class NumbersInWords(dict[str, Any]):
    """
    What the sentences of cautions and assumptions name, found when it is named.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.
    """

    def __init__(self, row: Any, result: Any, catalogue: Catalogue) -> None:
        super().__init__()
        self.row = row
        self.result = result
        self.profile = catalogue.profile_table[row["profile"]]

    def __missing__(self, name: str) -> Any:
        """Return a number or a word that was not named before."""
        found = _NAMED[name](self)
        self[name] = found
        return found

    def water(self, field: str) -> float:
        """Return a number of the water's analysis."""
        return float(self.row["water"][rows.WATER_FIELDS.index(field)])

    def number(self, field: str) -> float:
        """Return a number of the result."""
        return float(self.result[field])

    def share_of_nitrogen(self, *parts: tuple[int, float]) -> float:
        """Return the share of components, each with the mass of its nitrogen [percent]."""
        composition = self.result["composition_mmol_per_l"]
        held = sum(mass * float(composition[component]) for component, mass in parts)
        return 100.0 * held / max(float(self.result["elements_mg_per_l"][NITROGEN]), 1e-9)

    def share_maximum(self) -> float:
        """Return how much of the nitrogen may be ammonium and urea [percent]."""
        ceiling = float(self.result["nitrogen_ceiling_mg_per_l"])
        if self.row["limited"] == 1 and ceiling > 0.0:
            return 100.0 * float(self.result["ammonium_ceiling_mg_per_l"]) / ceiling
        return 100.0 * float(self.profile[AMMONIUM_SHARE])


Named = Callable[[NumbersInWords], Any]


def _of_result(field: str) -> Named:
    return lambda named: float(named.result[field])


def _of_list(field: str, position: int) -> Named:
    return lambda named: float(named.result[field][position])


def _of_profile(column: int) -> Named:
    return lambda named: float(named.profile[column])


def _of_water(field: str) -> Named:
    return lambda named: named.water(field)


_NAMED: Final[Mapping[str, Named]] = {
    # First, so that the sodium of the water stays that of the water.
    **{
        name: _of_list("elements_mg_per_l", position) for position, name in enumerate(ELEMENT_NAMES)
    },
    "can_count": lambda named: float(can_count(named.row, named.result)),
    "can_volume": lambda named: named.number("volume_l") / can_count(named.row, named.result),
    "binding_limit": lambda named: BINDING_WORDS[
        rows.BINDING_LIMITS[named.result["binding_limit"]]
    ],
    "share_percent": lambda named: 100.0 * named.number("share_of_requested"),
    "meter_ppm": _of_result("meter_ppm"),
    "sodium": _of_water("sodium_mg_per_l"),
    "sodium_caution": _of_profile(SODIUM_CAUTION),
    "chloride": _of_water("chloride_mg_per_l"),
    "chloride_caution": _of_profile(CHLORIDE_CAUTION),
    "charge_error": lambda named: abs(named.number("water_charge_error_percent")),
    "unmeasured": lambda named: abs(
        float(named.result["water_composition_mmol_per_l"][UNMEASURED])
    ),
    "water_temperature": _of_water("temperature_celsius"),
    "water_ec_stated": _of_water("ec_ms_per_cm"),
    "water_ec_computed": lambda named: (
        named.number("water_ec_ms_per_cm") - named.number("unexplained_ec_ms_per_cm")
    ),
    "humidity": lambda named: float(named.row["humidity_percent"]),
    "credited_nitrogen": lambda named: (
        named.number("water_nitrogen_mg_per_l")
        + _known_or_zero(named.result["acid_nitrogen_mg_per_l"])
    ),
    "acid_feeds": lambda named: acid_feeds_in_words(named.row, named.result),
    "application": lambda named: rows.APPLICATIONS[max(int(named.row["application"]), 0)],
    "reduced_share": lambda named: named.share_of_nitrogen(
        (UREA, _NITROGEN_OF_UREA), (AMMONIUM, _NITROGEN_OF_AMMONIUM)
    ),
    "reduced_share_maximum": lambda named: named.share_maximum(),
    "urea_share": lambda named: named.share_of_nitrogen((UREA, _NITROGEN_OF_UREA)),
    "ph": _of_result("predicted_ph"),
    "ph_open": _of_result("predicted_ph_open"),
    "ph_low": _of_profile(PH_LOW),
    "ph_high": _of_profile(PH_HIGH),
    "ph_spread": _of_result("ph_spread"),
    "alkalinity": _of_water("alkalinity_mg_per_l_caco3"),
    "water_alkalinity": _of_result("water_alkalinity_mg_per_l_caco3"),
    "water_calcium": lambda named: (
        _CALCIUM_MASS * float(named.result["water_composition_mmol_per_l"][CALCIUM])
    ),
    "water_magnesium": lambda named: (
        _MAGNESIUM_MASS * float(named.result["water_composition_mmol_per_l"][MAGNESIUM])
    ),
    "target_ph": lambda named: float(named.row["target_ph"]),
    "deficit": _of_result("limiting_deficit_kpa"),
    "usual_deficit": _of_result("average_deficit_kpa"),
    "acid_dilution": _of_result("acid_dilution_factor"),
    "acid_diluted_ml": lambda named: (
        named.number("acid_volume_ml") * named.number("acid_dilution_factor")
    ),
    "blend_percent": _of_result("feasible_water_share_percent"),
    "volume_per_plant_ml": _of_result("volume_per_plant_ml"),
    **{
        solid: _of_list("saturation", position)
        for position, solid in enumerate(rows.SOLIDS_IN_ANSWERS)
    },
    **{
        f"{solid}_open": _of_list("saturation_open", position)
        for position, solid in enumerate(rows.SOLIDS_IN_ANSWERS)
    },
    **{
        f"{element}_maximum": _of_profile(FIRST_MICRONUTRIENT_MAXIMUM + position)
        for position, element in enumerate(MICRONUTRIENTS)
    },
}
"""Every name that stands in braces in `cautions.toml`."""


def cautions_in_words(
    row: Any, result: Any, catalogue: Catalogue, words: NumbersInWords | None = None
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
    words : NumbersInWords or None
        What `NumbersInWords` finds of the row, where it is known already.

    Returns
    -------
    list of dict
        Objects with `code`, `severity`, `field` and `message`.
    """
    named = NumbersInWords(row, result, catalogue) if words is None else words
    return spoken(CAUTIONS, int(result["cautions"]), named)


def assumptions_in_words(
    row: Any, result: Any, catalogue: Catalogue, words: NumbersInWords | None = None
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
    words : NumbersInWords or None
        What `NumbersInWords` finds of the row, where it is known already.

    Returns
    -------
    list of dict
        Objects with `code`, `field` and `message`.
    """
    named = NumbersInWords(row, result, catalogue) if words is None else words
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
