"""From a finished pH adjustment to the words and numbers of its answer."""

from typing import Any, Final

import numpy as np

from service.planning import ph_adjustment_rows as ph_rows
from service.planning import reagents, rows
from service.planning.card import number
from service.planning.catalogue import Catalogue
from service.planning.cautions import ASSUMPTIONS, CAUTIONS
from service.planning.notes import NOTED_ASSUMPTIONS, NOTED_CAUTIONS
from service.planning.ph_adjustment import PH_REJECTED, adjust
from service.planning.ph_adjustment_steps import ph_steps
from service.planning.pre_dilution import pre_dilution
from service.planning.profiles import CHLORIDE_CAUTION, PH_HIGH, PH_LOW, SODIUM_CAUTION
from service.planning.words import listed_assumptions, spoken
from service.reference.acids import acids
from service.reference.components import ELEMENT_NAMES, UNMEASURED
from service.reference.elements import ELEMENT_MATRIX
from service.reference.plants import plants
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

_BY_CODE: Final = {notice.code: notice for notice in (*NOTED_CAUTIONS, *NOTED_ASSUMPTIONS)}
OWN_CAUTIONS: Final = tuple(_BY_CODE[code] for code in ph_rows.CAUTIONS)
OWN_ASSUMPTIONS: Final = tuple(_BY_CODE[code] for code in ph_rows.ASSUMPTIONS)

MODELS: Final = (
    "parkhurst-appelo-2013",
    "plummer-busenberg-1982",
    "stumm-morgan-1996",
    "kell-1975",
    "laliberte-2009",
)
ALTERNATIVES: Final = ("citric", "sulfuric", "nitric")
"""Acids without phosphorus in the order in which they are proposed; common practice."""

LASTING_ALTERNATIVES: Final = ("sulfuric", "nitric")

REASON_WORDS: Final = {
    "titration": "An alkalinity is known to about {relative:.0f} %, or 0.01 meq/L at best: here "
    "{margin:.2g} meq/L.",
    "analysis_incomplete": "The water analysis is incomplete; it may be a test kit's.",
    "water_ph_unknown": "The pH of the water is not given: fresh from a well it holds more carbon "
    "dioxide, and less acid is needed.",
    "calcium_unknown": "Calcium is not given: it binds citrate, and in hard water less citric acid "
    "is needed.",
    "little_buffer": "There is hardly any buffer: an error of 0.01 mmol/L, either way, spreads the "
    "pH over {spread:.1f}.",
}

POURED: Final = (
    "acid_volume_ml",
    "acid_mass_g",
    "acid_volume_low_ml",
    "acid_volume_high_ml",
    "acid_mass_low_g",
    "acid_mass_high_g",
    "dose_volume_ml",
    "dose_mass_g",
)
"""Fields that say what to pour; null where nothing may be poured."""

STATES: Final = (
    "acid_mmol_per_l",
    "starting_ph",
    "ph_after_acid",
    "predicted_ph",
    "predicted_ph_open",
    "predicted_ph_low",
    "predicted_ph_high",
    "neutralised_percent",
)


def ph_words(row: Any, result: Any, catalogue: Catalogue) -> dict[str, Any]:
    """
    Return what the sentences of cautions and assumptions name.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request, defaults filled in.
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    dict
        Numbers and words by the names that the sentences use.
    """
    profile = catalogue.profile_table[row["profile"]]
    water = dict(zip(rows.WATER_FIELDS, row["water"].tolist(), strict=True))
    kind = int(row["acid_kind"])
    words: dict[str, Any] = {
        "sodium": water["sodium_mg_per_l"],
        "sodium_caution": float(profile[SODIUM_CAUTION]),
        "chloride": water["chloride_mg_per_l"],
        "chloride_caution": float(profile[CHLORIDE_CAUTION]),
        "charge_error": abs(float(result["water_charge_error_percent"])),
        "unmeasured": abs(float(result["water_composition_mmol_per_l"][UNMEASURED])),
        "water_temperature": water["temperature_celsius"],
        "alkalinity": water["alkalinity_mg_per_l_caco3"],
        "starting_ph": float(result["starting_ph"]),
        "starting_alkalinity": CALCIUM_CARBONATE_MG_PER_MEQ
        * float(result["starting_alkalinity_meq_per_l"]),
        "ph": float(result["predicted_ph"]),
        "ph_open": float(result["predicted_ph_open"]),
        "ph_after_acid": float(result["ph_after_acid"]),
        "ph_low": float(profile[PH_LOW]),
        "ph_high": float(profile[PH_HIGH]),
        "ph_spread": float(result["ph_spread"]),
        "acid_name": reagents.reagent_name(kind),
        "acid_percent": float(row["acid_percent"]),
        "restricted_above": float(reagents.RESTRICTED_ABOVE[kind]),
        "acid_phosphorus": float(result["acid_phosphorus_brought_mg_per_l"]),
        "acid_phosphorus_cap": float(row["acid_phosphorus_mg_per_l"]),
        "acid_dilution": float(result["acid_dilution_factor"]),
        "acid_diluted_ml": float(result["dose_volume_ml"]),
    }
    for position, solid in enumerate(rows.SOLIDS_IN_ANSWERS):
        words[solid] = float(result["saturation"][position])
        words[f"{solid}_open"] = float(result["saturation_open"][position])
    return words


def ph_cautions(row: Any, result: Any, catalogue: Catalogue) -> list[dict[str, Any]]:
    """
    Return the cautions of a row in words.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request, defaults filled in.
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of dict
        Objects with `code`, `severity`, `field` and `message`.
    """
    words = ph_words(row, result, catalogue)
    said = spoken(CAUTIONS, int(result["cautions"]), words)
    return said + spoken(OWN_CAUTIONS, int(result["own_cautions"]), words)


def ph_assumptions(row: Any, result: Any, catalogue: Catalogue) -> list[dict[str, Any]]:
    """
    Return the assumptions of a row in words, those of its product labels included.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request, defaults filled in.
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of dict
        Objects with `code`, `field` and `message`.
    """
    words = ph_words(row, result, catalogue)
    said = spoken(ASSUMPTIONS, int(result["assumptions"]), words)
    said += spoken(OWN_ASSUMPTIONS, int(result["own_assumptions"]), words)
    return listed_assumptions(said, row, catalogue, "additions")


def range_reasons(result: Any) -> list[str]:
    """
    Return why a dose is a range.

    Parameters
    ----------
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.

    Returns
    -------
    list of str
        Sentences.
    """
    margin = float(result["alkalinity_margin_meq_per_l"])
    incomplete = int(result["range_reasons"]) >> ph_rows.RANGE_REASONS.index("analysis_incomplete")
    numbers = {
        "relative": 5.0 if incomplete & 1 else 2.0,
        "margin": margin,
        "spread": float(result["ph_spread"]),
    }
    return [
        REASON_WORDS[name].format_map(numbers)
        for place, name in enumerate(ph_rows.RANGE_REASONS)
        if int(result["range_reasons"]) >> place & 1
    ]


def _dose_fields(row: Any, result: Any) -> dict[str, Any]:
    """Return what one acid or base comes to."""
    contents = ELEMENT_MATRIX @ reagents.COMPOSITION[row["acid_kind"]]
    feasible = rows.STATUSES[result["status"]] == "ok"
    return {
        **{name: number(result[name]) if feasible else None for name in POURED},
        **{name: number(result[name]) for name in STATES},
        "residual_alkalinity_mg_per_l_caco3": number(
            CALCIUM_CARBONATE_MG_PER_MEQ * result["residual_alkalinity_meq_per_l"]
        ),
        "added_mg_per_l": {
            name: float(result["added_mg_per_l"][place])
            for place, name in enumerate(ELEMENT_NAMES)
            if contents[place] > 0.0
        },
        "pre_dilution": pre_dilution(row, result) if feasible else None,
    }


def ph_fields(row: Any, result: Any, catalogue: Catalogue) -> dict[str, Any]:
    """
    Return the flat results of an adjustment.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request, defaults filled in.
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    dict
        Fields of the answer, None where there is no number.
    """
    return {
        "status": rows.STATUSES[result["status"]],
        **_dose_fields(row, result),
        "range_reasons": range_reasons(result),
        "saturation": [
            {
                "solid": solid,
                "index": number(result["saturation"][place]),
                "index_open": number(result["saturation_open"][place]),
            }
            for place, solid in enumerate(rows.SOLIDS_IN_ANSWERS)
        ],
        "alternative": alternative(row, result, catalogue),
    }


def alternative(row: Any, result: Any, catalogue: Catalogue) -> dict[str, Any] | None:
    """
    Return another acid for the same target, where the one asked for brings too much phosphorus.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request, defaults filled in.
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    dict or None
        The acid and its numbers; None where none is needed, or none does.
    """
    if rows.STATUSES[result["status"]] != "infeasible":
        return None
    for kind in LASTING_ALTERNATIVES if row["reservoir"] == 1 else ALTERNATIVES:
        requests = np.array([row])
        requests["acid_kind"] = reagents.KINDS.index(kind)
        requests["acid_percent"] = np.nan
        results = ph_rows.empty_ph_results(1)
        adjust(requests, results, catalogue)
        if results[0]["status"] != PH_REJECTED:
            other, found = requests[0], results[0]
            return {
                "acid": {"kind": kind, "percent": float(other["acid_percent"])},
                **_dose_fields(other, found),
                "steps": ph_steps(other, found, catalogue),
                "cautions": ph_cautions(other, found, catalogue),
            }
    return None


def ph_models() -> list[str]:
    """
    Return the keys of the models behind an adjustment.

    Returns
    -------
    list of str
        Keys of `/v1/sources`.
    """
    return list(MODELS)


def ph_sources(row: Any, catalogue: Catalogue) -> list[str]:
    """
    Return the keys of the sources of an adjustment's numbers.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of str
        Keys of `/v1/sources`, each once.
    """
    keys = dict.fromkeys(acids()[reagents.KINDS[row["acid_kind"]]].sources)
    profile = plants().get(catalogue.profile_names[row["profile"]])
    if profile is not None:
        keys |= dict.fromkeys([profile.ph.provenance.source])
    keys |= dict.fromkeys(["common-practice"])
    for slot in range(int(row["product_count"])):
        keys |= dict.fromkeys(catalogue.product_rows[row["product"][slot]].sources)
    return list(keys)
