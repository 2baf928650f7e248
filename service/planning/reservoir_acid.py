"""Acid or base for a reservoir: a quarter of the least that it can take, planned like any other."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.solution import STATE_COUNT, workspace
from service.planning import ph_adjustment_rows as ph_rows
from service.planning import reagents, rows
from service.planning.catalogue import Catalogue
from service.planning.cautions import PROBLEMS, caution_bit
from service.planning.defaults import fill_can_defaults
from service.planning.notes import RefusalError
from service.planning.ph_adjustment import PH_REJECTED, SCRATCH_ROWS, adjusted_solution
from service.planning.ph_adjustment_card import ph_cautions
from service.planning.ph_target import AFTER_FEED, AS_MIXED
from service.planning.reservoir_alkalinity import Buffered
from service.planning.water import ALKALINITY, PH, TEMPERATURE
from service.reference.components import COMPONENT_COUNT
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

PORTION: Final = 0.25
"""Most of the computed acid or base that is given at once; common practice."""

SAID_OF_ACID: Final = (
    "acid_handling",
    "base_handling",
    "base_is_caustic",
    "acid_storage",
    "acid_restricted",
    "acid_pre_dilution",
    "nothing_to_measure",
    "citric_does_not_last",
    "reservoir_by_alkalinity",
    "acid_phosphorus_high",
)
"""Cautions of an adjustment that hold for a reservoir too."""

_INCOMPLETE: Final = caution_bit("water_analysis_incomplete")
_INSTRUMENTS: Final = ("balance_resolution_g", "syringe_resolution_ml", "largest_can_l")


@dataclass(frozen=True)
class Goal:
    """
    What a reservoir shall be.

    Attributes
    ----------
    ph : float or None
        pH, where no alkalinity is aimed at.
    alkalinity_mg_per_l_caco3 : float or None
        Alkalinity.
    """

    ph: float | None
    alkalinity_mg_per_l_caco3: float | None


@dataclass(frozen=True, eq=False)
class Adjusted:
    """
    One planned adjustment of a reservoir.

    Attributes
    ----------
    requests, results : ndarray
        One row each of `ph_adjustment_rows`.
    """

    requests: np.ndarray
    results: np.ndarray

    @property
    def row(self) -> Any:
        """The request, defaults filled in."""
        return self.requests[0]

    @property
    def result(self) -> Any:
        """The finished row."""
        return self.results[0]

    @property
    def problem(self) -> str:
        """Code of the problem, ``none`` without."""
        return str(PROBLEMS[self.result["problem"]].code)

    @property
    def feasible(self) -> bool:
        """Whether it may be poured."""
        return rows.STATUSES[self.result["status"]] == "ok"


@dataclass(frozen=True, eq=False)
class AcidPlan:
    """
    What acid or base a reservoir takes, and the portion of it that is given now.

    Attributes
    ----------
    whole : Adjusted
        What brings the least alkalinity to the target.
    portion : Adjusted or None
        What is given now; None where nothing is.
    low_mmol_per_l, high_mmol_per_l : float or None
        Least and most that the target can take; None where the most is out of reach.
    """

    whole: Adjusted
    portion: Adjusted | None
    low_mmol_per_l: float
    high_mmol_per_l: float | None


def plan_acid(
    asked: Any, ph: float, celsius: float, volume_l: float, known: Buffered, catalogue: Catalogue
) -> AcidPlan:
    """
    Plan the acid or base of a reservoir.

    Parameters
    ----------
    asked : object
        Attributes `acid`, `target` and `instruments` of the contract.
    ph : float
        pH that is read.
    celsius : float
        Temperature [degC].
    volume_l : float
        Volume in the reservoir [L].
    known : Buffered
        What it can be made of.
    catalogue : Catalogue
        Has the tables of the planner.

    Returns
    -------
    AcidPlan
        The plan.

    Raises
    ------
    RefusalError
        If the target may not be aimed at, or cannot be reached.
    """
    place = (ph, celsius, volume_l)
    goal = Goal(asked.target.ph, asked.target.alkalinity_mg_per_l_caco3)
    whole = adjusted(asked, *place, known.least_mmol_per_l, goal, catalogue)
    if whole.problem == "acid_neutralises_too_much" and not known.measured:
        raise RefusalError("reservoir_buffer_too_small", "target", ph=ph)
    if whole.problem != "none":
        raise refusal_of(whole.problem)
    high: float | None = float(whole.result["acid_high_mmol_per_l"])
    if not known.measured:
        most = adjusted(asked, *place, known.most_mmol_per_l, goal, catalogue)
        reached = most.problem == "none"
        high = float(most.result["acid_high_mmol_per_l"]) if reached else None
    if high is not None and not np.isfinite(high):
        high = None
    low = float(whole.result["acid_low_mmol_per_l"])
    low = low if low > 0.0 else 0.0
    portion = None
    if low > 0.0 and whole.feasible:
        portion = portion_of(asked, *place, known, PORTION * low, catalogue)
    return AcidPlan(whole, portion, low, high)


def portion_of(
    asked: Any,
    ph: float,
    celsius: float,
    volume_l: float,
    known: Buffered,
    amount_mmol_per_l: float,
    catalogue: Catalogue,
) -> Adjusted:
    """
    Plan the pouring of an amount: its own pre-dilution, rounding and forward check.

    Parameters
    ----------
    asked : object
        Attributes `acid`, `target` and `instruments` of the contract.
    ph : float
        pH that is read.
    celsius : float
        Temperature [degC].
    volume_l : float
        Volume in the reservoir [L].
    known : Buffered
        What it can be made of.
    amount_mmol_per_l : float
        What is to be given [mmol/L].
    catalogue : Catalogue
        Has the tables of the planner.

    Returns
    -------
    Adjusted
        The portion.

    Raises
    ------
    RefusalError
        If the portion itself is refused.
    """
    reagent = reagents.COMPOSITION[reagents.KINDS.index(asked.acid.kind)]
    left = known.least_meq_per_l + amount_mmol_per_l * float(alkalinity_of_composition(reagent))
    goal = Goal(None, left * CALCIUM_CARBONATE_MG_PER_MEQ)
    portion = adjusted(asked, ph, celsius, volume_l, known.least_mmol_per_l, goal, catalogue)
    if portion.problem != "none":
        raise refusal_of(portion.problem)
    return portion


def adjusted(
    asked: Any,
    ph: float,
    celsius: float,
    volume_l: float,
    composition: np.ndarray,
    goal: Goal,
    catalogue: Catalogue,
) -> Adjusted:
    """
    Plan one adjustment of a composition with the planner of pH adjustments.

    Parameters
    ----------
    asked : object
        Attributes `acid` and `instruments` of the contract.
    ph : float
        pH that is read.
    celsius : float
        Temperature [degC].
    volume_l : float
        Volume in the reservoir [L].
    composition : ndarray, shape (n_components,)
        What is in it [mmol/L].
    goal : Goal
        What it shall be.
    catalogue : Catalogue
        Has the tables of the planner.

    Returns
    -------
    Adjusted
        The plan; it may hold a problem.
    """
    requests, results = ph_rows.empty_ph_requests(1), ph_rows.empty_ph_results(1)
    row, result = requests[0], results[0]
    row["profile"] = catalogue.default_profile
    row["volume_l"] = volume_l
    row["acid_kind"] = reagents.KINDS.index(asked.acid.kind)
    if asked.acid.percent is not None:
        row["acid_percent"] = asked.acid.percent
    if goal.alkalinity_mg_per_l_caco3 is not None:
        row["target_alkalinity_mg_per_l_caco3"] = goal.alkalinity_mg_per_l_caco3
    else:
        row["target_ph"] = goal.ph
    row["carbon_dioxide"] = AS_MIXED
    row["acid_goes"] = AFTER_FEED
    row["reservoir"] = 1
    if asked.instruments is not None:
        for name in _INSTRUMENTS:
            value = getattr(asked.instruments, name)
            if value is not None:
                row[name] = value
    row["water"][PH] = ph
    row["water"][TEMPERATURE] = celsius
    row["water"][ALKALINITY] = CALCIUM_CARBONATE_MG_PER_MEQ * alkalinity_of_composition(composition)
    result["water_composition_mmol_per_l"] = composition
    result["feed_composition_mmol_per_l"] = 0.0
    # The alkalinity is a drop test's at best, and its range that of one.
    result["cautions"] = _INCOMPLETE
    fill_can_defaults(row, result)
    problem = adjusted_solution(
        row,
        catalogue.product_table,
        catalogue.profile_table[row["profile"]],
        result,
        np.empty((SCRATCH_ROWS, max(COMPONENT_COUNT, STATE_COUNT))),
        workspace(),
    )
    result["problem"] = problem
    if problem != 0:
        result["status"] = PH_REJECTED
    return Adjusted(requests, results)


def refusal_of(code: str) -> RefusalError:
    """
    Return the refusal of an adjustment, placed in the request of a reservoir.

    Parameters
    ----------
    code : str
        Code of a problem.

    Returns
    -------
    RefusalError
        To be raised.
    """
    return RefusalError(code, "target.ph" if code in _OF_THE_TARGET else None)


_OF_THE_TARGET: Final = (
    "acid_target_too_low",
    "acid_neutralises_too_much",
    "acid_cannot_reach",
    "base_raises_too_far",
)


def acid_cautions(
    planned: Adjusted, catalogue: Catalogue, *, by_hand: bool
) -> list[dict[str, Any]]:
    """
    Return what is to be said of the portion that is poured.

    Parameters
    ----------
    planned : Adjusted
        The portion.
    catalogue : Catalogue
        Has the tables of the planner.
    by_hand : bool
        Whether it is measured with a syringe.

    Returns
    -------
    list of dict
        Cautions in words.
    """
    measuring = ("acid_pre_dilution", "nothing_to_measure")
    return [
        each
        for each in ph_cautions(planned.row, planned.result, catalogue)
        if each["code"] in SAID_OF_ACID and (by_hand or each["code"] not in measuring)
    ]
