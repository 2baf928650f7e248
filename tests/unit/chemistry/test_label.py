import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.chemistry.label import (
    LabelComposition,
    LabelError,
    element_mass_percent,
    label_composition,
)
from service.reference.components import (
    COMPONENT_NAMES,
    ELEMENT_NAMES,
    NOMINAL_CHARGE,
    PHOSPHATE,
)
from service.reference.labels import check_label, label_nutrients

FEED = {
    "total_n_percent": 20,
    "nitrate_n_percent": 5.8,
    "ammonium_n_percent": 3.8,
    "urea_n_percent": 10.4,
    "p2o5_percent": 20,
    "k2o_percent": 20,
}


def amount(reading: LabelComposition, component: str) -> float:
    assert reading.composition_mmol_per_g is not None
    return float(reading.composition_mmol_per_g[COMPONENT_NAMES.index(component)])


def percent(reading: LabelComposition, element: str) -> float:
    assert reading.composition_mmol_per_g is not None
    shares = element_mass_percent(reading.composition_mmol_per_g)
    return float(shares[ELEMENT_NAMES.index(element)])


def unbalanced_charge(composition: np.ndarray) -> float:
    """Charge left when phosphate counts as H2PO4-."""
    return float(np.array(NOMINAL_CHARGE) @ composition - composition[PHOSPHATE])


def test_urea_brings_two_nitrogen_and_the_forms_add_up() -> None:
    reading = label_composition(FEED)
    assert amount(reading, "urea") == pytest.approx(104.0 / 14.007 / 2.0)
    assert amount(reading, "nitrate") == pytest.approx(58.0 / 14.007)
    assert percent(reading, "nitrogen") == pytest.approx(20.0)


def test_oxides_become_elements() -> None:
    reading = label_composition(FEED)
    assert percent(reading, "phosphorus") == pytest.approx(8.73, abs=0.005)
    assert percent(reading, "potassium") == pytest.approx(16.60, abs=0.005)


@pytest.mark.parametrize(
    ("oxide", "element", "factor"),
    [
        ("p2o5", "p", 0.43643),
        ("k2o", "k", 0.83015),
        ("cao", "ca", 0.71470),
        ("mgo", "mg", 0.60304),
        ("so3", "s", 0.40046),
        ("na2o", "na", 0.74186),
        ("sio2", "si", 0.46744),
        ("b2o3", "b", 0.31056),
    ],
)
def test_oxide_and_element_say_the_same(oxide: str, element: str, factor: float) -> None:
    by_oxide = label_composition({f"{oxide}_percent": 10.0})
    exact = label_nutrients()[f"{oxide}_percent"].element_mass_fraction
    assert exact == pytest.approx(factor, abs=5e-6)
    by_element = label_composition({f"{element}_percent": 10.0 * exact})
    assert by_element.composition_mmol_per_g == pytest.approx(by_oxide.composition_mmol_per_g)


@pytest.mark.parametrize(
    ("label", "closure", "others"),
    [
        (FEED, "balanced", ("sulfate", "chloride", "none")),
        ({"k2o_percent": 50.0}, "sulfate", ("chloride",)),
        ({"k2o_percent": 50.0, "s_percent": 5.0}, "chloride", ("sulfate",)),
        (
            {"k2o_percent": 50.0, "s_percent": 5.0, "cl_percent": 5.0},
            "unmeasured_anion",
            ("sulfate", "chloride"),
        ),
        (
            {"nitrate_n_percent": 10.0, "ca_percent": 19.0},
            "unmeasured_anion",
            ("sulfate", "chloride"),
        ),
        (
            {"p2o5_percent": 30.0, "k2o_percent": 30.0},
            "sulfate",
            ("chloride", "none"),
        ),
        (
            {"urea_n_percent": 17.7, "p2o5_percent": 44.9},
            "acid_phosphate",
            ("unmeasured_cation", "sodium", "none"),
        ),
        (
            {"nitrate_n_percent": 13.0, "k2o_percent": 20.0},
            "unmeasured_cation",
            ("sodium",),
        ),
        ({"k2o_percent": 8.3, "sio2_percent": 20.8}, "silicate", ("sulfate", "chloride")),
        ({"urea_n_percent": 46.0}, "balanced", ()),
    ],
)
def test_ordinary_rule_names_the_closure_and_the_other_readings(
    label: dict[str, float], closure: str, others: tuple[str, ...]
) -> None:
    reading = label_composition(label)
    assert reading.closure == closure
    assert tuple(other.closure for other in reading.alternatives) == others
    assert all(not other.composition.flags.writeable for other in reading.alternatives)


def test_closing_rules_leave_no_charge() -> None:
    for label in (FEED, {"k2o_percent": 50.0}, {"nitrate_n_percent": 13.0}):
        reading = label_composition(label)
        assert reading.composition_mmol_per_g is not None
        assert unbalanced_charge(reading.composition_mmol_per_g) == pytest.approx(0.0, abs=1e-12)


def test_urea_phosphate_is_left_acidic() -> None:
    reading = label_composition({"urea_n_percent": 17.7, "p2o5_percent": 44.9})
    assert amount(reading, "unmeasured") == pytest.approx(0.0, abs=0.02)
    assert amount(reading, "phosphate") == pytest.approx(amount(reading, "urea"), rel=0.01)


def test_cations_missing_beyond_the_urea_are_unmeasured() -> None:
    reading = label_composition({"urea_n_percent": 2.8014, "p2o5_percent": 14.1942})
    assert reading.closure == "acid_phosphate"
    assert amount(reading, "unmeasured") == pytest.approx(1.0, abs=1e-3)


def test_potassium_silicate_stays_alkaline() -> None:
    reading = label_composition({"k2o_percent": 8.3, "sio2_percent": 20.8})
    assert amount(reading, "unmeasured") == 0.0
    assert reading.residual_charge == pytest.approx(amount(reading, "potassium"))


def test_silicate_holds_at_most_two_charges() -> None:
    reading = label_composition({"k2o_percent": 47.0975, "sio2_percent": 6.00830})
    assert amount(reading, "unmeasured") == pytest.approx(-8.0, abs=2e-3)


@pytest.mark.parametrize(
    ("closure", "label", "name", "component", "expected"),
    [
        ("sulfate", {"k_percent": 39.098}, "sulfate", "sulfate", 5.0),
        ("chloride", {"k_percent": 39.098}, "chloride", "chloride", 10.0),
        ("sodium", {"k_percent": 39.098}, "unmeasured_anion", "unmeasured", -10.0),
        ("unmeasured", {"k_percent": 39.098}, "unmeasured_anion", "unmeasured", -10.0),
        ("none", {"k_percent": 39.098}, "none", "unmeasured", 0.0),
        ("sodium", {"nitrate_n_percent": 14.007}, "sodium", "sodium", 10.0),
        ("sulfate", {"nitrate_n_percent": 14.007}, "unmeasured_cation", "unmeasured", 10.0),
        ("chloride", {"urea_n_percent": 14.007}, "none", "chloride", 0.0),
    ],
)
def test_asked_closure_holds_where_the_sign_allows_it(
    closure: str, label: dict[str, float], name: str, component: str, expected: float
) -> None:
    reading = label_composition(label, closure=closure)
    assert reading.closure == name
    assert amount(reading, component) == pytest.approx(expected)


def test_chelate_carries_one_sodium_per_iron() -> None:
    reading = label_composition({"fe_percent": 13.0}, closure="sodium")
    assert amount(reading, "sodium") == pytest.approx(amount(reading, "iron_chelate"))
    assert "iron_chelated" in [assumption.code for assumption in reading.assumptions]


def test_lone_total_nitrogen_is_urea_and_says_so() -> None:
    reading = label_composition({"total_n_percent": 20.0, "k2o_percent": 20.0})
    assert amount(reading, "urea") == pytest.approx(200.0 / 14.007 / 2.0)
    assert amount(reading, "nitrate") == 0.0
    assert "nitrogen_forms_unknown" in [assumption.code for assumption in reading.assumptions]


def test_lone_total_nitrogen_beside_calcium_is_first_nitrate() -> None:
    reading = label_composition({"total_n_percent": 15.5, "ca_percent": 19.0})
    assert amount(reading, "nitrate") == pytest.approx(2.0 * amount(reading, "calcium"))
    assert percent(reading, "nitrogen") == pytest.approx(15.5)
    assert reading.closure == "balanced"


def test_total_beside_its_forms_counts_once() -> None:
    assert percent(label_composition(FEED), "nitrogen") == pytest.approx(20.0)


@pytest.mark.parametrize("total", [19.85, 20.15])
def test_printed_rounding_of_nitrogen_is_accepted(total: float) -> None:
    assert label_composition({**FEED, "total_n_percent": total}).closure == "balanced"


def test_liquid_by_mass_needs_density_and_gives_both_compositions() -> None:
    reading = label_composition({"k_percent": 3.9098}, form="liquid", density=1.2)
    assert reading.composition_mmol_per_ml is not None
    assert amount(reading, "potassium") == pytest.approx(1.0)
    index = COMPONENT_NAMES.index("potassium")
    assert reading.composition_mmol_per_ml[index] == pytest.approx(1.2)


def test_label_by_volume_needs_density_only_for_mass() -> None:
    label = {"basis": "volume", "k_percent": 3.9098}
    index = COMPONENT_NAMES.index("potassium")
    without = label_composition(label, form="liquid")
    assert without.composition_mmol_per_g is None
    assert without.composition_mmol_per_ml is not None
    assert without.composition_mmol_per_ml[index] == pytest.approx(1.0)
    with_density = label_composition(label, form="liquid", density=1.25)
    assert with_density.composition_mmol_per_g is not None
    assert with_density.composition_mmol_per_g[index] == pytest.approx(0.8)


def test_label_by_volume_may_pass_100_percent_as_dense_as_it_is() -> None:
    label = {"basis": "volume", "k2o_percent": 60.0, "p2o5_percent": 60.0}
    assert label_composition(label, form="liquid", density=1.5).closure == "sulfate"


@pytest.mark.parametrize(
    ("label", "form", "density", "code", "field"),
    [
        ({**FEED, "total_n_percent": 19.8}, "solid", None, "nitrogen_forms_disagree", "total_n"),
        ({**FEED, "total_n_percent": 20.2}, "solid", None, "nitrogen_forms_disagree", "total_n"),
        (
            {"k2o_percent": 60.0, "p2o5_percent": 45.0},
            "solid",
            None,
            "sum_above_100_percent",
            "label",
        ),
        (
            {"basis": "volume", "k2o_percent": 60.0, "p2o5_percent": 60.0},
            "liquid",
            1.1,
            "sum_above_100_percent",
            "label",
        ),
        ({"k_percent": 1, "k2o_percent": 1}, "solid", None, "both_element_and_oxide", "k2o"),
        ({"s_percent": 0, "so3_percent": 1}, "solid", None, "both_element_and_oxide", "so3"),
        ({"k2o_percent": 1.0}, "liquid", None, "density_required", "density_kg_per_l"),
        ({"k2o_percent": -0.1}, "solid", None, "out_of_range", "k2o_percent"),
        ({"k2o_percent": 100.1}, "solid", None, "out_of_range", "k2o_percent"),
        ({"k2o_percent": 10**400}, "solid", None, "out_of_range", "k2o_percent"),
        ({"k2o_percent": float("inf")}, "solid", None, "out_of_range", "k2o_percent"),
        ({"k2o_percent": float("nan")}, "solid", None, "not_a_number", "k2o_percent"),
        ({"k2o_percent": "12"}, "solid", None, "not_a_number", "k2o_percent"),
        ({"k2o_percent": True}, "solid", None, "not_a_number", "k2o_percent"),
        ({"p205_percent": 5}, "solid", None, "unknown_nutrient", "p205_percent"),
        ({"basis": "w/w", "k2o_percent": 5}, "solid", None, "unknown_basis", "basis"),
        ({"basis": "volume", "k2o_percent": 5}, "solid", None, "volume_basis_of_solid", "basis"),
        ({}, "solid", None, "empty_label", "label"),
        ({"k2o_percent": 0}, "solid", None, "empty_label", "label"),
        ({"k2o_percent": 5}, "gas", None, "out_of_range", "form"),
        ({"k2o_percent": 5}, "liquid", 0.0, "out_of_range", "density_kg_per_l"),
        ({"k2o_percent": 5}, "liquid", 13.6, "out_of_range", "density_kg_per_l"),
        (
            {"k2o_percent": 5, "ec_ms_per_cm_at_100_mg_per_l_n": 11},
            "solid",
            None,
            "out_of_range",
            "ec_ms_per_cm",
        ),
    ],
)
def test_impossible_label_is_an_error_with_code_and_field(
    label: dict[str, float], form: str, density: float | None, code: str, field: str
) -> None:
    with pytest.raises(LabelError) as caught:
        label_composition(label, form, density)
    assert caught.value.code == code
    assert caught.value.field.startswith(field)
    assert caught.value.detail


def test_unknown_nutrient_is_answered_with_the_nearest_names() -> None:
    with pytest.raises(LabelError, match="did you mean p2o5_percent"):
        label_composition({"p205_percent": 5})


def test_unknown_closure_is_an_error() -> None:
    with pytest.raises(LabelError) as caught:
        label_composition(FEED, closure="iodide")
    assert caught.value.code == "unknown_closure"


def test_sum_of_exactly_100_percent_is_possible() -> None:
    assert label_composition({"k2o_percent": 60.0, "p2o5_percent": 40.0}).closure


def printed(maximum: float) -> st.SearchStrategy[float]:
    """Per cent as labels print it: nothing, or at least a ten-thousandth."""
    return st.just(0.0) | st.floats(1e-4, maximum)


def is_possible(label: dict[str, float]) -> bool:
    """Whether the lightest substances that bring the nutrients weigh no more than the product."""
    try:
        check_label(label, "solid", None)
    except LabelError:
        return False
    return True


LABELS = st.fixed_dictionaries(
    {},
    optional={
        "nitrate_n_percent": printed(13),
        "ammonium_n_percent": printed(13),
        "urea_n_percent": printed(20),
        "p2o5_percent": printed(20),
        "k2o_percent": printed(20),
        "ca_percent": printed(5),
        "s_percent": printed(4),
        "cl_percent": printed(2),
        "sio2_percent": printed(3),
    },
).filter(lambda label: any(label.values()) and is_possible(label))


@given(LABELS)
def test_closure_changes_no_stated_nutrient_for_the_less(label: dict[str, float]) -> None:
    stated = label_composition(label, closure="none").composition_mmol_per_g
    closed = label_composition(label).composition_mmol_per_g
    assert stated is not None
    assert closed is not None
    added = closed - stated
    assert (added[:-1] >= 0.0).all()
    assert (closed[:-1] >= 0.0).all()


@given(LABELS)
def test_hydrogen_ions_are_left_no_more_than_weak_acids_can_hold(label: dict[str, float]) -> None:
    closed = label_composition(label).composition_mmol_per_g
    assert closed is not None
    left = unbalanced_charge(closed)
    silicate = closed[COMPONENT_NAMES.index("silicate")]
    assert -closed[PHOSPHATE] - 1e-9 <= left <= 2.0 * silicate + 1e-9


@given(LABELS, st.floats(0.05, 1.0))
def test_weaker_label_gives_proportionally_less(label: dict[str, float], share: float) -> None:
    whole = label_composition(label, closure="none").composition_mmol_per_g
    part = label_composition(
        {field: value * share for field, value in label.items()}, closure="none"
    ).composition_mmol_per_g
    assert part == pytest.approx(whole * share, rel=1e-9, abs=1e-300)


# Shares of nitrogen from the standard atomic weights (prohaska-2022): N 14.007, H 1.008, C 12.011,
# O 15.999. Urea 28.014/60.056 = 46.65 %, nitric acid 14.007/63.012 = 22.23 %, ammonia
# 14.007/17.031 = 82.24 %.
@pytest.mark.parametrize(
    ("field", "possible", "impossible", "substance"),
    [
        ("urea_n_percent", 46.65, 47.0, "urea"),
        ("nitrate_n_percent", 22.2, 22.5, "nitric acid"),
        ("ammonium_n_percent", 82.2, 82.5, "ammonia"),
        ("total_n_percent", 82.2, 82.5, "ammonia"),
    ],
)
def test_form_of_nitrogen_stays_below_its_richest_substance(field, possible, impossible, substance):
    check_label({field: possible}, "solid", None)
    with pytest.raises(LabelError) as caught:
        check_label({field: impossible}, "solid", None)
    assert (caught.value.code, caught.value.field) == ("nitrogen_form_impossible", field)
    assert substance in caught.value.detail


def test_label_by_volume_of_a_heavy_liquid_may_state_more_than_the_share_by_mass():
    check_label({"basis": "volume", "nitrate_n_percent": 28.0}, "liquid", 1.35)
    with pytest.raises(LabelError, match="nitric acid"):
        check_label({"basis": "volume", "nitrate_n_percent": 31.0}, "liquid", 1.35)


@pytest.mark.parametrize(("potassium_per_silicate", "possible"), [(1.99, True), (2.01, False)])
def test_silicate_balances_two_charges_and_no_third(
    potassium_per_silicate: float, possible: bool
) -> None:
    silica = 20.0
    potash = potassium_per_silicate * silica / 60.084 * 94.196 / 2.0
    label = {"k2o_percent": potash, "sio2_percent": silica}
    reading = label_composition(label, closure="sulfate")
    assert ("none" in {other.closure for other in reading.alternatives}) is possible
    assert amount(reading, "potassium") == pytest.approx(
        potassium_per_silicate * amount(reading, "silicate"), rel=1e-4
    )


@pytest.mark.parametrize(("potassium_per_phosphate", "possible"), [(1.99, True), (2.01, False)])
def test_phosphate_balances_one_charge_beyond_its_first(
    potassium_per_phosphate: float, possible: bool
) -> None:
    phosphate = 20.0
    potash = potassium_per_phosphate * phosphate / 70.972 * 94.196 / 2.0
    label = {"k2o_percent": potash, "p2o5_percent": phosphate}
    reading = label_composition(label, closure="sulfate")
    assert ("none" in {other.closure for other in reading.alternatives}) is possible
