"""
Solids of a concentrate with the uncertainty of the model, and how far its contents can be raised.

Everything is per kilogram of water, that of crystals included. Where mixtures of the ions at hand
were measured, the margin is what the model missed there; where they were not, it is wider, and
that is said.
"""

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.concentrate import (
    HIGHEST_TEMPERATURE,
    LOWEST_TEMPERATURE,
    Brine,
    brine,
    first_saturation,
    saturation,
)
from service.chemistry.concentrate_solids import (
    COMPOSITIONS,
    SALT_OF_SOLID,
    SOLID_COUNT,
    SOLID_NAMES,
)
from service.chemistry.concentrate_species import OK
from service.chemistry.salt_solubility import pure_salt_solubility
from service.chemistry.solution_density import dissolved_mass
from service.planning.notes import RefusalError
from service.planning.products import DENSITY, ProductRow
from service.planning.solid_margins import (
    ALONE,
    ESTIMATED,
    ESTIMATED_MARGIN,
    SINGLE_MARGINS,
    margin_in_index,
    margins_of,
)
from service.reference.components import COMPONENT_COUNT

FloatArray = NDArray[np.float64]

FREEZING_POINT: Final = 273.15
HIGHEST_MULTIPLE: Final = 1000.0
BACKGROUND_LEEWAY: Final = 8.0
"""How far the model calls a dissolved background saturated in error [percent]; tests/published."""

BACKGROUND_OVER: Final = 20.0
"""How much more of a salt can be dissolved than alone where another helps it [percent]."""

ALIKE: Final = 1e-4
"""Difference of shares up to which a composition counts as that of one salt."""


@dataclass(frozen=True)
class SolidState:
    """
    How near one solid is.

    Attributes
    ----------
    solid : str
        Name of the mineral or key of the catalogue.
    saturation_index : float
        Decadic logarithm of ion product over constant; above 0 it can come out.
    margin : float
        Uncertainty in the same units; the tank is clear of it when index plus margin is below 0.
    margin_percent : float
        The same as percent of the contents.
    evidence : str
        ``single_salt``, ``measured`` or ``estimated``.
    """

    solid: str
    saturation_index: float
    margin: float
    margin_percent: float
    evidence: str


@dataclass(frozen=True)
class ClearLimit:
    """
    How far contents can be multiplied.

    Attributes
    ----------
    multiple : float
        Best estimate of the highest multiple without a saturated solid; infinity if none can form.
    safe_multiple : float
        The same with the margin taken off.
    solid : str or None
        The solid that comes out first.
    margin_percent : float
        Its margin.
    evidence : str
        What its margin rests on.
    """

    multiple: float
    safe_multiple: float
    solid: str | None
    margin_percent: float
    evidence: str


@functools.lru_cache(maxsize=64)
def model_at(temperature_celsius: float) -> Brine:
    """
    Return the model of concentrates at a temperature.

    Parameters
    ----------
    temperature_celsius : float
        Temperature, 0 to 40 [degC].

    Returns
    -------
    Brine
        Prepared once for each temperature.

    Raises
    ------
    RefusalError
        Outside the range.
    """
    temperature = temperature_celsius + FREEZING_POINT
    if not LOWEST_TEMPERATURE <= temperature <= HIGHEST_TEMPERATURE:
        raise RefusalError("concentrate_temperature", celsius=temperature_celsius)
    return brine(temperature)


def solid_states(
    composition_mol_per_kg: FloatArray, temperature_celsius: float
) -> tuple[SolidState, ...]:
    """
    Return every solid that the ions of a concentrate could form, the nearest first.

    Parameters
    ----------
    composition_mol_per_kg : ndarray, shape (n_components,)
        Components in a kilogram of water.
    temperature_celsius : float
        Temperature, 0 to 40 [degC].

    Returns
    -------
    tuple of SolidState
        Solids made by exchange between the products included.

    Raises
    ------
    RefusalError
        Outside the temperatures, or where the model has no answer.
    """
    found = saturation(np.ascontiguousarray(composition_mol_per_kg), model_at(temperature_celsius))
    if found.status != OK:
        raise RefusalError("concentrate_beyond_model")
    places = np.flatnonzero(np.isfinite(found.indices)).tolist()
    states = [
        SolidState(
            SOLID_NAMES[place],
            float(found.indices[place]),
            margin_in_index(place, percent),
            percent,
            evidence,
        )
        for place, (percent, evidence) in zip(
            places, margins_of(places, composition_mol_per_kg), strict=True
        )
    ]
    return tuple(
        sorted(states, key=lambda state: state.saturation_index + state.margin, reverse=True)
    )


def highest_multiple(
    composition_mol_per_kg: FloatArray,
    temperature_celsius: float,
    fixed_mol_per_kg: FloatArray | None = None,
    water_kg: float = 0.0,
    most: float = HIGHEST_MULTIPLE,
) -> ClearLimit:
    """
    Return how far contents can be multiplied before a solid comes out.

    Parameters
    ----------
    composition_mol_per_kg : ndarray, shape (n_components,)
        What one multiple brings.
    temperature_celsius : float
        Temperature, 0 to 40 [degC].
    fixed_mol_per_kg : ndarray, shape (n_components,) or None
        What is there in a kilogram of water before it.
    water_kg : float
        Water that one multiple brings along [kg].
    most : float
        Multiple at which the search ends.

    Returns
    -------
    ClearLimit
        With and without the margin.

    Raises
    ------
    RefusalError
        Outside the temperatures, or where the model has no answer.
    """
    fixed = np.zeros(COMPONENT_COUNT) if fixed_mol_per_kg is None else fixed_mol_per_kg
    mixture = fixed + composition_mol_per_kg
    alone = salt_alone(mixture) if not fixed.any() else -1
    if alone >= 0:
        return _of_one_salt(alone, composition_mol_per_kg, temperature_celsius, water_kg)
    model = model_at(temperature_celsius)
    added = (composition_mol_per_kg, water_kg, most)
    leeway = _leeway(fixed, composition_mol_per_kg, model)
    multiple, solid = _first(fixed, *added, leeway, model)
    # The mixture that is judged is that at the limit, not that of the first crumbs.
    reached = fixed + min(multiple, most) * composition_mol_per_kg
    shares = margins_of(range(SOLID_COUNT), reached)
    margins = np.array(
        [margin_in_index(place, percent) for place, (percent, _) in enumerate(shares)]
    )
    safe, nearest = _first(fixed, *added, margins, model)
    solid = nearest if solid < 0 else solid
    if solid < 0:
        return ClearLimit(multiple, safe, None, ESTIMATED_MARGIN, ESTIMATED)
    percent, evidence = shares[solid]
    return ClearLimit(multiple, safe, SOLID_NAMES[solid], percent, evidence)


def _leeway(fixed: FloatArray, added: FloatArray, model: Brine) -> FloatArray:
    """
    Return allowances of solids for the best estimate: none but for those of the background.

    What is there before is dissolved, whoever asks says so. A solid that it can form and the
    addition cannot counts when it is over by more than the model errs where mixtures were measured;
    one that is over before anything is added, by no more than salts help each other to dissolve,
    does not count at all. The safe multiple knows no leeway.
    """
    allowed = np.zeros(SOLID_COUNT)
    if not fixed.any():
        return allowed
    before = saturation(np.ascontiguousarray(fixed), model).indices
    for solid in np.flatnonzero(np.isfinite(before)).tolist():
        needed = COMPOSITIONS[solid] > 0.0
        if (added[needed] > 0.0).all():
            continue
        if before[solid] < 0.0:
            allowed[solid] = -margin_in_index(solid, BACKGROUND_LEEWAY)
        elif before[solid] <= margin_in_index(solid, BACKGROUND_OVER):
            allowed[solid] = -math.inf
    return allowed


def salt_alone(composition: FloatArray) -> int:
    """
    Return the solid that a composition is a multiple of.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Components in any amount.

    Returns
    -------
    int
        Position in `SOLID_NAMES`, -1 for a mixture.
    """
    total = composition.sum()
    if not total > 0.0:
        return -1
    for solid in range(SOLID_COUNT):
        own = COMPOSITIONS[solid]
        same = np.allclose(composition / total, own / own.sum(), rtol=0.0, atol=ALIKE)
        if SALT_OF_SOLID[solid] >= 0 and same:
            return solid
    return -1


def _of_one_salt(
    solid: int, composition: FloatArray, temperature_celsius: float, water_kg: float
) -> ClearLimit:
    """Return the limit of a salt by itself: its adopted solubility, whatever else it could form."""
    adopted = pure_salt_solubility(SALT_OF_SOLID[solid], temperature_celsius + FREEZING_POINT)
    if not math.isfinite(adopted):
        raise RefusalError("concentrate_temperature", celsius=temperature_celsius)
    part = int(np.argmax(COMPOSITIONS[solid]))
    formulas = composition[part] / COMPOSITIONS[solid, part]

    single = SINGLE_MARGINS[SOLID_NAMES[solid]]

    def multiple(molality: float) -> float:
        room = formulas - molality * water_kg
        return molality / room if room > 0.0 else math.inf

    return ClearLimit(
        multiple(adopted),
        multiple(adopted / (1.0 + single / 100.0)),
        SOLID_NAMES[solid],
        single,
        ALONE,
    )


def _first(
    fixed: FloatArray,
    added: FloatArray,
    water: float,
    most: float,
    offsets: FloatArray,
    model: Brine,
) -> tuple[float, int]:
    """Return how many units can be added, and the solid that comes out first; -1 for none."""
    result = np.zeros(1)
    solid = first_saturation(
        np.ascontiguousarray(fixed),
        np.ascontiguousarray(added),
        water,
        most,
        offsets,
        model.constants,
        model.slope,
        model.salts,
        model.pairs,
        model.triplets,
        model.solid_constants,
        result,
    )
    if solid == -2:
        raise RefusalError("concentrate_beyond_model")
    return float(result[0]), int(solid)


def molality_of_products(
    amounts: Sequence[tuple[ProductRow, float]],
) -> tuple[FloatArray, float]:
    """
    Return what products bring to the water that they are dissolved in.

    Parameters
    ----------
    amounts : sequence of (ProductRow, float)
        Products with grams as sold in a kilogram of water added.

    Returns
    -------
    composition : ndarray, shape (n_components,)
        Components in a kilogram of all water [mol/kg].
    water_kg : float
        All water to a kilogram of water added, that of crystals and liquids included [kg].
    """
    total, water = np.zeros(COMPONENT_COUNT), 1.0
    for product, grams in amounts:
        brought, own_water = brought_by(product)
        total += grams * brought
        water += grams * own_water
    return total / water, water


def brought_by(product: ProductRow) -> tuple[FloatArray, float]:
    """
    Return what one gram of a product as sold brings.

    Parameters
    ----------
    product : ProductRow
        A solid, or a liquid of known density.

    Returns
    -------
    composition : ndarray, shape (n_components,)
        Components [mol].
    water_kg : float
        Water of crystals, or of a liquid [kg].

    Raises
    ------
    RefusalError
        For a liquid of unknown density.
    """
    per_gram = np.array(product.values[:COMPONENT_COUNT]) / 1000.0
    if product.liquid:
        density = float(product.values[DENSITY])
        if not density > 0.0:
            raise RefusalError("density_needed", "product")
        per_gram = per_gram / density
    water = 0.001 - dissolved_mass(per_gram)
    return per_gram, max(water, 0.0)
