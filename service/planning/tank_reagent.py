"""Products, acids and bases of a mix, as products of a tank."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.density import REAGENT_NAMES, reagent_density
from service.planning.acid_dose import ACID_TEMPERATURE
from service.planning.mix_parts import MixPart
from service.planning.products import DENSITY, IS_OXIDISER
from service.planning.tank_products import TankProduct, classes_of, reagent_classes
from service.reference.acids import acids

FloatArray = NDArray[np.float64]

WHOLE: Final = 100.0


def tank_product(part: MixPart) -> TankProduct:
    """
    Return a product of a mix as a product of a tank.

    Parameters
    ----------
    part : MixPart
        The product in a litre of the working solution.

    Returns
    -------
    TankProduct
        The same.
    """
    row = part.product
    density = float(row.values[DENSITY])
    return TankProduct(
        key=row.key,
        name=row.name,
        liquid=row.liquid,
        labelled=row.closure is not None,
        amount=part.amount,
        density_kg_per_l=density if row.liquid and density > 0.0 else None,
        added_mmol_per_l=part.added_mmol_per_l,
        classes=classes_of(row),
        oxidiser=bool(row.values[IS_OXIDISER] == 1.0),
    )


def tank_reagent(acid: Any, added_mmol_per_l: FloatArray) -> TankProduct:
    """
    Return the acid or base of a mix as a product of a tank.

    Parameters
    ----------
    acid : object
        Attributes `kind` and `percent`.
    added_mmol_per_l : ndarray, shape (n_components,)
        Components that it brings to a litre of the working solution.

    Returns
    -------
    TankProduct
        In millilitres where its density is known, otherwise in grams.
    """
    reagent = acids()[acid.kind]
    percent = acid.percent or reagent.default_strength_percent
    brought = reagent.composition_mol_per_mol
    millimoles = float(added_mmol_per_l.sum() / brought.sum())
    grams = 0.001 * millimoles * reagent.molar_mass_g_per_mol * WHOLE / percent
    return reagent_product(acid.kind, percent, grams, added_mmol_per_l)


def reagent_product(
    kind: str, percent: float, grams: float, added_mmol_per_l: FloatArray
) -> TankProduct:
    """
    Return grams of an acid or a base as a product of a tank.

    Parameters
    ----------
    kind : str
        Key of the acid.
    percent : float
        Strength, mass in mass [%].
    grams : float
        Mass from the bottle or bag to a litre of the working solution [g].
    added_mmol_per_l : ndarray, shape (n_components,)
        Components that it brings to that litre.

    Returns
    -------
    TankProduct
        In millilitres where its density is known, otherwise in grams.
    """
    reagent = acids()[kind]
    liquid = reagent.form == "liquid" or percent < WHOLE
    density = None
    if liquid:
        name = f"{kind}_acid" if reagent.role == "acid" else kind
        known = float(reagent_density(REAGENT_NAMES.index(name), percent / WHOLE, ACID_TEMPERATURE))
        density = known if np.isfinite(known) else None
    measured = liquid and density is not None
    return TankProduct(
        key=f"{kind}_{percent:g}_percent",
        name=f"{reagent.name} {percent:g} %",
        liquid=measured,
        labelled=False,
        amount=grams / density if measured and density is not None else grams,
        density_kg_per_l=density,
        added_mmol_per_l=added_mmol_per_l,
        classes=reagent_classes(added_mmol_per_l / grams),
        oxidiser=False,
        reagent=kind,
    )
