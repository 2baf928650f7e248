"""Why a strength is what it is, in plain words and in the order in which it was found."""

from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.profiles import EC_CEILING
from service.planning.targets import DOSING_SCALE, HUMID_DAY_GAIN, plain_water_below

FLUSH_INTERVAL_DAYS: Final = 28.0
"""Days after which a pot is leached in any case; common practice."""

SIZE_WORDS: Final = {"large": "A large plant", "medium": "A medium plant", "mini": "A miniature"}
GROWTH_WORDS: Final = {
    "active": "In active growth",
    "spike_initiation": "While spikes are being set",
    "in_bloom": "In bloom",
    "resting": "At rest",
}


def binding_of_target(result: Any) -> str:
    """
    Return which limit decided a target.

    Parameters
    ----------
    result : record of `rows.DOSE_RESULT`
        A row whose targets are filled in.

    Returns
    -------
    str
        `air`, `plant_size` or `conductivity`.
    """
    by_meter = result["meter_ppm"] / DOSING_SCALE
    if result["ec_ceiling_ms_per_cm"] < by_meter * (1.0 - 1e-9):
        return "conductivity"
    return "air" if result["air_meter_ppm"] < result["size_meter_ppm"] else "plant_size"


def target_reasons(row: Any, result: Any, catalogue: Catalogue) -> list[str]:
    """
    Return the reasons for a target.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        A row whose targets are filled in.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of str
        Sentences.
    """
    profile = catalogue.profile_table[row["profile"]]
    setup = rows.SETUPS[row["setup"]]
    size = rows.SIZES[row["size"]]
    growth = rows.GROWTHS[row["growth"]]
    deficit = float(result["vapour_pressure_deficit_kpa"])
    limiting = float(result["limiting_deficit_kpa"])
    air = float(result["air_meter_ppm"])
    ceiling = float(result["size_meter_ppm"])
    reasons = []
    if setup == "semi_hydroponic_pot":
        reasons.append(
            "Over a reservoir the roots stay moist, so the strength follows the plant and not the "
            "air; keep the surface of the pebbles from crusting."
        )
    else:
        reasons.append(
            f"{row['humidity_percent']:.0f} % humidity at {row['temperature_celsius']:.0f} °C is a "
            f"vapour pressure deficit of {deficit:.2f} kPa: as roots dry, the solution on them "
            f"thickens, and {air:.0f} meter ppm is what they stand."
        )
        if limiting > deficit * (1.0 + 1e-9):
            reasons.append(
                f"The air is cool: the deficit of the same humidity at 22 °C, {limiting:.2f} kPa, "
                "is used, because cool air does not earn a stronger feed."
            )
        usual = float(result["average_deficit_kpa"])
        if not np.isnan(usual):
            if usual > limiting:
                percent = 100.0 * (HUMID_DAY_GAIN - 1.0)
                reasons.append(
                    f"Today is more humid than usual ({usual:.2f} kPa): the strength rises by at "
                    f"most {percent:.0f} %."
                )
            else:
                reasons.append(
                    f"Today is drier than usual ({usual:.2f} kPa): the strength falls at once."
                )
    reasons.append(f"{SIZE_WORDS[size]} of this profile takes at most {ceiling:.0f} meter ppm.")
    if growth != "active":
        share = 100.0 * float(result["growth_factor"])
        reasons.append(f"{GROWTH_WORDS[growth]} it takes {share:.0f} % of that.")
    if binding_of_target(result) == "conductivity":
        reasons.append(
            f"The profile's own ceiling of {profile[EC_CEILING]:.2f} mS/cm is lower still."
        )
    if result["meter_ppm"] < plain_water_below(profile):
        reasons.append(
            "That is too weak to be worth mixing: give plain water, or the full strength for about "
            "15 minutes and then flush it out."
        )
    return reasons


def flush_advice(row: Any) -> dict[str, Any]:
    """
    Return whether the pot is to be leached with plain water.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.

    Returns
    -------
    dict
        `due`, `within_days` and `message`.
    """
    if rows.SETUPS[row["setup"]] == "mount":
        return {
            "due": False,
            "within_days": None,
            "message": "A mount is rinsed with plain water after every feed; nothing builds up.",
        }
    days = float(row["days_since_flush"])
    if np.isnan(days):
        return {
            "due": False,
            "within_days": None,
            "message": "Not known when the pot was last flushed: send days_since_flush. "
            "Common practice is once in four weeks.",
        }
    left = max(FLUSH_INTERVAL_DAYS - days, 0.0)
    message = (
        "Flush with plain water before this feed."
        if left == 0.0
        else f"Flush with plain water within {left:.0f} days."
    )
    return {"due": left == 0.0, "within_days": left, "message": message}
