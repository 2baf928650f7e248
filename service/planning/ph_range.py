"""Between which bounds a dose and the pH that it gives lie, and why."""

from typing import Final

import numpy as np

from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED
from service.chemistry.kernel import kernel
from service.chemistry.solution import (
    STATE_PH,
    constants_of,
    density_of,
    molal_composition,
    predicted_state,
    speciation_of,
)
from service.chemistry.water_analysis import composition_from_alkalinity
from service.planning import ph_adjustment_rows as ph_rows
from service.planning import reagents, rows
from service.planning.can_cautions import SPREAD_NAMED
from service.planning.cautions import caution_bit
from service.planning.ph_target import counted_feed
from service.planning.reagent_dose import bottle_density, bottle_mass, needed_amount
from service.planning.water import FREEZING_POINT, PH, TEMPERATURE, stated_alkalinity
from service.reference.components import CALCIUM, CARBONATE, COMPONENT_COUNT, UNMEASURED

SMALLEST_MARGIN: Final = 0.01
"""Error of the best titration of a water [meq/L]; common practice."""

TITRATION_MARGIN: Final = 0.02
"""Relative error of the alkalinity in a full analysis; common practice."""

INCOMPLETE_MARGIN: Final = 0.05
"""The same where the analysis is not complete, as with a drop test kit; common practice."""

LOW_WATER_PH: Final = 7.0
"""pH, from a well, of a water whose pH is not sent and that was taken as aired; common practice."""

_CALCIUM_COLUMN: Final = rows.WATER_FIELDS.index("calcium_mg_per_l")
_HARDNESS_COLUMN: Final = rows.WATER_FIELDS.index("hardness_mg_per_l_caco3")
INCOMPLETE: Final = caution_bit("water_analysis_incomplete")
BY_TITRATION: Final = 1 << ph_rows.RANGE_REASONS.index("titration")
BY_ANALYSIS: Final = 1 << ph_rows.RANGE_REASONS.index("analysis_incomplete")
BY_WATER_PH: Final = 1 << ph_rows.RANGE_REASONS.index("water_ph_unknown")
BY_CALCIUM: Final = 1 << ph_rows.RANGE_REASONS.index("calcium_unknown")
BY_BUFFER: Final = 1 << ph_rows.RANGE_REASONS.index("little_buffer")


@kernel
def fill_range(row: np.void, result: np.void, scratch: np.ndarray, work: np.ndarray) -> None:
    """
    Fill in how far the dose and the pH can lie off, and why.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request.
    result : record of `ph_adjustment_rows.PH_RESULT`
        Holds what is known so far and receives the rest.
    scratch : ndarray, shape (8, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.
    """
    kind = row["acid_kind"]
    volume = row["volume_l"]
    alkalinity = stated_alkalinity(row["water"])
    reasons = BY_TITRATION
    relative = TITRATION_MARGIN
    if result["cautions"] & INCOMPLETE != 0:
        reasons |= BY_ANALYSIS
        relative = INCOMPLETE_MARGIN
    margin = max(SMALLEST_MARGIN, relative * alkalinity)
    result["alkalinity_margin_meq_per_l"] = margin
    counted, low, high = scratch[3], scratch[4], scratch[5]
    counted_feed(row, result, counted)
    for component in range(COMPONENT_COUNT):
        low[component] = result["water_composition_mmol_per_l"][component]
        high[component] = low[component]
    if np.isnan(row["water"][PH]) and _carbonate_at_low_ph(row, result, scratch, work):
        reasons |= BY_WATER_PH
    if (
        kind == reagents.CITRIC
        and np.isnan(row["water"][_CALCIUM_COLUMN])
        and np.isnan(row["water"][_HARDNESS_COLUMN])
    ):
        # Calcium binds citrate and sets hydrogen ions free; at most it balances the alkalinity.
        reasons |= BY_CALCIUM
        low[CALCIUM] += 0.5 * alkalinity
        low[UNMEASURED] -= alkalinity
    low[UNMEASURED] -= margin
    low[CARBONATE] = max(low[CARBONATE] - margin, 0.0)
    high[UNMEASURED] += margin
    high[CARBONATE] += margin
    amounts = scratch[6]
    for place in range(2):
        status, amount = needed_amount(
            row, low if place == 0 else high, counted, 0.0, scratch, work
        )
        amounts[place] = amount if status < NOT_CONVERGED else np.nan
    smaller, larger = amounts[0], amounts[1]
    if reagents.IS_BASE[kind]:
        smaller, larger = larger, smaller
    amount = result["acid_mmol_per_l"]
    if not np.isnan(smaller):
        smaller = min(smaller, amount)
    if not np.isnan(larger):
        larger = max(larger, amount)
    density = bottle_density(kind, row["acid_percent"])
    result["acid_low_mmol_per_l"] = smaller
    result["acid_high_mmol_per_l"] = larger
    result["acid_mass_low_g"] = bottle_mass(kind, row["acid_percent"], smaller) * volume
    result["acid_mass_high_g"] = bottle_mass(kind, row["acid_percent"], larger) * volume
    result["acid_volume_low_ml"] = result["acid_mass_low_g"] / density
    result["acid_volume_high_ml"] = result["acid_mass_high_g"] / density
    result["predicted_ph_low"] = _shifted_ph(row, result, -margin, scratch, work)
    result["predicted_ph_high"] = _shifted_ph(row, result, margin, scratch, work)
    lower = _shifted_ph(row, result, -SMALLEST_MARGIN, scratch, work)
    result["ph_spread"] = _shifted_ph(row, result, SMALLEST_MARGIN, scratch, work) - lower
    if result["ph_spread"] > SPREAD_NAMED:
        reasons |= BY_BUFFER
    result["range_reasons"] = reasons


@kernel
def _carbonate_at_low_ph(
    row: np.void, result: np.void, scratch: np.ndarray, work: np.ndarray
) -> bool:
    """Replace the low water by the same at the pH of a well; false where that is no other."""
    molal, composition, low = scratch[0], scratch[1], scratch[4]
    density = density_of(work)
    molal_composition(result["water_composition_mmol_per_l"], density, molal)
    status, _ = composition_from_alkalinity(
        molal[:COMPONENT_COUNT],
        LOW_WATER_PH,
        stated_alkalinity(row["water"]) / density,
        constants_of(work),
        speciation_of(work),
        composition[:COMPONENT_COUNT],
    )
    if status >= NOT_CONVERGED or 1000.0 * density * composition[CARBONATE] <= low[CARBONATE]:
        return False
    for component in range(COMPONENT_COUNT):
        low[component] = 1000.0 * density * composition[component]
    return True


@kernel
def _shifted_ph(
    row: np.void, result: np.void, error: float, scratch: np.ndarray, work: np.ndarray
) -> float:
    """Return the pH as mixed with an error [meq/L] in the alkalinity, NaN if not solved."""
    state, total = scratch[0], scratch[1]
    for component in range(COMPONENT_COUNT):
        total[component] = result["composition_mmol_per_l"][component]
    total[UNMEASURED] += error
    temperature = row["water"][TEMPERATURE] + FREEZING_POINT
    if predicted_state(total, temperature, CLOSED, False, work, state) >= NOT_CONVERGED:
        return np.nan
    return float(state[STATE_PH])
