"""What a product label may say, and what makes a label impossible."""

import difflib
import functools
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from service.reference.components import COMPONENT_NAMES
from service.reference.formula import atomic_weights, element_counts, molar_mass
from service.reference.tables import ReferenceDataError, read_table

LABEL_BASES: Final = ("mass", "volume")
FORMS: Final = ("solid", "liquid")
LABEL_EC: Final = "ec_ms_per_cm_at_100_mg_per_l_n"
NITROGEN_TOLERANCE_PERCENT: Final = 0.15
"""Printed rounding: three forms each rounded to 0.1 may miss the printed total by 0.15."""

FORM_ROUNDING_PERCENT: Final = 0.05
"""Printed rounding of one form of nitrogen."""

WEIGHT_ROUNDING_PERCENT: Final = 2.0
"""What the rounded figures of a pure salt may add up to above the whole [% of the product]."""

MAXIMUM_LABEL_EC_MS_PER_CM: Final = 10.0
MAXIMUM_DENSITY_KG_PER_L: Final = 3.0

LabelValue = float | str
Label = Mapping[str, LabelValue]


class LabelError(ValueError):
    """
    A label that contradicts itself or says something unknown.

    Parameters
    ----------
    code : str
        Stable word for programs: ``unknown_nutrient``, ``not_a_number``, ``out_of_range``,
        ``unknown_basis``, ``both_element_and_oxide``, ``nitrogen_forms_disagree``,
        ``nitrogen_form_impossible``,
        ``sum_above_100_percent``, ``density_required``, ``volume_basis_of_solid``, ``empty_label``,
        ``unknown_closure``.
    field : str
        Key of the label at fault; `density_kg_per_l` or `form` for the product's own fields.
    detail : str
        What is wrong and what is expected.
    """

    def __init__(self, code: str, field: str, detail: str) -> None:
        self.code = code
        self.field = field
        self.detail = detail
        super().__init__(f"{field}: {detail}")


@dataclass(frozen=True, slots=True)
class LabelNutrient:
    """
    One nutrient as labels express it.

    Parameters
    ----------
    key : str
        Key without ``_percent``: ``p2o5``, ``mg``, ``nitrate_n``.
    element : str
        Symbol of the element.
    component : str or None
        Conserved component that carries it; None for total nitrogen.
    kind : str
        ``element``, ``oxide``, ``nitrogen_form`` or ``nitrogen_total``.
    mmol_per_g : float
        Amount of the element per gram of what the label expresses [mmol/g].
    source : str
        Source key.
    """

    key: str
    element: str
    component: str | None
    kind: str
    mmol_per_g: float
    source: str

    @property
    def field(self) -> str:
        """Key of the nutrient on a label."""
        return f"{self.key}_percent"

    @property
    def element_mass_fraction(self) -> float:
        """Mass of element per mass of what the label expresses, for P2O5 about 0.4364."""
        return self.mmol_per_g * atomic_weights()[self.element] / 1000.0


@functools.cache
def label_nutrients() -> Mapping[str, LabelNutrient]:
    """
    Return every nutrient that a label may name.

    Returns
    -------
    mapping of str to LabelNutrient
        By label field, for instance ``p2o5_percent``.

    Raises
    ------
    ReferenceDataError
        If the packaged table is wrong.
    """
    result: dict[str, LabelNutrient] = {}
    columns = ("key", "formula", "element", "component", "kind", "source", "locator")
    for row in read_table("label_nutrients", columns):
        if row["component"] and row["component"] not in COMPONENT_NAMES:
            raise ReferenceDataError(row["row"], f"unknown component {row['component']!r}")
        counts = element_counts(row["formula"])
        nutrient = LabelNutrient(
            key=row["key"],
            element=row["element"],
            component=row["component"] or None,
            kind=row["kind"],
            mmol_per_g=1000.0 * counts[row["element"]] / molar_mass(row["formula"]),
            source=row["source"],
        )
        result[nutrient.field] = nutrient
    return MappingProxyType(result)


def nearest(word: str, known: list[str]) -> str:
    """
    Return a hint that names the known words nearest to an unknown one.

    Parameters
    ----------
    word : str
        The unknown word.
    known : list of str
        All known words.

    Returns
    -------
    str
        ``"; did you mean a or b?"``, or an empty text when nothing is near.
    """
    ending = [name for name in known if name.endswith("_" + word.lower())]
    matches = ending[:3] or difflib.get_close_matches(word.lower(), known, n=3, cutoff=0.6)
    return f"; did you mean {' or '.join(matches)}?" if matches else ""


def check_label(label: Label, form: str, density: float | None) -> None:
    """
    Raise if a label contradicts itself.

    Parameters
    ----------
    label : mapping
        `basis` (``mass`` when absent), percentages and optionally the label's conductivity.
    form : str
        ``solid`` or ``liquid``.
    density : float or None
        Density of a liquid [kg/L].

    Raises
    ------
    LabelError
        With a code, the field at fault and what is expected.
    """
    if form not in FORMS:
        raise LabelError("out_of_range", "form", f"must be solid or liquid, got {form!r}")
    if density is not None:
        _check_number("density_kg_per_l", density, MAXIMUM_DENSITY_KG_PER_L)
        if density <= 0.0:
            raise LabelError("out_of_range", "density_kg_per_l", "must be above 0")
    basis = label.get("basis", "mass")
    if basis not in LABEL_BASES:
        raise LabelError("unknown_basis", "basis", f"must be mass or volume, got {basis!r}")
    percents = _checked_percents(label)
    _check_one_expression_per_element(percents)
    _check_nitrogen(percents)
    if basis == "volume" and form == "solid":
        raise LabelError(
            "volume_basis_of_solid", "basis", "must be mass for a solid; volume is for liquids"
        )
    if basis == "mass" and form == "liquid" and density is None:
        raise LabelError(
            "density_required",
            "density_kg_per_l",
            "is needed to measure out a liquid whose label is by mass (w/w);"
            ' a label in grams for 100 mL (w/v) is sent with `basis` "volume" and needs none',
        )
    _check_sum(percents, basis, density)
    _check_forms(percents, basis, density)
    _check_weight(percents, basis, density)


def _checked_percents(label: Label) -> dict[str, float]:
    known = label_nutrients()
    percents: dict[str, float] = {}
    for field, value in label.items():
        if field == "basis":
            continue
        if field == LABEL_EC:
            _check_number(field, value, MAXIMUM_LABEL_EC_MS_PER_CM)
        elif field in known:
            percents[field] = _check_number(field, value, 100.0)
        else:
            hint = nearest(field, [*known, LABEL_EC, "basis"])
            raise LabelError("unknown_nutrient", field, f"is not a field of a label{hint}")
    if not any(percents.values()):
        raise LabelError("empty_label", "label", "must state at least one nutrient above 0")
    return percents


def _check_number(field: str, value: object, maximum: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or value != value:
        raise LabelError("not_a_number", field, f"must be a number, got {value!r}")
    # Compared before it becomes a float: a whole number from TOML may be too large for one.
    if not 0 <= value <= maximum:
        shown = f"{value:g}" if abs(value) < 1e15 else "far more"
        raise LabelError("out_of_range", field, f"must be between 0 and {maximum:g}, got {shown}")
    return float(value)


def _check_one_expression_per_element(percents: Mapping[str, float]) -> None:
    known = label_nutrients()
    first: dict[str, str] = {}
    for field in percents:
        nutrient = known[field]
        if nutrient.kind not in ("element", "oxide"):
            continue
        other = first.setdefault(nutrient.element, field)
        if other != field:
            raise LabelError(
                "both_element_and_oxide", field, f"states the same nutrient as {other}; give one"
            )


def _check_nitrogen(percents: Mapping[str, float]) -> None:
    known = label_nutrients()
    forms = [value for field, value in percents.items() if known[field].kind == "nitrogen_form"]
    total = percents.get("total_n_percent")
    # Sums of decimal fractions miss by some 1e-14: the limit itself is still allowed.
    limit = NITROGEN_TOLERANCE_PERCENT + 1e-9
    if total is not None and forms and abs(sum(forms) - total) > limit:
        raise LabelError(
            "nitrogen_forms_disagree",
            "total_n_percent",
            f"is {total:g} but the stated forms of nitrogen add up to {sum(forms):g}",
        )


def _sum_of_nutrients(percents: Mapping[str, float]) -> float:
    """Return what the nutrients make together, the forms of nitrogen and their total once."""
    known = label_nutrients()
    forms = sum(value for field, value in percents.items() if known[field].kind == "nitrogen_form")
    others = sum(
        value for field, value in percents.items() if known[field].kind in ("element", "oxide")
    )
    return others + max(forms, percents.get("total_n_percent", 0.0))


def _whole_percent(basis: LabelValue, density: float | None) -> float:
    """Return the whole product in the per cent of its label."""
    # A litre of a liquid weighs more than a kilogram: w/v per cent may pass 100.
    return 100.0 if basis == "mass" else 100.0 * (density or MAXIMUM_DENSITY_KG_PER_L)


def _check_sum(percents: Mapping[str, float], basis: LabelValue, density: float | None) -> None:
    total, limit = _sum_of_nutrients(percents), _whole_percent(basis, density)
    if total > limit + NITROGEN_TOLERANCE_PERCENT:
        raise LabelError(
            "sum_above_100_percent",
            "label",
            f"states {total:g} % of nutrients, more than the product itself ({limit:g} %)",
        )


@functools.cache
def _least_weights() -> Mapping[str, float]:
    """Return the least mass that a gram of each nutrient has in any product, by label field."""
    ions = {"nitrate_n": "NO3", "ammonium_n": "NH3", "urea_n": "CH4N2O", "total_n": "NH3"}
    weights = atomic_weights()
    least: dict[str, float] = {}
    for field, nutrient in label_nutrients().items():
        if nutrient.key in ions:
            formula = ions[nutrient.key]
            least[field] = molar_mass(formula) / (element_counts(formula)["N"] * weights["N"])
        elif nutrient.element == "P":
            # No phosphate or phosphite weighs less than its share of P2O5.
            per_element = molar_mass("P2O5") / (2.0 * weights["P"])
            least[field] = nutrient.element_mass_fraction * per_element
        else:
            least[field] = nutrient.element_mass_fraction
    return MappingProxyType(least)


def _check_weight(percents: Mapping[str, float], basis: LabelValue, density: float | None) -> None:
    """Raise where the lightest substances that bring the nutrients outweigh the product."""
    weights = {field: value * _least_weights()[field] for field, value in percents.items()}
    least, limit = _sum_of_nutrients(weights), _whole_percent(basis, density)
    if least > limit + WEIGHT_ROUNDING_PERCENT:
        as_elements = any(percents.get(field) for field in ("p_percent", "k_percent"))
        hint = (
            "; `p_percent` and `k_percent` are elements: what a label states as P2O5 and K2O is"
            " `p2o5_percent` and `k2o_percent`"
        )
        raise LabelError(
            "sum_above_100_percent",
            "label",
            f"states nutrients that weigh {least:.0f} % of the product at least, in the lightest"
            f" substances that bring them{hint if as_elements else ''}",
        )


@functools.cache
def _most_nitrogen() -> Mapping[str, tuple[float, str]]:
    """Return the most of each form of nitrogen that a substance holds, and the substance."""
    richest = {
        "urea_n_percent": ("CH4N2O", "urea"),
        "nitrate_n_percent": ("HNO3", "nitric acid"),
        "ammonium_n_percent": ("NH3", "ammonia"),
        "total_n_percent": ("NH3", "ammonia"),
    }
    nitrogen = atomic_weights()["N"]
    return {
        field: (100.0 * element_counts(formula)["N"] * nitrogen / molar_mass(formula), name)
        for field, (formula, name) in richest.items()
    }


def _check_forms(percents: Mapping[str, float], basis: LabelValue, density: float | None) -> None:
    """Raise where a form of nitrogen is more than its richest substance holds."""
    # A litre of a liquid weighs more than a kilogram: w/v per cent may pass the share by mass.
    heaviest = 1.0 if basis == "mass" else max(density or MAXIMUM_DENSITY_KG_PER_L, 1.0)
    for field, (percent, substance) in _most_nitrogen().items():
        most = percent * heaviest
        value = percents.get(field, 0.0)
        if value > most + FORM_ROUNDING_PERCENT:
            raise LabelError(
                "nitrogen_form_impossible",
                field,
                f"is {value:g} %, more than {substance} itself holds ({most:.1f} %): no product"
                " holds so much nitrogen in this form; check the digits and which line of the"
                " label it is",
            )
