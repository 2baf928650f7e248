"""
The table of products that kernels read: one row per product, amounts per gram or per millilitre.

Solids are counted in grams and liquids in millilitres, as a grower measures them. The first
columns are the composition in the order of `service.reference.components`.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.kernel import kernel
from service.chemistry.label import LabelAssumption, LabelComposition, label_composition
from service.chemistry.solution import conductivity_of_total, workspace
from service.planning.instruments import USUAL_PRE_STOCK
from service.planning.targets import STIMULANT_METER_PPM
from service.planning.targets import SUPPLEMENT_METER_PPM as USUAL_SUPPLEMENT_METER_PPM
from service.reference.catalogue import Product
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES
from service.reference.elements import ELEMENT_MATRIX
from service.reference.labels import LABEL_EC, Label, LabelError, LabelValue, check_label

IS_LIQUID: Final = COMPONENT_COUNT
DENSITY: Final = COMPONENT_COUNT + 1
LABEL_CONDUCTIVITY: Final = COMPONENT_COUNT + 2
"""Conductivity that the label states, 0 when it states none [mS/cm per g/L or mL/L]."""

CONDUCTIVITY_SLOPE: Final = COMPONENT_COUNT + 3
"""Conductivity at half a gram or millilitre per litre, per unit [mS/cm per g/L or mL/L]."""

CONDUCTIVITY_PER_100_NITROGEN: Final = COMPONENT_COUNT + 4
"""Conductivity at 100 mg/L nitrogen, -1 without nitrogen [mS/cm]."""

SUPPLEMENT_METER_PPM: Final = COMPONENT_COUNT + 5
RATE_CAP: Final = COMPONENT_COUNT + 6
"""Most of a product that is given, 0 without a cap [g/L or mL/L]."""

LABEL_SPREAD: Final = 0.12
"""Difference of the conductivity between makers of one analysis; delaware-extension-2008."""

IS_OXIDISER: Final = COMPONENT_COUNT + 7
FORMS_UNKNOWN: Final = COMPONENT_COUNT + 8
IS_LABEL: Final = COMPONENT_COUNT + 9
IS_STIMULANT: Final = COMPONENT_COUNT + 10
STRONGEST_PRE_STOCK: Final = COMPONENT_COUNT + 11
"""Strongest pre-stock that a product dissolves to in the cold [g/L or mL/L]."""

IS_SUPPLEMENT: Final = COMPONENT_COUNT + 12
DILUTE_CONDUCTIVITY_SLOPE: Final = COMPONENT_COUNT + 13
"""The same at `DILUTE_AMOUNT`, where it is steepest [mS/cm per g/L or mL/L]."""

COLUMN_COUNT: Final = COMPONENT_COUNT + 14

SPARINGLY_SOLUBLE: Final = {
    "boric_acid": 10.0,
    "calcium_sulfate_dihydrate": 1.0,
    "sodium_borate_decahydrate": 10.0,
}
"""Products that do not dissolve to `USUAL_PRE_STOCK` in the cold [g/L]; common practice."""

LEAST_CONDUCTIVITY_SLOPE: Final = 0.02
"""Slope under which a conductivity says nothing about the amount [mS/cm per g/L or mL/L]."""

SLOPE_AMOUNT: Final = 0.5
DILUTE_AMOUNT: Final = 0.005
"""Amounts at which slopes of conductivity are taken [g/L or mL/L]."""

STIMULANT_RATE_LIQUID: Final = 4.0
STIMULANT_RATE_SOLID: Final = 0.5
"""
Most of a seaweed extract, about a tablespoon in a gallon [mL/L], and of its powder [g/L]; common
practice, from memory.
"""

LARGEST_RATE_LIQUID: Final = 20.0
LARGEST_RATE_SOLID: Final = 10.0
"""
Most of a feed or supplement in a can [mL/L, g/L]; common practice stays far below, at 0.2 to 5.
More is asked for only when a label states no more than a trace of what the product holds.
"""

LEAST_OF_COMPUTED: Final = 0.5
MOST_OF_COMPUTED: Final = 3.0
LEAST_SLACK: Final = 0.01
MOST_SLACK: Final = 0.1
"""
Conductivity that a label may state, as shares of the one that its ions have and in mS/cm beside
them: outside, a digit is wrong or the ions are. The packaged feeds that state both lie at 0.88 to
1.00; our choice.
"""

NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class ProductRow:
    """
    One product as planners use it.

    Attributes
    ----------
    key : str
        Key of the catalogue, or the name that a caller gave.
    name : str
        Name for people.
    liquid : bool
        Whether it is measured in millilitres rather than weighed.
    closure : str or None
        How the charge of a label was closed.
    assumptions : tuple of LabelAssumption
        What the label left open.
    sources : tuple of str
        Source keys.
    values : ndarray, shape (n_columns,)
        Row of the table.
    own : bool
        Whether it is the label of one product, of the caller or the house, rather than an analysis
        that many makers sell.
    readings : tuple of ndarray
        Compositions by the other readings of its label, in the unit of `values`.
    """

    key: str
    name: str
    liquid: bool
    closure: str | None
    assumptions: tuple[LabelAssumption, ...]
    sources: tuple[str, ...]
    values: FloatArray
    own: bool = False
    readings: tuple[FloatArray, ...] = ()

    @property
    def conductivity_is_open(self) -> bool:
        """Whether it is known by its label alone and its maker's conductivity is not known."""
        stated = bool(self.values[LABEL_CONDUCTIVITY] > 0.0)
        return bool(self.values[IS_LABEL] == 1.0) and not (self.own and stated)

    @cached_property
    def other_readings(self) -> FloatArray:
        """
        Return the rows of the table that its label can mean beside its own.

        Two with a conductivity `LABEL_SPREAD` below and above that of its ions, then one for each
        of its other compositions; shape (2 + n_readings, n_columns).
        """
        table = np.tile(self.values, (2 + len(self.readings), 1))
        for place, factor in enumerate((1.0 - LABEL_SPREAD, 1.0 + LABEL_SPREAD)):
            slope = factor * self.values[CONDUCTIVITY_SLOPE]
            table[place, LABEL_CONDUCTIVITY] = table[place, CONDUCTIVITY_SLOPE] = slope
            table[place, DILUTE_CONDUCTIVITY_SLOPE] *= factor
        for place, composition in enumerate(self.readings, start=2):
            table[place, :COMPONENT_COUNT] = composition
        table.setflags(write=False)
        return table

    def renamed(self, name: str, number: int) -> "ProductRow":
        """
        Return the same product under a key that is free.

        Parameters
        ----------
        name : str
            Key to start from.
        number : int
            Told apart by it.

        Returns
        -------
        ProductRow
            The row under its new key.
        """
        return replace(self, key=f"{name} {number}")


@kernel
def _conductivity_of_amount(
    composition: FloatArray, amount: float, scratch: FloatArray, work: FloatArray
) -> float:
    """Conductivity of one product alone in pure water [mS/cm]."""
    for component in range(COMPONENT_COUNT):
        scratch[component] = composition[component] * amount
    return conductivity_of_total(scratch, False, work)


def product_row(product: Product, *, own: bool = False) -> ProductRow:
    """
    Return the table row of a catalogue product.

    Parameters
    ----------
    product : Product
        A product of the packaged or of the house catalogue.
    own : bool
        Whether its label is that of one product, as in a house catalogue.

    Returns
    -------
    ProductRow
        The row, read-only.
    """
    liquid = product.form == "liquid"
    assumptions: tuple[LabelAssumption, ...] = ()
    closure = None
    readings: tuple[FloatArray, ...] = ()
    composition = product.composition_mmol_per_ml if liquid else product.composition_mmol_per_g
    if composition is None and product.label is not None:
        read = label_composition(
            product.label, product.form, product.density_kg_per_l, product.closure_rule
        )
        composition = read.composition_mmol_per_ml if liquid else read.composition_mmol_per_g
        assumptions, closure = read.assumptions, read.closure
        readings = _readings(read, product.label, liquid, product.density_kg_per_l)
    if composition is None:
        raise ValueError(f"{product.key}: no composition in the unit it is measured in")
    return _row(
        product.key,
        product.name,
        liquid,
        product.density_kg_per_l,
        composition,
        product.label_ec_ms_per_cm_at_100_mg_per_l_n,
        closure,
        assumptions,
        product.sources,
        oxidiser=product.oxidiser,
        kind=product.kind,
        own=own,
        readings=readings,
    )


def labelled_row(name: str, form: str, density: float | None, label: Label) -> ProductRow:
    """
    Return the table row of a product that a caller describes by its label.

    Parameters
    ----------
    name : str
        The caller's name for it.
    form : str
        ``solid`` or ``liquid``.
    density : float or None
        Density of a liquid [kg/L].
    label : mapping
        Label in per cent, as in `service.reference.labels`.

    Returns
    -------
    ProductRow
        The row, read-only.

    Raises
    ------
    service.reference.labels.LabelError
        If the label contradicts itself, its own conductivity included.
    """
    check_label(label, form, density)
    read = label_composition(label, form, density)
    liquid = form == "liquid"
    composition = read.composition_mmol_per_ml if liquid else read.composition_mmol_per_g
    if composition is None:
        raise ValueError("a checked label gives a composition in the unit it is measured in")
    stated: LabelValue | None = label.get(LABEL_EC)
    if stated is not None:
        _check_conductivity(float(stated), label, form, density, composition)
    return _row(
        name,
        name,
        liquid,
        density,
        composition,
        float(stated) if stated is not None else None,
        read.closure,
        read.assumptions,
        (),
        oxidiser=False,
        kind="feed",
        own=True,
        readings=_readings(read, label, liquid, density),
    )


def _readings(
    read: LabelComposition, label: Label, liquid: bool, density: float | None
) -> tuple[FloatArray, ...]:
    """Return the compositions by the other readings of a label, per gram or millilitre."""
    by_mass = label.get("basis", "mass") == "mass"
    factor = density if liquid and by_mass and density is not None else 1.0
    return tuple(factor * each.composition for each in read.alternatives)


def _check_conductivity(
    stated: float, label: Label, form: str, density: float | None, composition: FloatArray
) -> None:
    """Raise if the conductivity on a label cannot be that of its ions."""
    if not ELEMENT_MATRIX[NITROGEN] @ composition > 0.0:
        raise LabelError(
            "conductivity_without_nitrogen",
            LABEL_EC,
            "is stated at 100 mg/L nitrogen, but the label names no nitrogen: leave it out",
        )
    low = high = _at_100_nitrogen(composition)
    if "total_n_percent" in label and not any(
        f"{each}_n_percent" in label for each in ("nitrate", "ammonium", "urea")
    ):
        # Forms unknown: taken as urea, which shows nothing; as ammonium it would show most.
        salty = {name: value for name, value in label.items() if name != "total_n_percent"}
        salty["ammonium_n_percent"] = label["total_n_percent"]
        read = label_composition(salty, form, density)
        other = read.composition_mmol_per_ml if form == "liquid" else read.composition_mmol_per_g
        high = _at_100_nitrogen(composition if other is None else other)
    least = LEAST_OF_COMPUTED * low - LEAST_SLACK
    most = MOST_OF_COMPUTED * high + MOST_SLACK
    if np.isnan(low) or not (stated >= least and (np.isnan(high) or stated <= most)):
        computed = f"about {low:.2g}" if np.isfinite(low) else "far more"
        if high > low:
            computed = f"{low:.2g} to {high:.2g}"
        raise LabelError(
            "conductivity_disagrees",
            LABEL_EC,
            f"is {stated:g} mS/cm at 100 mg/L nitrogen, but the ions of this label give"
            f" {computed}: check the digits and the unit (mS/cm), or leave it out to have it"
            " computed",
        )


def _at_100_nitrogen(composition: FloatArray) -> float:
    """Conductivity of a product at 100 mg/L nitrogen, NaN where it cannot be solved [mS/cm]."""
    amount = 100.0 / float(ELEMENT_MATRIX[NITROGEN] @ composition)
    return float(
        _conductivity_of_amount(composition, amount, np.empty(COMPONENT_COUNT), workspace())
    )


def _row(
    key: str,
    name: str,
    liquid: bool,
    density: float | None,
    composition: FloatArray,
    stated_conductivity: float | None,
    closure: str | None,
    assumptions: tuple[LabelAssumption, ...],
    sources: tuple[str, ...],
    *,
    oxidiser: bool,
    kind: str,
    own: bool,
    readings: tuple[FloatArray, ...],
) -> ProductRow:
    """Fill in the columns that follow from composition, label and kind."""
    values = np.zeros(COLUMN_COUNT)
    values[:COMPONENT_COUNT] = composition
    values[IS_LIQUID] = float(liquid)
    values[DENSITY] = np.nan if density is None else density
    nitrogen = float(ELEMENT_MATRIX[NITROGEN] @ composition)
    work, scratch = workspace(), np.empty(COMPONENT_COUNT)
    if stated_conductivity is not None and nitrogen > 0.0:
        values[LABEL_CONDUCTIVITY] = stated_conductivity * nitrogen / 100.0
        values[CONDUCTIVITY_SLOPE] = values[LABEL_CONDUCTIVITY]
        values[DILUTE_CONDUCTIVITY_SLOPE] = values[LABEL_CONDUCTIVITY]
        values[CONDUCTIVITY_PER_100_NITROGEN] = stated_conductivity
    else:
        slope = _conductivity_of_amount(values[:COMPONENT_COUNT], SLOPE_AMOUNT, scratch, work)
        values[CONDUCTIVITY_SLOPE] = slope / SLOPE_AMOUNT
        slope = _conductivity_of_amount(values[:COMPONENT_COUNT], DILUTE_AMOUNT, scratch, work)
        values[DILUTE_CONDUCTIVITY_SLOPE] = slope / DILUTE_AMOUNT
        values[CONDUCTIVITY_PER_100_NITROGEN] = -1.0
        if nitrogen > 0.0:
            values[CONDUCTIVITY_PER_100_NITROGEN] = _at_100_nitrogen(values[:COMPONENT_COUNT])
    values[SUPPLEMENT_METER_PPM] = (
        STIMULANT_METER_PPM if kind == "stimulant" else USUAL_SUPPLEMENT_METER_PPM
    )
    values[STRONGEST_PRE_STOCK] = SPARINGLY_SOLUBLE.get(key, USUAL_PRE_STOCK)
    values[IS_OXIDISER] = float(oxidiser)
    values[IS_LABEL] = float(closure is not None)
    values[IS_STIMULANT] = float(kind == "stimulant")
    values[IS_SUPPLEMENT] = float(kind == "supplement")
    if kind == "stimulant":
        values[RATE_CAP] = STIMULANT_RATE_LIQUID if liquid else STIMULANT_RATE_SOLID
    else:
        values[RATE_CAP] = LARGEST_RATE_LIQUID if liquid else LARGEST_RATE_SOLID
    values[FORMS_UNKNOWN] = float(
        any(each.code == "nitrogen_forms_unknown" for each in assumptions)
    )
    values.setflags(write=False)
    return ProductRow(
        key, name, liquid, closure, assumptions, sources, values, own=own, readings=readings
    )
