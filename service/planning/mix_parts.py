"""What goes into a litre of a mix: products and acid, as components."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.density import REAGENT_NAMES, reagent_concentration, reagent_density
from service.chemistry.label import label_composition
from service.planning.acid_dose import ACID_TEMPERATURE
from service.planning.notes import Notes, RefusalError
from service.planning.products import (
    DENSITY,
    FORMS_UNKNOWN,
    IS_LABEL,
    IS_OXIDISER,
    LABEL_CONDUCTIVITY,
    ProductRow,
)
from service.reference.acids import Acid, acids
from service.reference.components import COMPONENT_COUNT, UREA

FloatArray = NDArray[np.float64]

MILLILITRES_PER_LITRE: Final = 1000.0
BALANCED: Final = "balanced"


@dataclass(frozen=True, eq=False)
class LabelText:
    """
    The label that a product is known by.

    Attributes
    ----------
    label : mapping of str to float or str
        Nutrients in per cent.
    form : str
        ``solid`` or ``liquid``.
    density_kg_per_l : float or None
        Density of a liquid.
    closure : str or None
        Closure that a catalogue asks for.
    own : bool
        Whether it is the label of one product, of the caller or the house, rather than an analysis
        that many makers sell.
    """

    label: Mapping[str, Any]
    form: str
    density_kg_per_l: float | None
    closure: str | None
    own: bool


@dataclass(frozen=True, eq=False)
class MixPart:
    """
    One product in a litre.

    Attributes
    ----------
    product : ProductRow
        The product.
    amount : float
        Grams of a solid or millilitres of a liquid in a litre [g/L or mL/L].
    added_mmol_per_l : ndarray, shape (n_components,)
        Components that it brings.
    stated_ec_ms_per_cm : float
        Conductivity that its label states, per gram or millilitre in a litre; 0 for none.
    is_open : bool
        Whether its conductivity is open: it is known by its label alone, and its own maker's figure
        is not known.
    firm : bool
        Whether the label leaves no more open than makers differ: it is balanced and free of urea,
        or a conductivity is stated for feeds of this analysis.
    readings_mmol_per_l : tuple of ndarray
        Components by the other readings of its label.
    """

    product: ProductRow
    amount: float
    added_mmol_per_l: FloatArray
    stated_ec_ms_per_cm: float
    is_open: bool
    firm: bool
    readings_mmol_per_l: tuple[FloatArray, ...]


def mix_part(
    product: ProductRow,
    grams: float | None,
    millilitres: float | None,
    label: LabelText | None,
    place: str,
    notes: Notes,
) -> MixPart:
    """
    Return what one product brings into a litre.

    Parameters
    ----------
    product : ProductRow
        The product.
    grams, millilitres : float or None
        Its amount in a litre; one of them.
    label : LabelText or None
        The label, for a product that is known by it.
    place : str
        Dotted name of the addition in the request.
    notes : Notes
        Receives what the label leaves open.

    Returns
    -------
    MixPart
        The part.

    Raises
    ------
    RefusalError
        For a volume of a solid, or a mass of a liquid of unknown density.
    """
    values = product.values
    amount = grams if millilitres is None else millilitres
    if amount is None:
        raise ValueError("an addition has an amount")
    if millilitres is not None and not product.liquid:
        raise RefusalError("volume_of_a_solid", f"{place}.ml_per_l")
    if grams is not None and product.liquid:
        density = float(values[DENSITY])
        if not density > 0.0:
            raise RefusalError("density_needed", f"{place}.product")
        amount = grams / density
    composition = np.array(values[:COMPONENT_COUNT])
    stated = float(values[LABEL_CONDUCTIVITY])
    is_open = bool(values[IS_LABEL] == 1.0)
    readings: tuple[FloatArray, ...] = ()
    if is_open and label is not None:
        is_open = not (label.own and stated > 0.0)
        read = label_composition(label.label, label.form, label.density_kg_per_l, label.closure)
        factor = _measured_factor(label, product.liquid)
        readings = tuple(amount * factor * each.composition for each in read.alternatives)
    for each in product.assumptions:
        notes.take((), [{"code": each.code, "field": f"{place}.product", "message": each.detail}])
    if values[IS_OXIDISER] == 1.0:
        notes.caution("oxidiser", f"{place}.product")
    if values[FORMS_UNKNOWN] == 1.0:
        notes.caution("forms_of_nitrogen_unknown", f"{place}.product")
    return MixPart(
        product=product,
        amount=amount,
        added_mmol_per_l=amount * composition,
        stated_ec_ms_per_cm=stated,
        is_open=is_open,
        firm=stated > 0.0 or (product.closure == BALANCED and bool(composition[UREA] == 0.0)),
        readings_mmol_per_l=readings,
    )


def _measured_factor(label: LabelText, liquid: bool) -> float:
    """Return what turns the unit of a label into that in which the product is measured."""
    by_mass = label.label.get("basis", "mass") == "mass"
    if liquid and by_mass and label.density_kg_per_l is not None:
        return label.density_kg_per_l
    return 1.0


def acid_part(acid: Any, notes: Notes) -> FloatArray:
    """
    Return what an acid or a base brings into a litre.

    Parameters
    ----------
    acid : object
        Attributes `kind`, `percent` and one of `ml_per_l`, `g_per_l` and `mmol_per_l`.
    notes : Notes
        Receives what is assumed and cautioned.

    Returns
    -------
    ndarray, shape (n_components,)
        Components [mmol/L].

    Raises
    ------
    RefusalError
        If the density of that strength is not known and millilitres are given.
    """
    reagent = acids()[acid.kind]
    percent = acid.percent
    if percent is None:
        percent = reagent.default_strength_percent
        if acid.mmol_per_l is None:
            notes.assume("acid_strength_assumed")
    if acid.mmol_per_l is not None:
        amount = acid.mmol_per_l
    elif acid.g_per_l is not None:
        amount = MILLILITRES_PER_LITRE * acid.g_per_l * percent / 100.0
        amount /= reagent.molar_mass_g_per_mol
    else:
        amount = acid.ml_per_l / MILLILITRES_PER_LITRE * _bottle(reagent, percent)
    notes.caution("acid_handling", "acid")
    return float(amount) * reagent.composition_mol_per_mol


def _bottle(reagent: Acid, percent: float) -> float:
    """Return the concentration of a bottle [mmol/L]."""
    name = f"{reagent.key}_acid" if reagent.role == "acid" else reagent.key
    number = REAGENT_NAMES.index(name)
    share = percent / 100.0
    if np.isnan(reagent_density(number, share, ACID_TEMPERATURE)):
        raise RefusalError("acid_density_unknown", "acid.ml_per_l")
    return float(
        reagent_concentration(number, share, reagent.molar_mass_g_per_mol, ACID_TEMPERATURE)
    )
