"""From the weeks of a pot to the numbers and words of an outlook."""

from typing import Any, Final

import numpy as np

from service.chemistry.leaching import leaching_fraction
from service.planning.catalogue import Catalogue
from service.planning.containers import understood_inputs
from service.planning.flush_card import POT_MODELS, WATER_MODELS, sources_of_pot
from service.planning.salt_outlook import Change, Outlook
from service.planning.salt_weeks import (
    DRAINED,
    DRAINED_SALT,
    DRIEST,
    MOIST,
    POURED,
    SALT,
)

SALT_MG_PER_L_PER_MS_PER_CM: Final = 640.0
"""Dissolved salt over conductivity, the estimate of laboratories; common practice."""

WEEK_COLUMNS: Final = (
    "week",
    "ec_low_ms_per_cm",
    "ec_ms_per_cm",
    "ec_high_ms_per_cm",
    "driest_ec_low_ms_per_cm",
    "driest_ec_ms_per_cm",
    "driest_ec_high_ms_per_cm",
    "drainage_ec_ms_per_cm",
    "salt_low_mg",
    "salt_mg",
    "salt_high_mg",
    "poured_ml",
    "drained_ml",
)
"""Columns of the table of weeks, in JSON and CSV alike."""


def weeks_of(outlook: Outlook) -> list[dict[str, Any]]:
    """
    Return the weeks by the names of the answer.

    Parameters
    ----------
    outlook : Outlook
        The outlook.

    Returns
    -------
    list of dict
        One for each week, keys as in `WEEK_COLUMNS`.
    """
    weeks = []
    lines = zip(outlook.low, outlook.middle, outlook.high, strict=True)
    for number, (low, middle, high) in enumerate(lines, 1):
        drained = float(middle[DRAINED])
        weeks.append(
            {
                "week": number,
                "ec_low_ms_per_cm": float(low[MOIST]),
                "ec_ms_per_cm": float(middle[MOIST]),
                "ec_high_ms_per_cm": float(high[MOIST]),
                "driest_ec_low_ms_per_cm": float(low[DRIEST]),
                "driest_ec_ms_per_cm": float(middle[DRIEST]),
                "driest_ec_high_ms_per_cm": float(high[DRIEST]),
                "drainage_ec_ms_per_cm": (
                    float(middle[DRAINED_SALT]) / drained if drained > 1e-6 else None
                ),
                "salt_low_mg": SALT_MG_PER_L_PER_MS_PER_CM * float(low[SALT]),
                "salt_mg": SALT_MG_PER_L_PER_MS_PER_CM * float(middle[SALT]),
                "salt_high_mg": SALT_MG_PER_L_PER_MS_PER_CM * float(high[SALT]),
                "poured_ml": 1000.0 * float(middle[POURED]),
                "drained_ml": 1000.0 * drained,
            }
        )
    return weeks


def outlook_fields(outlook: Outlook) -> dict[str, Any]:
    """
    Return the results of an outlook.

    Parameters
    ----------
    outlook : Outlook
        The outlook.

    Returns
    -------
    dict
        By the names of the answer.
    """
    poured = float(np.sum(outlook.middle[:, POURED]))
    kept = min(max(poured - float(np.sum(outlook.middle[:, DRAINED])), 0.0), poured)
    use = outlook.use
    measured = use.measured
    return {
        "status": "ok",
        "first_week_over_limit": outlook.first_week_over(outlook.middle) if measured else None,
        "first_week_over_limit_low": outlook.first_week_over(outlook.high),
        "first_week_over_limit_high": outlook.first_week_over(outlook.low),
        "limit_ec_ms_per_cm": outlook.limit_ec_ms_per_cm,
        "limit_origin": outlook.limit_origin,
        "what_keeps_it_under": [_change_fields(each) for each in outlook.changes],
        "weeks": weeks_of(outlook),
        "leaching_fraction": float(leaching_fraction(kept, poured)),
        "water_use_low_ml_per_day": 1000.0 * use.low_l,
        "water_use_ml_per_day": 1000.0 * use.middle_l,
        "water_use_high_ml_per_day": 1000.0 * use.high_l,
        "water_use_basis": use.basis,
        "held_water_per_pot_l": use.held_l,
        "water_ec_ms_per_cm": outlook.water.ec_ms_per_cm,
        "reasons": reasons(outlook),
    }


def _change_fields(change: Change) -> dict[str, Any]:
    amount = change.amount
    words = {
        "flush": f"Flush with twice the pot's volume of plain water every {_weeks(amount)}.",
        "plain_water": f"Give plain water in place of every {_ordinal(amount)} feed.",
        "weaker_feed": f"Mix the feeds {amount} % weaker (what they add to the water).",
    }
    return {
        "change": change.kind,
        "every_weeks": amount if change.kind == "flush" else None,
        "feed_number": amount if change.kind == "plain_water" else None,
        "weaker_percent": amount if change.kind == "weaker_feed" else None,
        "highest_ec_ms_per_cm": change.highest_ec_ms_per_cm,
        "message": words[change.kind],
    }


def _weeks(amount: int) -> str:
    return "week" if amount == 1 else f"{amount} weeks"


def _ordinal(amount: int) -> str:
    return {2: "second", 3: "third"}.get(amount, f"{amount}th")


def reasons(outlook: Outlook) -> list[str]:
    """
    Return why the outlook is what it is.

    Parameters
    ----------
    outlook : Outlook
        The outlook.

    Returns
    -------
    list of str
        Sentences.
    """
    limit = outlook.limit_ec_ms_per_cm
    ceiling = outlook.container.ceiling_ms_per_cm
    origins = {
        "stated": f"The limit of {limit:.2f} mS/cm is the one that was sent.",
        "feed": f"The limit of {limit:.2f} mS/cm is twice the strongest feed, the mark at which a"
        " pot is flushed (common practice).",
        "plant": f"The limit of {limit:.2f} mS/cm follows from the plant: it is fed"
        f" {ceiling:.2f} mS/cm at most, and its pot is kept between that and twice as much (common"
        " practice).",
    }
    bases = {
        "weights": "The water use is that between the two weights.",
        "days": "The water use follows from the days between waterings.",
        "air": "The water use is estimated from the air, so the outlook is a band and no single"
        " week.",
    }
    words = [origins[outlook.limit_origin], bases[outlook.use.basis]]
    if outlook.first_week_over(outlook.high) is None:
        words.append("The salt stays under the limit in all the weeks, at the high water use too.")
    elif outlook.changes:
        words.append(
            "Each change of what_keeps_it_under was run through the same weeks at the high water"
            " use."
        )
    return words


def outlook_inputs(outlook: Outlook, request: Any, catalogue: Catalogue) -> dict[str, Any]:
    """
    Return the request as it was understood.

    Parameters
    ----------
    outlook : Outlook
        The outlook.
    request : object
        The request.
    catalogue : Catalogue
        Knows the profile.

    Returns
    -------
    dict
        Nested by the names of the contract.
    """
    inputs = understood_inputs(outlook.container, catalogue)
    if request.air is not None:
        inputs["air"] = request.air.model_dump(exclude_none=True)
    inputs["water"] = dict(outlook.water.analysis)
    inputs["schedule"] = [each.model_dump(exclude_none=True) for each in request.schedule]
    inputs["start_ec_ms_per_cm"] = outlook.start_ec_ms_per_cm
    inputs["salt_uptake_percent"] = 100.0 * outlook.uptake_share
    inputs["weeks"] = len(outlook.middle)
    for name in (
        "days_between_waterings",
        "pot_mass_wet_g",
        "pot_mass_dry_g",
        "days_between_weighings",
    ):
        value = getattr(request, name)
        if value is not None:
            inputs[name] = value
    return inputs


def outlook_models(outlook: Outlook) -> list[str]:
    """
    Return the keys of the models behind an outlook.

    Parameters
    ----------
    outlook : Outlook
        The outlook.

    Returns
    -------
    list of str
        Keys of `/v1/sources`.
    """
    models = [*POT_MODELS, *WATER_MODELS]
    if not outlook.use.measured:
        models.append("wagner-pruss-2002")
    return models


def outlook_sources(outlook: Outlook, catalogue: Catalogue) -> list[str]:
    """
    Return the keys of the sources of the numbers.

    Parameters
    ----------
    outlook : Outlook
        The outlook.
    catalogue : Catalogue
        Knows the profile.

    Returns
    -------
    list of str
        Keys of `/v1/sources`, each once.
    """
    flushed = any(each.kind == "flush" for each in outlook.waterings)
    flushed = flushed or any(each.kind == "flush" for each in outlook.changes)
    return sources_of_pot(
        outlook.container.medium,
        catalogue.profile_names[outlook.container.profile],
        flush=flushed,
    )
