"""Whether a tank stays clear: saturation of every solid, over the temperatures it stands at."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.prepared_litre import prepared_litre
from service.chemistry.solution import REFERENCE_TEMPERATURE
from service.chemistry.solution_density import dissolved_mass
from service.planning.concentrate import SolidState, solid_states
from service.planning.notes import RefusalError
from service.planning.tank_products import TankProduct
from service.reference.components import COMPONENT_COUNT

FloatArray = NDArray[np.float64]

HIGHEST_FACTOR: Final = 1000.0
"""Largest concentration factor that is looked at; injectors end at 1:500 to 1:1000."""

STEP_CELSIUS: Final = 5.0
"""Steps in which the temperatures between the coldest and the warmest are looked at."""

FACTOR_STEP: Final = 1.5
"""Steps in which factors are tried, before the limit is closed in."""

CLOSE_ENOUGH: Final = 5e-4
"""Share to which a highest factor is known."""

MILLILITRES_PER_LITRE: Final = 1000.0

SOLID: Final = "solid"
ROOM: Final = "room"
MODEL: Final = "model"
RANGE: Final = "range"


@dataclass(frozen=True, eq=False)
class TankWater:
    """
    What a tank is filled up with, and the temperatures at which it stands.

    Attributes
    ----------
    composition_mol_per_kg : ndarray, shape (n_components,)
        Components of the water.
    temperatures_celsius : tuple of float
        Temperatures at which the tank must be clear, the coldest first.
    """

    composition_mol_per_kg: FloatArray
    temperatures_celsius: tuple[float, ...]

    @cached_property
    def own_solids(self) -> dict[tuple[str, float], float]:
        """Guarded indices of what the water alone is over, by solid and temperature."""
        found: dict[tuple[str, float], float] = {}
        for celsius in self.temperatures_celsius:
            for state in _states(self.composition_mol_per_kg, celsius) or ():
                guarded = state.saturation_index + state.margin
                if guarded >= 0.0:
                    found[state.solid, celsius] = guarded
        return found


@dataclass(frozen=True)
class TankLimit:
    """
    How far a tank can be concentrated.

    Attributes
    ----------
    highest_factor : float
        Largest concentration factor at which it is clear.
    limited_by : str
        ``solid``; ``room`` where the products leave none for water; ``model`` where the chemistry
        holds no further; ``range`` at `HIGHEST_FACTOR`.
    solid : str or None
        The solid that comes out first.
    at_celsius : float or None
        Temperature at which it does.
    """

    highest_factor: float
    limited_by: str
    solid: str | None
    at_celsius: float | None


@dataclass(frozen=True, eq=False)
class TankLitre:
    """
    A litre of a tank.

    Attributes
    ----------
    composition_mol_per_kg : ndarray, shape (n_components,)
        Components in a kilogram of water.
    water_kg_per_l : float
        Water in a litre, that of crystals and liquids included.
    density_kg_per_l : float
        Density at 25 degC.
    """

    composition_mol_per_kg: FloatArray
    water_kg_per_l: float
    density_kg_per_l: float


@dataclass(frozen=True)
class TankSolid:
    """
    How far a solid is from coming out of a tank.

    Attributes
    ----------
    state : SolidState
        Its saturation index with the margin of the model.
    at_celsius : float
        Temperature at which it is nearest to coming out.
    of_water : bool
        Whether the water alone is as far over it: then it is not the products that bring it out.
    """

    state: SolidState
    at_celsius: float
    of_water: bool = False

    @property
    def guarded_index(self) -> float:
        """The index with the margin on the unsafe side; below 0 the tank is clear of the solid."""
        return self.state.saturation_index + self.state.margin

    @property
    def comes_out(self) -> bool:
        """Whether the products of the tank may bring it out."""
        return self.guarded_index >= 0.0 and not self.of_water


def temperatures_between(coldest: float, warmest: float) -> tuple[float, ...]:
    """
    Return the temperatures at which a tank is looked at.

    Parameters
    ----------
    coldest, warmest : float
        Ends of the range [degC].

    Returns
    -------
    tuple of float
        Both ends and every step of a fixed grid between them, so that a colder end never drops a
        temperature of the grid [degC].
    """
    grid = np.arange(0.0, 100.0, STEP_CELSIUS)
    between = [float(each) for each in grid if coldest < each < warmest]
    return tuple(dict.fromkeys((coldest, *between, warmest)))


def tank_litre(
    products: Sequence[TankProduct], water: FloatArray, factor: float
) -> TankLitre | None:
    """
    Return a litre of a tank.

    Parameters
    ----------
    products : sequence of TankProduct
        Its contents, for a litre of the working solution.
    water : ndarray, shape (n_components,)
        Components of the water that fills it up [mol/kg].
    factor : float
        Concentration factor.

    Returns
    -------
    TankLitre or None
        None where the contents leave no room for water.
    """
    added = np.zeros(COMPONENT_COUNT)
    for product in products:
        added += factor * product.added_mmol_per_l
    composition = np.zeros(COMPONENT_COUNT)
    content = float(prepared_litre(water, added, REFERENCE_TEMPERATURE, composition))
    if np.isnan(content):
        return None
    density = content * (1.0 + float(dissolved_mass(composition)))
    weighed = factor * sum(product.mass_g_per_l for product in products) / MILLILITRES_PER_LITRE
    if weighed > density:
        return None
    return TankLitre(composition, content, density)


def tank_solids(litre: TankLitre, water: TankWater) -> dict[str, TankSolid] | None:
    """
    Return every solid that a tank's ions could form, at the temperature where it is nearest to it.

    Parameters
    ----------
    litre : TankLitre
        A litre of the tank.
    water : TankWater
        Temperatures at which it stands.

    Returns
    -------
    dict of str to TankSolid or None
        By name; None where the tank is stronger than the model holds for.
    """
    found: dict[str, TankSolid] = {}
    for celsius in water.temperatures_celsius:
        states = _states(litre.composition_mol_per_kg, celsius)
        if states is None:
            return None
        for state in states:
            own = water.own_solids.get((state.solid, celsius), -np.inf)
            of_water = bool(state.saturation_index + state.margin <= own)
            solid = TankSolid(state, celsius, of_water)
            held = found.get(state.solid)
            if held is None or (solid.comes_out, solid.guarded_index) > (
                held.comes_out,
                held.guarded_index,
            ):
                found[state.solid] = solid
    return found


def _states(composition: FloatArray, celsius: float) -> tuple[SolidState, ...] | None:
    """Return the solids of a composition; None where it is beyond the model."""
    try:
        return solid_states(composition, celsius)
    except RefusalError:
        return None


def is_clear(products: Sequence[TankProduct], water: TankWater, factor: float) -> bool:
    """
    Tell whether a tank is clear at a factor, by the margin of the model.

    Parameters
    ----------
    products : sequence of TankProduct
        Contents of the tank.
    water : TankWater
        Water and temperatures.
    factor : float
        Concentration factor.

    Returns
    -------
    bool
        False also where there is no room for water.
    """
    return _nearest(products, water, factor) is None


def _nearest(
    products: Sequence[TankProduct], water: TankWater, factor: float
) -> TankSolid | str | None:
    """Return the solid furthest above its limit, `ROOM`, `MODEL`, or None for a clear tank."""
    litre = tank_litre(products, water.composition_mol_per_kg, factor)
    if litre is None:
        return ROOM
    solids = tank_solids(litre, water)
    if solids is None:
        return MODEL
    over = [solid for solid in solids.values() if solid.comes_out]
    return max(over, key=lambda solid: solid.guarded_index) if over else None


def tank_limit(products: Sequence[TankProduct], water: TankWater) -> TankLimit:
    """
    Return how far a tank can be concentrated.

    Parameters
    ----------
    products : sequence of TankProduct
        Contents of the tank.
    water : TankWater
        Water and temperatures.

    Returns
    -------
    TankLimit
        Every factor up to the highest is clear.
    """
    clear, clouded = 0.0, 1.0
    found = _nearest(products, water, clouded)
    while found is None and clouded < HIGHEST_FACTOR:
        clear, clouded = clouded, min(FACTOR_STEP * clouded, HIGHEST_FACTOR)
        found = _nearest(products, water, clouded)
    if found is None:
        return TankLimit(HIGHEST_FACTOR, RANGE, None, None)
    while clouded - clear > CLOSE_ENOUGH * clouded:
        middle = 0.5 * (clear + clouded)
        state = _nearest(products, water, middle)
        if state is None:
            clear = middle
        else:
            clouded, found = middle, state
    if isinstance(found, str):
        return TankLimit(clear, found, None, None)
    return TankLimit(clear, SOLID, found.state.solid, found.at_celsius)
