"""A calendar in the words and numbers of an answer: events, what each month takes, totals."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from service.planning import rows
from service.planning.card import additions, meter_readings, number
from service.planning.catalogue import Catalogue
from service.planning.ceilings import NITROGEN, conductivity_ceiling
from service.planning.feeding_calendar import Event
from service.planning.programme import ROLES, ProgrammeRules
from service.planning.programme_cans import INFEASIBLE, Can, is_too_weak
from service.planning.targets import DOSING_SCALE
from service.planning.words import caution_codes

WATER_CODES: Final = ("sodium_high", "chloride_high", "softened_water", "water_charge_imbalance")
"""Cautions that hold for plain water too."""


def event_fields(
    event: Event,
    can: Can | None,
    row: Any,
    result: Any,
    catalogue: Catalogue,
    rules: ProgrammeRules,
) -> dict[str, Any]:
    """
    Return an event as the answer gives it.

    Parameters
    ----------
    event : Event
        The event.
    can : Can or None
        Its can, None for a look at the bark.
    row : record of `rows.DOSE_REQUEST`
        The planned row of the can.
    result : record of `rows.DOSE_RESULT`
        The finished row of the can.
    catalogue : Catalogue
        Tables that the row refers to.
    rules : ProgrammeRules
        The numbers of the rhythm.

    Returns
    -------
    dict
        By the names of the contract; None where there is nothing to say.
    """
    fields: dict[str, Any] = {
        "date": event.day.today.isoformat(),
        "kind": event.kind,
        "season": event.day.season,
        "growth": event.day.growth,
        "product": None,
        "product_name": None,
        "product_mass_g": None,
        "product_volume_ml": None,
        "pre_stock": None,
        "volume_l": None,
        "strength": None,
        "ec_ceiling_ms_per_cm": None,
        "binding_limit": None,
        "predicted_ph": None,
        "reason": " ".join(event.reasons),
        "cautions": [],
    }
    if can is None:
        return fields
    codes = caution_codes(result)
    if can.shelf_place is None or is_too_weak(can, row, result, catalogue):
        cans = rules.flush_can_count if event.kind == "flush" else 1.0
        fields["volume_l"] = cans * float(result["volume_l"])
        fields["cautions"] = [code for code in codes if code in WATER_CODES]
        if can.shelf_place is not None:
            fields["kind"] = "water"
            fields["reason"] = (
                f"At rest only {float(result['meter_ppm']):.0f} meter ppm would be left, too weak "
                "to be worth mixing: plain water."
            )
        return fields
    product = catalogue.product_rows[row["product"][0]]
    profile = catalogue.profile_table[row["profile"]]
    fields |= {
        "product": product.key,
        "product_name": product.name,
        "volume_l": number(result["volume_l"]),
        "binding_limit": rows.BINDING_LIMITS[result["binding_limit"]],
        "ec_ceiling_ms_per_cm": number(
            conductivity_ceiling(row, catalogue.product_table, profile, result)
        ),
        "cautions": codes,
    }
    if result["status"] == INFEASIBLE:
        return fields
    (added,) = additions(row, result, catalogue)
    conductivity = number(result["predicted_ec_ms_per_cm"])
    readings = meter_readings(conductivity)
    fields |= {
        "product_mass_g": added["mass_g"],
        "product_volume_ml": added["volume_ml"],
        "pre_stock": added["pre_stock"],
        "predicted_ph": number(result["predicted_ph"]),
        "strength": {
            "meter_ppm": readings[f"meter_ppm_{DOSING_SCALE:.0f}"],
            "meter_scale": int(DOSING_SCALE),
            **readings,
            "ec_ms_per_cm": conductivity,
            "nitrogen_mg_per_l": number(result["elements_mg_per_l"][NITROGEN]),
        },
    }
    return fields


def monthly_summary(
    events: Sequence[Mapping[str, Any]], volume_per_plant_ml: float | None
) -> list[dict[str, Any]]:
    """
    Return what each month takes.

    Parameters
    ----------
    events : sequence of mapping
        Fields of `event_fields`, sorted by date.
    volume_per_plant_ml : float or None
        Share of one plant in a can, None where it is not known [mL].

    Returns
    -------
    list of dict
        One object for each month with an event: counts, products, nitrogen for each plant.
    """
    months: dict[str, list[Mapping[str, Any]]] = {}
    for event in events:
        months.setdefault(event["date"][:7], []).append(event)
    return [
        {
            "month": month,
            **{
                f"{kind}_count": sum(each["kind"] == kind for each in listed)
                for kind in (*ROLES, "water", "flush", "repot_check")
            },
            "products": product_totals(listed),
            "nitrogen_mg_per_plant_per_month": None
            if volume_per_plant_ml is None
            else sum(
                (each["strength"]["nitrogen_mg_per_l"] or 0.0) * volume_per_plant_ml / 1000.0
                for each in listed
                if each["strength"] is not None
            ),
        }
        for month, listed in months.items()
    ]


def product_totals(events: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """
    Return how much of each product some events take.

    Parameters
    ----------
    events : sequence of mapping
        Fields of `event_fields`.

    Returns
    -------
    list of dict
        One object for each product, in the order of first use: masses, volumes, number of cans.
    """
    totals: dict[str, dict[str, Any]] = {}
    for event in events:
        mass, volume = event["product_mass_g"], event["product_volume_ml"]
        if mass is None and volume is None:
            continue
        entry = totals.setdefault(
            event["product"],
            {
                "product": event["product"],
                "product_name": event["product_name"],
                "mass_g": None,
                "volume_ml": None,
                "can_count": 0,
            },
        )
        entry["can_count"] += 1
        if mass is not None:
            entry["mass_g"] = (entry["mass_g"] or 0.0) + mass
        if volume is not None:
            entry["volume_ml"] = (entry["volume_ml"] or 0.0) + volume
    return list(totals.values())
