"""The card of a weaker solution of acid or base, of which the instruments can measure the dose."""

from collections.abc import Mapping
from typing import Any

from service.planning.explain.working import Working
from service.planning.instruments import TRUSTED_STEPS


def pre_dilution_answers(working: Working, card: Mapping[str, Any], dose: str, amount: str) -> None:
    """
    Add the fields of the card.

    Parameters
    ----------
    working : Working
        Holds the amount of the bottle, and how far or to what strength it is diluted.
    card : mapping
        The card, as `service.planning.pre_dilution` gives it.
    dose : str
        Name of what is measured of the weaker solution [mL].
    amount : str
        Formula of the acid or base in that dose [mmol].
    """
    batch = working.known(
        "batch_volume_ml",
        card["batch_volume_ml"],
        "smallest handy volume that holds the dose and of which the instrument shows"
        f" {TRUSTED_STEPS:g} steps",
        None,
    )
    working.answer("pre_dilution.batch_volume_ml", batch, 4)
    working.answer("pre_dilution.dose_ml", dose, 4)
    if card["g_per_l"] is None:
        working.answer("pre_dilution.dilution_factor", "dilution", 4)
        working.answer("pre_dilution.acid_volume_ml", f"{batch} / dilution", 4)
        working.answer("pre_dilution.water_ml", f"{batch} - {batch} / dilution", 4)
        taken = "bottle_volume_ml * dilution / 1000"
    else:
        working.answer("pre_dilution.g_per_l", "pre_solution_g_per_l", 4)
        working.answer("pre_dilution.acid_mass_g", f"pre_solution_g_per_l * {batch} / 1000", 4)
        working.answer("pre_dilution.water_ml", batch, 4)
        taken = "bottle_mass_g / pre_solution_g_per_l"
    strength = working.computed(
        "strength_of_the_weaker_solution_mmol_per_l",
        f"{amount} / ({taken})",
        card["acid_mmol_per_l"],
    )
    working.answer("pre_dilution.acid_mmol_per_l", strength, 4)
