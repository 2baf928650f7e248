"""
The cans of shared mixes: each one planned by the kernel of a single dose, at its real volume.

A can is planned for the weakest plants that it serves, so that their ceilings bind it, and then
held against the ceilings of every other row that takes from it.
"""

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.kernel import kernel
from service.planning import rows
from service.planning.acid_dose import PRE_DILUTIONS
from service.planning.can_filling import fillings
from service.planning.catalogue import Catalogue
from service.planning.cautions import assumption_bit, caution_bit
from service.planning.doses import plan
from service.planning.forward_check import keeps_ceilings
from service.planning.instruments import TRUSTED_STEPS, rounded_amount
from service.planning.mix_dilution import FINEST_STEP, Dilution, portion
from service.planning.mix_grouping import NO_MIX, Grouping

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

OK: Final = rows.STATUSES.index("ok")
BY_PRODUCT: Final = rows.STRENGTH_BASES.index("product")
WATER_ASSUMED: Final = assumption_bit("water_assumed")
STRENGTH_REDUCED: Final = caution_bit("strength_reduced")
PRE_DILUTION: Final = caution_bit("acid_pre_dilution")


@dataclass(frozen=True, eq=False)
class Acid:
    """
    Acid or base to add to a can, beside what a stronger mix brings along.

    Attributes
    ----------
    mass_g, volume_ml : float
        From the bottle; the volume is NaN for what is weighed.
    dilution_factor : float
        How far the bottle is diluted first, so that a syringe can measure it.
    """

    mass_g: float
    volume_ml: float
    dilution_factor: float


@dataclass(frozen=True, eq=False)
class Filling:
    """
    One can, and how often it is filled like that.

    Attributes
    ----------
    volume_l : float
        Volume of the can.
    times : int
        How often it is filled.
    portion_l : float
        What it takes of a stronger mix; 0 for a can that is weighed in.
    request : record of `rows.DOSE_REQUEST`
        The can as a dose.
    result : record of `rows.DOSE_RESULT`
        The can as it will be, at its measured amounts.
    acid : Acid
        What sets its pH.
    """

    volume_l: float
    times: int
    portion_l: float
    request: Any
    result: Any
    acid: Acid

    @property
    def usable(self) -> bool:
        """Whether the can passed its own checks."""
        return bool(self.result["status"] == OK)


@kernel
def fill_kept(
    requests: np.ndarray,
    results: np.ndarray,
    can_of_row: np.ndarray,
    can_requests: np.ndarray,
    cans: np.ndarray,
    product_table: np.ndarray,
    plant_profiles: np.ndarray,
    kept: np.ndarray,
) -> None:
    """
    Mark the rows whose ceilings the can that they take from does not keep.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        Planned requests.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Their plans, which hold their ceilings.
    can_of_row : ndarray of int, shape (n_rows,)
        Can of each row, negative for none.
    can_requests : ndarray of `rows.DOSE_REQUEST`, shape (n_cans,)
        The cans as doses.
    cans : ndarray of `rows.DOSE_RESULT`, shape (n_cans,)
        The finished cans.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    plant_profiles : ndarray, shape (n_profiles, n_profile_columns)
        Table of `service.planning.profiles`.
    kept : ndarray of bool, shape (n_rows,)
        Set to False for a row whose can is too strong for it or has no answer.
    """
    for index in range(requests.size):
        can = can_of_row[index]
        if can < 0:
            continue
        if cans[can]["status"] != OK or not keeps_ceilings(
            requests[index],
            product_table,
            plant_profiles[requests[index]["profile"]],
            results[index],
            can_requests[can],
            cans[can],
        ):
            kept[index] = False


@dataclass(frozen=True, eq=False)
class SharedNeeds:
    """
    What the rows of each mix need together.

    Attributes
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_mixes,)
        The weakest row of each mix, asking for what every row of the mix bears.
    strength : ndarray, shape (n_mixes,)
        What the mix holds of its first product [g/L or mL/L].
    volume_l : ndarray, shape (n_mixes,)
        What the rows take together.
    assumptions : ndarray of uint64, shape (n_mixes,)
        Assumption bits that a plan must know of.
    """

    requests: NDArray[np.void]
    strength: FloatArray
    volume_l: FloatArray
    assumptions: NDArray[np.uint64]


def shared_needs(
    requests: NDArray[np.void],
    results: NDArray[np.void],
    grouping: Grouping,
    catalogue: Catalogue,
) -> SharedNeeds:
    """
    Return what the rows of each mix need together.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        Planned requests.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Their plans.
    grouping : Grouping
        Which rows share a can.
    catalogue : Catalogue
        Everything that the rows name.

    Returns
    -------
    SharedNeeds
        Amounts that no row of the mix bears less of; steps of the coarsest instruments.
    """
    served = np.flatnonzero(grouping.mix != NO_MIX)
    order = served[np.lexsort((grouping.strength[served], grouping.mix[served]))]
    begins = np.flatnonzero(np.diff(grouping.mix[order], prepend=-1))
    if not begins.size:
        empty = np.zeros(0)
        return SharedNeeds(requests[:0].copy(), empty, empty, np.zeros(0, dtype=np.uint64))
    weakest = order[begins]
    least = np.minimum.reduceat(grouping.amounts[order], begins, axis=0)
    asked = requests[weakest]
    for name in ("balance_resolution_g", "syringe_resolution_ml"):
        asked[name] = np.maximum.reduceat(requests[name][order], begins)
    # A mix has cans of its own.
    for name in ("count", "volume_per_plant_ml", "largest_can_l"):
        asked[name] = np.nan
    for row, products, amounts in zip(asked, grouping.products[weakest], least, strict=True):
        _ask_for(row, products, amounts, catalogue)
    return SharedNeeds(
        requests=asked,
        strength=least[:, 0],
        volume_l=np.add.reduceat(results["volume_l"][order], begins),
        assumptions=results["assumptions"][weakest] & WATER_ASSUMED,
    )


def _ask_for(row: Any, products: IntArray, amounts: FloatArray, catalogue: Catalogue) -> None:
    """Make a request of so much of each product, in the order in which it named them."""
    wanted = [
        (int(product), float(amount))
        for product, amount in zip(products, amounts, strict=True)
        if product != rows.ABSENT
    ]
    named = row["product"][: int(row["product_count"])].tolist()
    wanted.sort(key=lambda each: named.index(each[0]))
    row["product_count"] = len(wanted)
    row["product"], row["strength_basis"] = rows.ABSENT, rows.ABSENT
    row["strength_element"], row["strength_counts"] = rows.ABSENT, rows.ABSENT
    row["strength_value"], row["strength_scale"] = np.nan, np.nan
    for slot, (product, amount) in enumerate(wanted):
        row["product"][slot] = product
        row["strength_basis"][slot] = BY_PRODUCT
        row["strength_value"][slot] = amount
        row["strength_by_volume"][slot] = int(catalogue.product_rows[product].liquid)


def planned_cans(
    needs: SharedNeeds, mixes: IntArray, volume_l: FloatArray, catalogue: Catalogue
) -> tuple[NDArray[np.void], NDArray[np.void]]:
    """
    Plan cans of mixes at their volumes.

    Parameters
    ----------
    needs : SharedNeeds
        What the mixes are.
    mixes : ndarray of int, shape (n_cans,)
        Mix of each can.
    volume_l : ndarray, shape (n_cans,)
        Volume of each can.
    catalogue : Catalogue
        Everything that the mixes name.

    Returns
    -------
    tuple of ndarray
        Requests, defaults filled in, and results of the cans.
    """
    asked = needs.requests[mixes]
    asked["volume_l"] = volume_l
    return _planned(asked, needs.assumptions[mixes], catalogue)


def _planned(
    asked: NDArray[np.void], assumptions: NDArray[np.uint64], catalogue: Catalogue
) -> tuple[NDArray[np.void], NDArray[np.void]]:
    planned = rows.empty_results(asked.size)
    planned["assumptions"] = assumptions
    plan(asked, planned, catalogue)
    # Asked for is what the weakest plants bear: nothing is taken back from anybody.
    planned["cautions"] &= ~np.uint64(STRENGTH_REDUCED)
    return asked, planned


def filled_cans(
    needs: SharedNeeds,
    made_l: FloatArray,
    dilutions: list[Dilution],
    cans_l: tuple[float, ...],
    catalogue: Catalogue,
) -> list[list[Filling]]:
    """
    Fill the cans on hand: those that are weighed in first, then those that take from them.

    Parameters
    ----------
    needs : SharedNeeds
        What the mixes are.
    made_l : ndarray, shape (n_mixes,)
        How much is made of each.
    dilutions : list of Dilution
        How each mix is made.
    cans_l : tuple of float
        Cans on hand.
    catalogue : Catalogue
        Everything that the mixes name.

    Returns
    -------
    list of list of Filling
        The fillings of each mix, the larger ones first.
    """
    sizes = [
        (mix, volume, times)
        for mix, made in enumerate(made_l.tolist())
        for volume, times in fillings(made, cans_l)
    ]
    filled: list[list[Filling]] = [[] for _ in made_l]
    weighed = [each for each in sizes if dilutions[each[0]].source is None]
    asked, planned = planned_cans(needs, *_columns(weighed), catalogue)
    for (mix, volume, times), request, result in zip(weighed, asked, planned, strict=True):
        acid = Acid(
            float(result["acid_mass_g"]),
            float(result["acid_volume_ml"]),
            float(result["acid_dilution_factor"]),
        )
        filled[mix].append(Filling(volume, times, 0.0, request, result, acid))
    thinned = [each for each in sizes if dilutions[each[0]].source is not None]
    mixes, volumes = _columns(thinned)
    asked = needs.requests[mixes]
    asked["volume_l"] = volumes
    portions = []
    for row, (mix, volume, _) in zip(asked, thinned, strict=True):
        source = filled[dilutions[mix].source or 0]
        taken = portion(volume, dilutions[mix].ratio)
        portions.append(taken)
        _take(row, source, taken / volume)
    tools = ("balance_resolution_g", "syringe_resolution_ml", "balance_minimum_g")
    coarse = {name: asked[name].copy() for name in tools}
    asked["balance_resolution_g"] = FINEST_STEP
    asked["syringe_resolution_ml"] = FINEST_STEP
    asked["balance_minimum_g"] = np.nan
    asked, planned = _planned(asked, needs.assumptions[mixes], catalogue)
    for name, column in coarse.items():
        asked[name] = column
    for number, (mix, volume, times) in enumerate(thinned):
        strong = filled[dilutions[mix].source or 0][0]
        acid = _rest_of_acid(asked[number], planned[number], strong, portions[number])
        filled[mix].append(
            Filling(volume, times, portions[number], asked[number], planned[number], acid)
        )
    return filled


def _columns(sizes: list[tuple[int, float, int]]) -> tuple[IntArray, FloatArray]:
    mixes = np.array([mix for mix, _, _ in sizes], dtype=np.int64)
    return mixes, np.array([volume for _, volume, _ in sizes], dtype=np.float64)


def _take(row: Any, source: list[Filling], share: float) -> None:
    """Make a request of a share of a stronger mix, by its strongest filling."""
    strong = source[0].request
    for name in (
        "product_count",
        "product",
        "strength_basis",
        "strength_by_volume",
    ):
        row[name] = strong[name]
    for slot in range(int(strong["product_count"])):
        held = max(float(each.result["amount"][slot]) / each.volume_l for each in source)
        row["strength_value"][slot] = held * share


def _rest_of_acid(row: Any, result: Any, source: Filling, taken_l: float) -> Acid:
    """Acid that a diluted can needs beside what it takes over."""
    share = taken_l / source.volume_l
    mass = float(result["acid_mass_g"]) - share * float(source.result["acid_mass_g"])
    volume = float(result["acid_volume_ml"]) - share * float(source.result["acid_volume_ml"])
    factor = 1.0
    if volume != volume:
        mass = rounded_amount(max(mass, 0.0), float(row["balance_resolution_g"]), True)
    if volume > 0.0:
        least = TRUSTED_STEPS * float(row["syringe_resolution_ml"])
        fit = [each for each in PRE_DILUTIONS.tolist() if volume * each >= least]
        factor = fit[0] if fit else float(PRE_DILUTIONS[-1])
    return Acid(max(mass, 0.0), max(volume, 0.0) if volume == volume else volume, factor)


def with_pre_dilution_said(filling: Filling) -> Filling:
    """
    Return a filling whose caution of a diluted bottle fits the acid that it is given.

    Parameters
    ----------
    filling : Filling
        A can that takes from a stronger mix.

    Returns
    -------
    Filling
        The same can.
    """
    result = filling.result.copy()
    result["cautions"] &= ~np.uint64(PRE_DILUTION)
    if filling.acid.dilution_factor > 1.0:
        result["cautions"] |= np.uint64(PRE_DILUTION)
    return replace(filling, result=result)
