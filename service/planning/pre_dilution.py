"""
The card of a weaker solution of an acid or a base, for a dose that the syringe cannot measure.

How much goes from the bottle into how much water, what stands on the label, how long it keeps.
"""

from typing import Any, Final

from service.planning import reagents
from service.planning.instruments import TRUSTED_STEPS

BATCHES_ML: Final = (100.0, 250.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0)
"""Volumes in which a weaker solution is made [mL]; common practice."""

LARGEST_BATCH_ML: Final = 10000.0
"""Largest of them where the caller names no largest can [mL]; common practice."""

SHELF_NOTES: Final = {
    "nitric": "Keeps a year, closed, cool and dark, apart from anything that burns.",
    "phosphoric": "Keeps a year, closed and cool.",
    "sulfuric": "Keeps a year, closed and cool.",
    "citric": "Microbes eat it: make it fresh every two weeks and keep it in the cold.",
    "potassium_hydroxide": "Keeps half a year in a closed plastic bottle: air turns it into "
    "carbonate, and it attacks glass and aluminium.",
    "potassium_bicarbonate": "Keeps a month, closed.",
    "potassium_carbonate": "Keeps half a year, closed.",
}
"""How long a weaker solution is good; common practice."""

HAZARD_WORDS: Final = {
    "nitric": "Corrosive acid.",
    "phosphoric": "Corrosive acid.",
    "sulfuric": "Corrosive acid.",
    "citric": "Acid, irritates eyes.",
    "potassium_hydroxide": "Caustic.",
    "potassium_bicarbonate": "Not for drinking.",
    "potassium_carbonate": "Irritates eyes.",
}


def batch_to_make(dose: float, share: float, step: float, largest: float) -> float:
    """
    Return the volume of a weaker solution that can be made and measured.

    Parameters
    ----------
    dose : float
        Millilitres of it that are needed.
    share : float
        Millilitres of the bottle, or grams of crystals, in each millilitre of it.
    step : float
        Step of the syringe or the balance that measures them.
    largest : float
        Millilitres of the largest vessel.

    Returns
    -------
    float
        Millilitres: the least of `BATCHES_ML` that holds the dose and enough to measure.
    """
    fitting = [each for each in BATCHES_ML if dose <= each <= largest] or [max(largest, dose)]
    enough = TRUSTED_STEPS * step * (1.0 - 1e-9)
    return next((each for each in fitting if share * each >= enough), fitting[-1])


def pre_dilution(row: Any, result: Any) -> dict[str, Any] | None:
    """
    Return the card of the weaker solution that a row is measured with.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request, defaults filled in.
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.

    Returns
    -------
    dict or None
        None where the bottle itself is measured.
    """
    factor = float(result["acid_dilution_factor"])
    strength = float(result["pre_solution_g_per_l"])
    if not result["acid_mmol_per_l"] > 0.0 or (factor <= 1.0 and strength <= 0.0):
        return None
    kind = int(row["acid_kind"])
    key, name = reagents.KINDS[kind], reagents.reagent_name(kind)
    percent = float(row["acid_percent"])
    dose = float(result["dose_volume_ml"])
    largest = 1000.0 * float(row["largest_can_l"])
    largest = largest if largest == largest else LARGEST_BATCH_ML
    dissolved = strength > 0.0
    step = float(row["balance_resolution_g"] if dissolved else row["syringe_resolution_ml"])

    share = strength / 1000.0 if dissolved else 1.0 / factor
    batch = batch_to_make(dose, share, step, largest)
    amount = share * batch
    per_litre = float(result["acid_mmol_per_l"] * row["volume_l"])
    molarity = per_litre / float(
        result["acid_mass_g"] / strength
        if dissolved
        else result["acid_volume_ml"] * factor / 1000.0
    )
    made = f"{strength:g} g/L" if dissolved else f"1 in {factor:.0f}"
    return {
        "acid_volume_ml": None if dissolved else amount,
        "acid_mass_g": amount if dissolved else None,
        "water_ml": batch if dissolved else batch - amount,
        "batch_volume_ml": batch,
        "dilution_factor": None if dissolved else factor,
        "g_per_l": strength if dissolved else None,
        "acid_mmol_per_l": molarity,
        "dose_ml": dose,
        "label": f"{name.capitalize()} {percent:g} %, {made} ({molarity / 1000.0:.3g} mol/L), for "
        f"pH only. {HAZARD_WORDS[key]} Made on ________",
        "shelf_note": SHELF_NOTES[key],
    }
