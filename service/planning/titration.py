"""The pH of a can over the amount of acid or base, for a chart with the dose on it."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED
from service.chemistry.solution import STATE_COUNT, STATE_PH, predicted_state, workspace
from service.planning import reagents
from service.planning.water import FREEZING_POINT, TEMPERATURE
from service.reference.acids import acids

POINTS: Final = 61
BEYOND: Final = 1.4
"""How far past the dose the curve goes, as a share of the dose."""


def titration(row: Any, result: Any) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """
    Return the pH as mixed for amounts from none to beyond the dose.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request, defaults filled in.
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.

    Returns
    -------
    amount : ndarray, shape (n,)
        Acid or base in a litre of the can [mmol/L].
    ph : ndarray, shape (n,)
        pH as mixed, carbon kept; amounts that cannot be solved are left out.
    """
    dose = float(result["acid_mmol_per_l"])
    reagent = acids()[reagents.KINDS[row["acid_kind"]]].composition_mol_per_mol
    without = result["composition_mmol_per_l"] - dose * reagent
    temperature = float(row["water"][TEMPERATURE]) + FREEZING_POINT
    work, state = workspace(), np.empty(STATE_COUNT)
    amounts, found = [], []
    for amount in np.linspace(0.0, BEYOND * max(dose, 0.1), POINTS):
        total = without + amount * reagent
        if predicted_state(total, temperature, CLOSED, False, work, state) < NOT_CONVERGED:
            amounts.append(float(amount))
            found.append(float(state[STATE_PH]))
    return np.array(amounts), np.array(found)
