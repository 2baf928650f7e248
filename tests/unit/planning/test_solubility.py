"""How much of a product dissolves, from the adopted solubility and the formula alone."""

import math

import numpy as np
import pytest

from service.chemistry.concentrate_solids import SOLID_NAMES
from service.chemistry.salt_solubility import pure_salt_solubility
from service.planning import concentrate
from service.planning.catalogue import catalogue
from service.planning.concentrate import (
    ClearLimit,
    brought_by,
    highest_multiple,
    model_at,
    molality_of_products,
    salt_alone,
    solid_states,
)
from service.planning.notes import Notes, RefusalError
from service.planning.products import ProductRow, labelled_row
from service.planning.solid_margins import ALONE, ESTIMATED, MEASURED, margin_in_index, margins_of
from service.planning.solubility import Solubility, _leaning, solubility
from service.reference.components import (
    CALCIUM,
    COMPONENT_COUNT,
    MAGNESIUM,
    NITRATE,
    POTASSIUM,
    SODIUM,
    SULFATE,
)
from tests.mixing import known_to

WATER = 18.01528
MASSES = {
    "potassium_nitrate": (39.0983 + 14.0067 + 3 * 15.999, 0),
    "monopotassium_phosphate": (39.0983 + 2 * 1.008 + 30.973762 + 4 * 15.999, 0),
    "magnesium_sulfate_heptahydrate": (24.305 + 32.06 + 4 * 15.999 + 7 * WATER, 7),
    "calcium_nitrate_tetrahydrate": (40.078 + 2 * (14.0067 + 3 * 15.999) + 4 * WATER, 4),
}
"""Molar mass with all water, and molecules of water of crystallisation."""


def product(key: str) -> ProductRow:
    known = catalogue()
    return known.product_rows[known.product_positions[key]]


def answer(key: str, celsius: float, **beside: float) -> tuple[Solubility, Notes]:
    notes = Notes()
    background = [(product(name), grams) for name, grams in beside.items()]
    return solubility(product(key), celsius, background, notes), notes


def codes(notes: Notes) -> list[str]:
    return [each["code"] for each in notes.cautions]


@pytest.mark.parametrize("key", MASSES)
@pytest.mark.parametrize("celsius", [5.0, 25.0])
def test_a_salt_alone_dissolves_as_adopted_with_the_water_of_its_crystals(
    key: str, celsius: float
) -> None:
    # x grams in 1 kg of water make n = x / M formulas in 1 + n h M(water) kilograms of water:
    # x = m M / (1 - m h M(water)).
    mass, crystals = MASSES[key]
    found, _ = answer(key, celsius)
    salt = int(concentrate.SALT_OF_SOLID[SOLID_NAMES.index(found.limiting_solid)])
    assert salt >= 0
    molality = pure_salt_solubility(salt, 273.15 + celsius)
    per_water = crystals * WATER / 1000.0
    expected = molality * mass / (1.0 - molality * per_water)
    assert found.g_per_kg_water == pytest.approx(expected, rel=1e-3)
    assert found.evidence == ALONE
    assert found.g_per_l == pytest.approx(
        found.g_per_kg_water * found.density_kg_per_l / (1.0 + found.g_per_kg_water / 1000.0),
        rel=1e-4,
    )
    sure = molality / (1.0 + found.margin_percent / 100.0)
    assert found.safe_g_per_kg_water == pytest.approx(
        sure * mass / (1.0 - sure * per_water), rel=1e-3
    )
    assert 1.0 < found.density_kg_per_l < 1.8
    assert found.states[0].saturation_index == pytest.approx(0.0, abs=0.02)
    assert all(state.saturation_index > -1.0 for state in found.states)


def test_what_is_in_the_tank_leaves_less_room_and_is_weighed_with_it() -> None:
    alone, _ = answer("monopotassium_phosphate", 10.0)
    beside, notes = answer("monopotassium_phosphate", 10.0, potassium_nitrate=100.0)
    assert 0.5 * alone.g_per_kg_water < beside.g_per_kg_water < 0.8 * alone.g_per_kg_water
    assert beside.evidence == MEASURED
    assert beside.g_per_l == pytest.approx(
        beside.g_per_kg_water
        * beside.density_kg_per_l
        / (1.0 + (beside.g_per_kg_water + 100.0) / 1000.0),
        rel=1e-4,
    )
    assert codes(notes) == ["oxidiser"]
    assert codes(answer("monopotassium_phosphate", 10.0)[1]) == []


def test_colder_nights_are_spoken_of_above_ten_degrees() -> None:
    assert codes(answer("potassium_sulfate", 10.0)[1]) == []
    notes = answer("potassium_sulfate", 11.0)[1]
    assert codes(notes) == ["colder_nights"]
    assert notes.cautions[0]["message"].startswith("At 11 °C.")


def test_a_label_is_taken_by_its_composition() -> None:
    notes = answer("feed_20_20_20", 10.0)[1]
    assert [each["code"] for each in notes.assumptions] == ["solubility_by_composition"]
    assert answer("potassium_nitrate", 10.0)[1].assumptions == []


def test_a_mixture_that_nobody_measured_is_cautioned_and_taken_lower() -> None:
    limit = ClearLimit(214.0, 100.0, "gypsum", 40.0, ESTIMATED)
    figure, margin = _leaning(limit)
    assert figure == pytest.approx(200.0)
    # 1.40 of margin over 1.07 that is taken already leaves 30.84 %.
    assert margin == pytest.approx(100.0 * (1.40 / 1.07 - 1.0))
    assert _leaning(ClearLimit(214.0, 210.0, "gypsum", 2.0, ESTIMATED)) == (210.0, 0.0)
    for evidence in (MEASURED, ALONE):
        assert _leaning(ClearLimit(214.0, 100.0, "x", 40.0, evidence)) == (214.0, 40.0)


def test_a_background_at_its_own_limit_is_named_and_not_what_limits_anyhow() -> None:
    found, notes = answer("potassium_nitrate", 10.0, magnesium_sulfate_heptahydrate=900.0)
    over = {each.solid for each in found.states if each.saturation_index > 1e-3}
    named = [each for each in notes.cautions if each["code"] == "background_at_its_limit"]
    assert len(named) == len(over - {found.limiting_solid})


@pytest.mark.parametrize(
    ("key", "celsius", "code"),
    [
        ("potassium_nitrate", 40.5, "concentrate_temperature"),
        ("potassium_nitrate", -0.5, "concentrate_temperature"),
        ("iron_edta", 10.0, "solubility_without_limit"),
        ("urea_phosphate", 10.0, "solubility_unknown"),
    ],
)
def test_what_has_no_answer_is_refused_by_its_code(key: str, celsius: float, code: str) -> None:
    with pytest.raises(RefusalError) as refusal:
        answer(key, celsius)
    assert refusal.value.notice.code == code


def test_a_gram_of_a_product_brings_its_ions_and_the_water_of_its_crystals() -> None:
    brought, water = brought_by(product("magnesium_sulfate_heptahydrate"))
    mass = MASSES["magnesium_sulfate_heptahydrate"][0]
    assert brought[MAGNESIUM] == pytest.approx(1.0 / mass, rel=1e-3)
    assert brought[SULFATE] == pytest.approx(1.0 / mass, rel=1e-3)
    assert water == pytest.approx(7 * WATER / mass / 1000.0, rel=5e-3)
    dry, none = brought_by(product("potassium_nitrate"))
    assert dry.sum() == pytest.approx(2.0 / 101.1032, rel=1e-3)
    assert none == pytest.approx(0.0, abs=1e-6)


def test_a_liquid_is_measured_by_its_density_and_has_to_have_one() -> None:
    label = {"basis": "mass", "nitrate_n_percent": 3.0, "ca_percent": 4.0}
    liquid = {"form": "liquid", "density_kg_per_l": 1.25, "label": label}
    known = known_to({"thick": liquid})
    row = known.product_rows[known.product_positions["thick"]]
    brought, water = brought_by(row)
    # 4 % of a gram is 40 mg of calcium, whatever the density.
    assert brought[CALCIUM] == pytest.approx(0.040 / 40.078, rel=1e-3)
    assert 0.0007 < water < 0.001
    by_volume = {"basis": "volume", "nitrate_n_percent": 1.0}
    with pytest.raises(RefusalError) as refusal:
        brought_by(labelled_row("thin", "liquid", None, by_volume))
    assert refusal.value.notice.code == "density_needed"
    assert refusal.value.notice.field == "product"


def test_products_in_a_kilogram_of_water_are_counted_per_kilogram_of_all_water() -> None:
    epsom, nitre = product("magnesium_sulfate_heptahydrate"), product("potassium_nitrate")
    composition, water = molality_of_products([(epsom, 246.47), (nitre, 101.1032)])
    assert water == pytest.approx(1.0 + 7 * WATER / 1000.0, rel=1e-3)
    assert composition[MAGNESIUM] == pytest.approx(1.0 / water, rel=1e-3)
    assert composition[POTASSIUM] == pytest.approx(1.0 / water, rel=1e-3)
    assert molality_of_products([])[1] == 1.0


def test_a_composition_is_a_salt_alone_in_its_own_proportion() -> None:
    composition = np.zeros(COMPONENT_COUNT)
    composition[POTASSIUM] = composition[NITRATE] = 0.3
    assert SOLID_NAMES[salt_alone(composition)] == "potassium_nitrate"
    composition[NITRATE] *= 1.001
    assert salt_alone(composition) == -1
    assert salt_alone(np.zeros(COMPONENT_COUNT)) == -1


def test_solids_stand_with_the_nearest_first_and_their_margins() -> None:
    composition = np.zeros(COMPONENT_COUNT)
    composition[CALCIUM], composition[SULFATE] = 0.02, 0.02
    composition[POTASSIUM], composition[NITRATE] = 1.0, 1.0
    states = solid_states(composition, 20.0)
    nearness = [state.saturation_index + state.margin for state in states]
    assert nearness == sorted(nearness, reverse=True)
    for state in states:
        place = SOLID_NAMES.index(state.solid)
        ((percent, evidence),) = margins_of([place], composition)
        assert (state.margin_percent, state.evidence) == (percent, evidence)
        assert state.margin == pytest.approx(margin_in_index(place, percent))
    gypsum = SOLID_NAMES.index("gypsum")
    # Two ions: 30 % more of both is 2 lg 1.3 of the ion product.
    assert margin_in_index(gypsum, 30.0) == pytest.approx(2.0 * math.log10(1.3))


def test_contents_reach_their_limit_where_the_index_is_nought() -> None:
    composition = np.zeros(COMPONENT_COUNT)
    composition[CALCIUM] = composition[SULFATE] = 0.001
    composition[SODIUM] = composition[NITRATE] = 0.05
    limit = highest_multiple(composition, 20.0)
    assert limit.solid == "gypsum"
    states = {each.solid: each for each in solid_states(limit.multiple * composition, 20.0)}
    assert states["gypsum"].saturation_index == pytest.approx(0.0, abs=1e-6)
    safe = {each.solid: each for each in solid_states(limit.safe_multiple * composition, 20.0)}
    assert safe["gypsum"].saturation_index == pytest.approx(-states["gypsum"].margin, abs=1e-3)
    assert limit.margin_percent == states["gypsum"].margin_percent


def test_a_model_is_made_once_for_a_temperature_and_ends_at_40_degrees() -> None:
    assert model_at(20.0) is model_at(20.0)
    assert model_at(0.0).temperature == 273.15
    assert model_at(40.0).temperature == pytest.approx(313.15)
    for beyond in (-0.1, 40.1):
        with pytest.raises(RefusalError):
            model_at(beyond)


def test_a_water_that_is_saturated_already_takes_nothing() -> None:
    found, _ = answer("potassium_nitrate", 20.0, potassium_nitrate=500.0)
    assert found.g_per_kg_water == 0.0
    assert found.safe_g_per_kg_water == 0.0
    assert found.limiting_solid == "potassium_nitrate"
