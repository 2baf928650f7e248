"""
Shared mixes as the fields and sentences of an answer.

Nothing is computed here that the planners have not computed; amounts of several cans are added up.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from service.planning import rows
from service.planning.acid_dose import HANDLING
from service.planning.card import NITROGEN, acid_portion, additions, number
from service.planning.catalogue import Catalogue
from service.planning.cautions import CAUTIONS, notices
from service.planning.mix_cans import Filling
from service.planning.mix_dilution import LEAST_PORTION, PURE_ALKALINITY, REASONS
from service.planning.mix_grouping import (
    NO_MIX,
)
from service.planning.mixes import Mixes, SharedMix
from service.planning.steps import mixing_steps


def row_columns(mixes: Mixes) -> dict[str, list[Any]]:
    """
    Return what each row is told of its mix.

    Parameters
    ----------
    mixes : Mixes
        The planned mixes.

    Returns
    -------
    dict of str to list
        `mix` (its number, from 1), `mix_ec_ms_per_cm` and `mix_below_own_percent`; None for a row
        that is in none.
    """
    conductivity = [float(_first(mix)["predicted_ec_ms_per_cm"]) for mix in mixes.mixes]
    numbers = mixes.mix.tolist()
    return {
        "mix": [None if each == NO_MIX else each + 1 for each in numbers],
        "mix_ec_ms_per_cm": [None if each == NO_MIX else conductivity[each] for each in numbers],
        "mix_below_own_percent": [
            None if each == NO_MIX else below
            for each, below in zip(numbers, mixes.below_own_percent.tolist(), strict=True)
        ],
    }


def caution_bits(mixes: Mixes) -> int:
    """
    Return the caution bits of all cans.

    Parameters
    ----------
    mixes : Mixes
        The planned mixes.

    Returns
    -------
    int
        Bits of `service.planning.cautions.CAUTIONS`.
    """
    bits = 0
    for mix in mixes.mixes:
        for filling in mix.fillings:
            bits |= int(filling.result["cautions"])
    return bits


def mix_fields(
    mixes: Mixes, names: Sequence[str | None], waters: Sequence[str], catalogue: Catalogue
) -> list[dict[str, Any]]:
    """
    Return the mixes in the order of mixing.

    Parameters
    ----------
    mixes : Mixes
        The planned mixes.
    names : sequence of str or None
        The caller's name of each row.
    waters : sequence of str
        Key of each row's water, or what stands in for it.
    catalogue : Catalogue
        Everything that the rows name.

    Returns
    -------
    list of dict
        One object per mix.
    """
    return [_mix(mix, place + 1, names, waters, catalogue) for place, mix in enumerate(mixes.mixes)]


def _first(mix: SharedMix) -> Any:
    return mix.fillings[0].result


def _mix(
    mix: SharedMix,
    place: int,
    names: Sequence[str | None],
    waters: Sequence[str],
    catalogue: Catalogue,
) -> dict[str, Any]:
    row = mix.fillings[0].request
    acid = None
    if row["acid_kind"] != rows.ABSENT:
        acid = (rows.ACID_KINDS + rows.BASE_KINDS)[int(row["acid_kind"])]
    members = mix.rows.tolist()
    cans = [_filling(each, mix, catalogue) for each in mix.fillings]
    return {
        "mix": place,
        "row_indices": members,
        "row_ids": [names[each] for each in members],
        "water": waters[members[0]] if members else "",
        "application": rows.APPLICATIONS[int(row["application"])],
        "target_ph": number(row["target_ph"]),
        "acid": acid,
        "acid_percent": number(row["acid_percent"]) if acid else None,
        "made_by": "weighing" if mix.source is None else "dilution",
        "from_mix": None if mix.source is None else mix.source + 1,
        "explanation": _explanation(mix),
        "needed_volume_l": mix.needed_l,
        "volume_l": mix.made_l,
        "drawn_volume_l": mix.drawn_l,
        **_totals(mix, row, catalogue),
        "below_own_percent": mix.below_own_percent,
        **_prediction(mix.fillings[0]),
        "fillings": cans,
        "cautions": [
            notice.code
            for notice in notices(
                int(np.bitwise_or.reduce([each.result["cautions"] for each in mix.fillings])),
                CAUTIONS,
            )
        ],
    }


def _totals(mix: SharedMix, row: Any, catalogue: Catalogue) -> dict[str, Any]:
    """Return what all cans of a mix take together."""
    weighed = mix.source is None
    single = weighed and int(row["product_count"]) == 1
    liquid = single and catalogue.product_rows[int(row["product"][0])].liquid
    amount = sum(each.times * float(each.result["amount"][0]) for each in mix.fillings)
    return {
        "product_mass_g": amount if single and not liquid else None,
        "product_volume_ml": amount if liquid else None,
        "acid_mass_g": number(sum(each.times * each.acid.mass_g for each in mix.fillings)),
        "acid_volume_ml": number(sum(each.times * each.acid.volume_ml for each in mix.fillings)),
    }


def _prediction(filling: Filling) -> dict[str, Any]:
    result = filling.result
    return {
        "predicted_ec_ms_per_cm": number(result["predicted_ec_ms_per_cm"]),
        "predicted_ph": number(result["predicted_ph"]),
        "predicted_ph_open": number(result["predicted_ph_open"]),
        "nitrogen_mg_per_l": number(result["elements_mg_per_l"][NITROGEN]),
        "saturation": [
            {
                "solid": solid,
                "index": number(result["saturation"][position]),
                "index_open": number(result["saturation_open"][position]),
            }
            for position, solid in enumerate(rows.SOLIDS_IN_ANSWERS)
        ],
    }


def _filling(filling: Filling, mix: SharedMix, catalogue: Catalogue) -> dict[str, Any]:
    poured = mix.source is not None
    return {
        "volume_l": filling.volume_l,
        "times": filling.times,
        "additions": ([] if poured else additions(filling.request, filling.result, catalogue)),
        "from_mix_volume_l": filling.portion_l if poured else None,
        "acid_mass_g": number(filling.acid.mass_g),
        "acid_volume_ml": number(filling.acid.volume_ml),
        "acid_dilution_factor": filling.acid.dilution_factor,
        **_prediction(filling),
        "steps": (
            _pouring_steps(filling, mix)
            if poured
            else mixing_steps(filling.request, filling.result, catalogue)
        ),
    }


def acid_to_add(filling: Filling) -> dict[str, Any] | None:
    """
    Return the acid of one can as it is measured, without what a stronger mix brings along.

    Parameters
    ----------
    filling : Filling
        The can.

    Returns
    -------
    dict or None
        As `service.planning.card.acid_portion` gives it; None without acid.
    """
    if not filling.acid.mass_g > 0.0:
        return None
    result = filling.result.copy()
    result["acid_mass_g"] = filling.acid.mass_g
    result["acid_volume_ml"] = filling.acid.volume_ml
    result["acid_dilution_factor"] = filling.acid.dilution_factor
    return acid_portion(filling.request, result)


def _explanation(mix: SharedMix) -> str:
    filling = mix.fillings[0]
    alkalinity = float(filling.result["water_alkalinity_mg_per_l_caco3"])
    water = "the same water" if alkalinity <= PURE_ALKALINITY else "water that got its acid first"
    return REASONS[mix.reason].format(
        source=0 if mix.source is None else mix.source + 1,
        portion=filling.portion_l,
        volume=filling.volume_l,
        water=water,
        alkalinity=alkalinity,
        least=LEAST_PORTION,
    )


def _pouring_steps(filling: Filling, mix: SharedMix) -> list[dict[str, Any]]:
    """Return the steps of a can that is poured from a stronger mix."""
    steps: list[tuple[str, float | None, str | None]] = [
        ("Fill the can with the water.", filling.volume_l - filling.portion_l, "L")
    ]
    acid = acid_to_add(filling)
    if acid is not None:
        dangerous = bool(int(filling.result["cautions"]) & int(HANDLING))
        protect = "Eye and hand protection on. " if dangerous else ""
        words = f"{protect}Stir the {acid['name']} into this water, before the feed."
        steps.append((words, acid["amount"], acid["unit"]))
    source = 0 if mix.source is None else mix.source + 1
    steps += [
        (f"Add mix {source} up to the full volume and stir.", filling.portion_l, "L"),
        (
            "Measure conductivity and pH, and compare with the predicted figures before use.",
            None,
            None,
        ),
    ]
    return [
        {
            "order": order,
            "instruction": instruction,
            "quantity": None if quantity is None else float(f"{quantity:.4g}"),
            "unit": unit,
        }
        for order, (instruction, quantity, unit) in enumerate(steps, start=1)
    ]
