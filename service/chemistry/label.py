"""
Label arithmetic: from the per cent on a bag or bottle to amounts of conserved components.

A label names nutrients, not ions: some charge is always left over. The rule that carries it is
the closure; it is named in the result, together with the other readings of the same label.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.reference.catalogue import CLOSURES
from service.reference.components import (
    CALCIUM,
    CHLORIDE,
    COMPONENT_COUNT,
    COMPONENT_NAMES,
    IRON_CHELATE,
    NITRATE,
    NOMINAL_CHARGE,
    PHOSPHATE,
    SILICATE,
    SODIUM,
    SULFATE,
    UNMEASURED,
    UREA,
)
from service.reference.elements import ELEMENT_MATRIX
from service.reference.labels import Label, LabelError, check_label, label_nutrients

__all__ = [
    "ClosureAlternative",
    "LabelAssumption",
    "LabelComposition",
    "LabelError",
    "element_mass_percent",
    "label_composition",
]

Vector = NDArray[np.float64]

BALANCE_TOLERANCE: Final = 0.025
"""Share of the charge that rounding explains: a printed 20 % may be anything from 19.5 to 20.5."""

_CHARGE: Final = np.array(NOMINAL_CHARGE, dtype=np.float64)
_POSITIVE_CHARGE: Final = np.maximum(_CHARGE, 0.0)
_POSITIVE_CHARGE[UNMEASURED] = 0.0


@dataclass(frozen=True, slots=True)
class LabelAssumption:
    """
    Something that a label leaves open and that was assumed.

    Attributes
    ----------
    code : str
        Stable word for programs.
    detail : str
        The assumption as a sentence.
    """

    code: str
    detail: str


@dataclass(frozen=True, slots=True, eq=False)
class ClosureAlternative:
    """
    Another reading of the same label.

    Attributes
    ----------
    closure : str
        Name of the reading.
    composition : ndarray, shape (n_components,)
        Amount per gram (label by mass) or per millilitre (label by volume) [mmol/g or mmol/mL].
    """

    closure: str
    composition: Vector


@dataclass(frozen=True, slots=True, eq=False)
class LabelComposition:
    """
    What a label says about amounts.

    Attributes
    ----------
    composition_mmol_per_g : ndarray, shape (n_components,) or None
        Amount per gram; None for a label by volume without a density.
    composition_mmol_per_ml : ndarray, shape (n_components,) or None
        Amount per millilitre; None for a solid.
    closure : str
        How the missing charge was closed: ``balanced``, ``sulfate``, ``chloride``, ``sodium``,
        ``unmeasured_anion``, ``unmeasured_cation``, ``acid_phosphate``, ``silicate`` or ``none``.
    residual_charge : float
        Charge that the stated ions leave over when phosphate counts as H2PO4-, per gram (label by
        mass) or per millilitre; positive when anions are missing [mmol/g or mmol/mL].
    alternatives : tuple of ClosureAlternative
        The other readings, from which a caller can give a range; empty when there are none.
    assumptions : tuple of LabelAssumption
        What the label left open.
    """

    composition_mmol_per_g: Vector | None
    composition_mmol_per_ml: Vector | None
    closure: str
    residual_charge: float
    alternatives: tuple[ClosureAlternative, ...]
    assumptions: tuple[LabelAssumption, ...]


def label_composition(
    label: Label,
    form: str = "solid",
    density: float | None = None,
    closure: str | None = None,
) -> LabelComposition:
    r"""
    Return the composition that a label implies, with its charge closed.

    Parameters
    ----------
    label : mapping
        `basis` (``mass`` when absent, or ``volume``), nutrients in per cent under
        ``<form>_n_percent``, ``<element>_percent`` or ``<oxide>_percent``, and optionally
        ``ec_ms_per_cm_at_100_mg_per_l_n``.
    form : str
        ``solid`` or ``liquid``.
    density : float or None
        Density of a liquid, needed when its label is by mass [kg/L].
    closure : str or None
        Closure that replaces the ordinary rule: ``sulfate``, ``chloride``, ``sodium``,
        ``unmeasured`` or ``none``. None for the ordinary rule.

    Returns
    -------
    LabelComposition
        Composition, closure, alternatives and assumptions.

    Raises
    ------
    LabelError
        If the label contradicts itself; carries a code, the field at fault and what is expected.

    Notes
    -----
    .. math:: n_j = \frac{w_j}{100} \frac{\nu_j}{M_j}, \qquad
              R = \sum_j z_j n_j - n_\mathrm{P}

    with mass fraction :math:`w_j` in per cent of what the label expresses, its molar mass
    :math:`M_j` and its number of atoms :math:`\nu_j` of the element. Phosphate counts as H2PO4-
    because the phosphates of water-soluble feeds are the dihydrogen ones.

    The ordinary rule closes the residual charge :math:`R` so:

    ``balanced``
        R is within 2.5 % of the cation charge, which rounding explains; unmeasured charge takes
        it.
    ``sulfate``
        Anions are missing and the label states neither sulfur nor calcium. The cheap raw
        materials that a label need not declare are sulfates of potassium, ammonium, magnesium
        and trace metals.
    ``chloride``
        Anions are missing, sulfur is stated, chlorine and calcium are not: what remains is
        potassium chloride.
    ``unmeasured_anion``
        Anions are missing and calcium is stated (sulfate could not stay dissolved beside it in a
        concentrate) or both sulfur and chlorine are.
    ``silicate``
        Silicon is stated: up to two charges per silicon are its own, the product is alkaline.
    ``acid_phosphate``
        Cations are missing and urea is there to bring phosphoric acid as urea phosphate: hydrogen
        ions balance it and the product is acidic.
    ``unmeasured_cation``
        Cations are missing beyond that.

    Iron is taken as chelated, metal ions as divalent, sulfur as sulfate. When only total nitrogen
    is stated, as much of it as calcium needs for charge balance is nitrate and the rest urea: urea
    is the least favourable form, for it raises nitrogen and no meter.

    Validity: water-soluble products; organic nitrogen is not told apart from urea.

    References
    ----------
    .. [1] T. Prohaska et al., *Standard atomic weights of the elements 2021*, Pure Appl. Chem. 94
       (2022) 573-600. Source key: ``prohaska-2022``.
    .. [2] Fertiliser labelling convention. Source key: ``aapfco-label``.
    """
    check_label(label, form, density)
    if closure is not None and closure not in CLOSURES:
        raise LabelError(
            "unknown_closure", "closure", f"must be one of {', '.join(CLOSURES)}, got {closure!r}"
        )
    stated = {field: float(value) for field, value in label.items() if field in label_nutrients()}
    ions = _stated_components(stated)
    assumptions = _assume_nitrogen_forms(ions, stated) + _said_of_elements(stated)
    if ions[IRON_CHELATE] > 0.0:
        assumptions.append(LabelAssumption("iron_chelated", "The iron is taken as chelated."))
    closed, name, residual = _closed(ions, _stated_elements(stated), closure)
    if name not in ("balanced", "none"):
        assumptions.append(
            LabelAssumption(
                f"closure_{name}",
                f"The label leaves {abs(residual):.3g} mmol of charge per "
                f"{'g' if _by_mass(label) else 'mL'} unstated; closed as {name}.",
            )
        )
    alternatives = tuple(
        ClosureAlternative(other, _frozen(_apply(ions, other, residual)))
        for other in _other_closures(name, residual, ions)
    )
    per_g, per_ml = _per_mass_and_volume(_frozen(closed), label, form, density)
    return LabelComposition(per_g, per_ml, name, residual, alternatives, tuple(assumptions))


def element_mass_percent(composition: Vector) -> Vector:
    """
    Return the mass per cent of each reported element.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amount of each component per gram of product [mmol/g].

    Returns
    -------
    ndarray, shape (n_elements,)
        Mass of each element per mass of product, in the order of `ELEMENT_NAMES` [percent].

    Notes
    -----
    Validity: a definition.

    References
    ----------
    .. [1] T. Prohaska et al., *Standard atomic weights of the elements 2021*, Pure Appl. Chem. 94
       (2022) 573-600. Source key: ``prohaska-2022``.
    """
    percent: Vector = ELEMENT_MATRIX @ composition / 10.0
    return percent


def _by_mass(label: Label) -> bool:
    return label.get("basis", "mass") == "mass"


def _frozen(vector: Vector) -> Vector:
    vector.setflags(write=False)
    return vector


def _stated_components(stated: dict[str, float]) -> Vector:
    """Return the amounts that the label states outright, before any closure."""
    amounts = np.zeros(COMPONENT_COUNT)
    for field, percent in stated.items():
        nutrient = label_nutrients()[field]
        if nutrient.component is None:
            continue
        atoms = 2.0 if nutrient.component == "urea" else 1.0
        index = COMPONENT_NAMES.index(nutrient.component)
        amounts[index] += percent / 100.0 * nutrient.mmol_per_g / atoms
    return amounts


def _stated_elements(stated: dict[str, float]) -> frozenset[str]:
    return frozenset(label_nutrients()[field].element for field in stated)


def _assume_nitrogen_forms(ions: Vector, stated: dict[str, float]) -> list[LabelAssumption]:
    """Give a lone total nitrogen its forms, in place; see the notes of `label_composition`."""
    total = stated.get("total_n_percent", 0.0)
    forms = ("nitrate_n_percent", "ammonium_n_percent", "urea_n_percent")
    if total == 0.0 or any(form in stated for form in forms):
        return []
    nitrogen = total / 100.0 * label_nutrients()["total_n_percent"].mmol_per_g
    nitrate = min(nitrogen, 2.0 * float(ions[CALCIUM]))
    ions[NITRATE] = nitrate
    ions[UREA] = (nitrogen - nitrate) / 2.0
    return [
        LabelAssumption(
            "nitrogen_forms_unknown",
            "The label states total nitrogen only: beyond the nitrate that its calcium needs, the "
            "nitrogen is taken as urea, the least favourable form.",
        )
    ]


def _said_of_elements(stated: Mapping[str, float]) -> list[LabelAssumption]:
    """Say what phosphorus and potassium are as oxides, where a label is sent with the elements."""
    nutrients = label_nutrients()
    named = [
        (field, oxide, text, stated[field] / nutrients[oxide].element_mass_fraction)
        for field, oxide, text in (
            ("p_percent", "p2o5_percent", "P2O5"),
            ("k_percent", "k2o_percent", "K2O"),
        )
        if stated.get(field, 0.0) > 0.0
    ]
    return [
        LabelAssumption(
            "label_in_elements",
            f"{field} {stated[field]:g} is taken as the element, {percent:.3g} % {text}; where the "
            f"label itself says {text}, send {oxide}.",
        )
        for field, oxide, text, percent in named
    ]


def _residual(ions: Vector) -> float:
    return float(_CHARGE @ ions - ions[PHOSPHATE])


def _closed(ions: Vector, stated: frozenset[str], closure: str | None) -> tuple[Vector, str, float]:
    residual = _residual(ions)
    name = _closure_by_name(closure, residual) if closure else _closure(ions, stated, residual)
    return _apply(ions, name, residual), name, residual


def _closure_by_name(closure: str, residual: float) -> str:
    """Return the closure a catalogue asks for, where the sign of the residual allows it."""
    if closure == "none" or residual == 0.0:
        return "none"
    if residual > 0.0:
        return closure if closure in ("sulfate", "chloride") else "unmeasured_anion"
    return "sodium" if closure == "sodium" else "unmeasured_cation"


def _closure(ions: Vector, stated: frozenset[str], residual: float) -> str:
    """Return the name of the ordinary rule that fits."""
    if residual > 0.0 and ions[SILICATE] > 0.0:
        return "silicate"
    if abs(residual) <= BALANCE_TOLERANCE * float(_POSITIVE_CHARGE @ ions):
        return "balanced"
    if residual < 0.0:
        return "acid_phosphate" if _acid_phosphate(ions, residual) > 0.0 else "unmeasured_cation"
    if "Ca" in stated:
        return "unmeasured_anion"
    if "S" not in stated:
        return "sulfate"
    return "chloride" if "Cl" not in stated else "unmeasured_anion"


def _acid_phosphate(ions: Vector, residual: float) -> float:
    """Return how much phosphoric acid the product can hold as urea phosphate."""
    return min(max(-residual, 0.0), float(ions[PHOSPHATE]), float(ions[UREA]))


def _apply(ions: Vector, closure: str, residual: float) -> Vector:
    """Return the composition with the residual charge closed by the named rule."""
    closed = ions.copy()
    if closure == "sulfate":
        closed[SULFATE] += residual / 2.0
    elif closure == "chloride":
        closed[CHLORIDE] += residual
    elif closure == "sodium":
        closed[SODIUM] -= residual
    elif closure == "silicate":
        closed[UNMEASURED] -= max(residual - 2.0 * float(ions[SILICATE]), 0.0)
    elif closure == "acid_phosphate":
        closed[UNMEASURED] -= residual + _acid_phosphate(ions, residual)
    elif closure != "none":
        closed[UNMEASURED] -= residual
    return closed


def _other_closures(closure: str, residual: float, ions: Vector) -> tuple[str, ...]:
    """Return the other physically possible readings of the same residual."""
    if residual == 0.0:
        return ()
    if residual < 0.0:
        # Hydrogen ions can balance no more than turns every phosphate into phosphoric acid.
        acidic = ("none",) if -residual <= ions[PHOSPHATE] else ()
        candidates: tuple[str, ...] = ("unmeasured_cation", "sodium", *acidic)
    else:
        # Without another anion, phosphate becomes HPO4 2- and silicic acid gives up two protons.
        room = float(ions[PHOSPHATE] + 2.0 * ions[SILICATE])
        alkaline = ("none",) if residual <= room else ()
        candidates = ("sulfate", "chloride", *alkaline)
    same = {"silicate": "none", "balanced": "unmeasured"}.get(closure, closure)
    return tuple(other for other in candidates if other not in (closure, same))


def _per_mass_and_volume(
    composition: Vector, label: Label, form: str, density: float | None
) -> tuple[Vector | None, Vector | None]:
    if form == "solid":
        return composition, None
    if _by_mass(label):
        return composition, None if density is None else _frozen(composition * density)
    return None if density is None else _frozen(composition / density), composition
