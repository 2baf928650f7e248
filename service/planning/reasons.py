"""Why a strength is what it is, in plain words and in the order in which it was found."""

from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.card import NITROGEN, number
from service.planning.catalogue import Catalogue
from service.planning.profiles import EC_CEILING, REFERENCE_METER_PPM, SIZE_METER_PPM
from service.planning.targets import (
    DAILY_NITROGEN,
    DAYS_BETWEEN_FLUSHES,
    DOSING_SCALE,
    FULL_STRENGTH_MINUTES,
    HUMID_DAY_GAIN,
    air_leaves_little,
    plain_water_will_do,
    strength_in_air,
)
from service.reference.components import ELEMENT_NAMES, NITRATE
from service.reference.elements import ELEMENT_MATRIX
from service.reference.plants import plants

SIZE_WORDS: Final = {"large": "A large plant", "medium": "A medium plant", "mini": "A miniature"}
SAME_DEFICIT: Final = 0.005
"""Difference of two deficits that rounds to nothing in words [kPa]."""

GROWTH_WORDS: Final = {
    "active": "In active growth",
    "spike_initiation": "While spikes are being set",
    "in_bloom": "In bloom",
    "resting": "At rest",
}


def binding_of_target(row: Any, result: Any) -> str:
    """
    Return which limit decided a target.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        A row whose targets are filled in.

    Returns
    -------
    str
        `air`, `plant_size`, `conductivity`, `application` where a supplement, a stimulant or a
        flush has a strength of its own, `daily_feed` on a mount or `reservoir` where it is topped
        up.
    """
    meter = float(result["meter_ppm"])
    if result["ec_ceiling_ms_per_cm"] < meter / DOSING_SCALE * (1.0 - 1e-9):
        return "conductivity"
    application = rows.APPLICATIONS[row["application"]]
    air, size = float(result["air_meter_ppm"]), float(result["size_meter_ppm"])
    if application in ("supplement", "stimulant", "flush"):
        return "air" if meter >= air * (1.0 - 1e-9) else "application"
    if meter < min(air, size) * float(result["growth_factor"]) * (1.0 - 1e-9):
        return "daily_feed" if rows.SETUPS[row["setup"]] == "mount" else "reservoir"
    return "air" if air < size else "plant_size"


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
    share = float(profile[SIZE_METER_PPM]) / REFERENCE_METER_PPM
    alone = share * strength_in_air(limiting)
    ceiling = float(result["size_meter_ppm"])
    application = rows.APPLICATIONS[row["application"]]
    if application == "flush":
        return ["A flush is plain water, whatever the air."]
    reasons = []
    if setup == "semi_hydroponic_pot":
        reasons.append(
            "Over a reservoir the roots stay moist, so the strength follows the plant and not the "
            "air. Salt gathers where the surface dries: mist it, or cover it with a layer that "
            "does not wick."
        )
    else:
        reasons.append(
            f"{row['humidity_percent']:.0f} % humidity at {row['temperature_celsius']:.0f} °C is a "
            f"vapour pressure deficit of {deficit:.2f} kPa. As roots dry, the solution on them "
            f"thickens: by the air alone {alone:.0f} meter ppm is the most."
        )
        if limiting > deficit * (1.0 + 1e-9):
            reasons.append(
                f"The air is cool: the deficit of the same humidity at 22 °C, {limiting:.2f} kPa, "
                "is used, because cool air does not earn a stronger feed."
            )
        usual = float(result["average_deficit_kpa"])
        if not np.isnan(usual):
            reasons += _against_usual_air(limiting, usual, share, air)
    reasons.append(f"{SIZE_WORDS[size]} of this profile takes at most {ceiling:.0f} meter ppm.")
    if application in ("supplement", "stimulant"):
        reasons.append(
            f"A {application} is given at its own strength, not that of the plant's size: "
            f"{result['meter_ppm']:.0f} meter ppm here."
        )
        return reasons
    binding = binding_of_target(row, result)
    if setup == "mount":
        reasons.append(
            "A mount is wetted, fed and rinsed; feed and supplement may take turns by the day."
        )
        if binding == "daily_feed":
            reasons.append(
                f"Fed {_every(float(row['interval_days']))} it gets at most "
                f"{DAILY_NITROGEN:.0f} mg/L of nitrogen for each day: {result['meter_ppm']:.0f} "
                "meter ppm."
            )
    projected = float(result["projected_ec_ms_per_cm"])
    if not np.isnan(projected):
        reasons.append(
            "A reservoir that is only topped up gathers salt: with plain water between feeds it "
            f"comes to about {projected:.2f} mS/cm by the next flush."
        )
    if growth != "active":
        share = 100.0 * float(result["growth_factor"])
        reasons.append(f"{GROWTH_WORDS[growth]} it takes {share:.0f} % of that.")
    if binding == "conductivity":
        reasons.append(
            f"The profile's own ceiling of {profile[EC_CEILING]:.2f} mS/cm is lower still."
        )
    if air_leaves_little(row, profile, result):
        other = ", or the full strength for about 15 minutes and then flush it out"
        reasons.append(
            "That is too weak to be worth mixing: give plain water"
            f"{other if setup == 'wet_dry_pot' else ''}."
        )
    elif plain_water_will_do(row, profile, result):
        reasons.append(
            "That is too weak to be worth mixing: plain water does as well until it grows again."
        )
    return reasons


def _against_usual_air(limiting: float, usual: float, share: float, air: float) -> list[str]:
    """Say what the difference from the usual air does to the strength."""
    before = share * strength_in_air(usual)
    if abs(limiting - usual) <= SAME_DEFICIT:
        return ["Today's air is the usual one."]
    if limiting > usual:
        return [
            f"Today is drier than usual ({usual:.2f} kPa, which allows {before:.0f} meter ppm): "
            "the strength falls at once."
        ]
    return [
        f"Today is more humid than usual ({usual:.2f} kPa, which allows {before:.0f} meter ppm): "
        f"the strength rises by at most {100.0 * (HUMID_DAY_GAIN - 1.0):.0f} %, to {air:.0f}."
    ]


def _every(days: float) -> str:
    """Return an interval in words."""
    if days == 1.0:
        return "every day"
    return f"every {days:.0f} days" if days > 1.0 else f"{1.0 / days:.1f} times a day"


def published_quantities(result: Any) -> dict[str, float | None]:
    """
    Return the numbers of a can that ranges are published for.

    Parameters
    ----------
    result : record of `rows.DOSE_RESULT`
        A finished row.

    Returns
    -------
    dict
        By the names of the ranges; None where a number is not known.
    """
    elements = dict(zip(ELEMENT_NAMES, map(float, result["elements_mg_per_l"]), strict=True))
    nitrogen, magnesium = elements["nitrogen"], elements["magnesium"]
    nitrate = float(ELEMENT_MATRIX[NITROGEN, NITRATE] * result["composition_mmol_per_l"][NITRATE])
    return {
        "nitrogen_mg_per_l": nitrogen,
        "potassium_mg_per_l": elements["potassium"],
        "calcium_mg_per_l": elements["calcium"],
        "calcium_to_magnesium_ratio": elements["calcium"] / magnesium if magnesium > 0.0 else None,
        "nitrate_share": nitrate / nitrogen if nitrogen > 0.0 else None,
        "ec_ms_per_cm": number(result["predicted_ec_ms_per_cm"]),
        "feed_ph": number(result["predicted_ph"]),
    }


def published_ranges(profile_name: str, values: Mapping[str, float | None]) -> list[dict[str, Any]]:
    """
    Return the published ranges of a plant and where numbers of an answer lie in them.

    Parameters
    ----------
    profile_name : str
        Key of a profile; a caller's own profile has no published ranges.
    values : mapping of str to float or None
        Numbers of the answer by the name of the range.

    Returns
    -------
    list of dict
        `quantity`, `low`, `high`, `value`, `position` (below, within, above), `source`, `note`.
    """
    profile = plants().get(profile_name)
    if profile is None:
        return []
    listed = []
    for quantity, span in profile.ranges.items():
        value = values.get(quantity)
        position = None
        if value is not None:
            position = "below" if value < span.low else "above" if value > span.high else "within"
        listed.append(
            {
                "quantity": quantity,
                "low": span.low,
                "high": span.high,
                "value": value,
                "position": position,
                "source": span.provenance.source,
                "note": span.provenance.note or None,
            }
        )
    return listed


def dry_air_alternative(row: Any, result: Any) -> dict[str, Any] | None:
    """
    Return the other way to feed in dry air: full strength for a while, then flushed out.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        A row whose targets are filled in.

    Returns
    -------
    dict or None
        `meter_ppm`, `ec_ms_per_cm`, `minutes` and `message`; None where the air does not limit.
    """
    pot = rows.SETUPS[row["setup"]] == "wet_dry_pot"
    feed = rows.APPLICATIONS[row["application"]] == "feed"
    if not pot or not feed or not result["air_meter_ppm"] < result["size_meter_ppm"]:
        return None
    strength = float(result["size_meter_ppm"] * result["growth_factor"])
    return {
        "meter_ppm": strength,
        "ec_ms_per_cm": strength / DOSING_SCALE,
        "minutes": FULL_STRENGTH_MINUTES,
        "message": (
            f"Instead of the weak feed: {strength:.0f} meter ppm, left about "
            f"{FULL_STRENGTH_MINUTES:.0f} minutes, then flushed out with plain water."
        ),
    }


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
    left = max(DAYS_BETWEEN_FLUSHES - days, 0.0)
    message = (
        "Flush with plain water before this feed."
        if left == 0.0
        else f"Flush with plain water within {left:.0f} days."
    )
    return {"due": left == 0.0, "within_days": left, "message": message}
