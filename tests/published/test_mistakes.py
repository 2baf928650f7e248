"""
Slips of the trade that no other test shows: what goes wrong, and that it does not go wrong here.

The figures of the slips come from printed tables and pages whose other values are checked
elsewhere, or follow from arithmetic. `tests/trust_report/mistakes.toml` lists every slip.
"""

import numpy as np
import pytest

from service.chemistry.conductivity import solution_conductivity
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.vapour_pressure import saturation_vapour_pressure
from service.chemistry.workspace import workspace
from service.planning.catalogue import catalogue
from service.planning.cautions import CAUTIONS
from service.planning.notes import Notes
from service.planning.solubility import solubility
from service.reference.components import COMPONENT_NAMES
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ as CACO3
from service.units.convert import QuantityError, parse_quantity
from tests.adjusting import acid, adjusted, bicarbonate_water
from tests.mixing import by_element, dilution, dose


def dissolved(product, celsius):
    known = catalogue()
    row = known.product_rows[known.product_positions[product]]
    return solubility(row, celsius, [], Notes())


def conductivity(millimolal, **ions):
    """Conductivity of a salt at 25 degC [mS/cm]; the salt [mmol/kg] and its ions."""
    composition = np.zeros(len(COMPONENT_NAMES))
    for name, number in ions.items():
        composition[COMPONENT_NAMES.index(name)] = 0.001 * millimolal * number
    constants = constants_array()
    fill_constants(298.15, constants)
    return solution_conductivity(composition, constants, -1.0, workspace())


def test_a_table_for_cold_water_is_told_by_its_temperature():
    # A handbook of growers prints 108 lb of potassium nitrate in 100 US gallons "in cold water":
    # that is a litre saturated at 0 degC. At 20 degC more than twice as much dissolves.
    printed = 108.0 * 453.59237 / 378.5411784
    assert dissolved("potassium_nitrate", 0.0).g_per_l == pytest.approx(printed, rel=0.01)
    assert dissolved("potassium_nitrate", 20.0).g_per_l > 2.0 * printed


def test_mass_percent_is_not_read_as_grams_in_a_hundred_of_water():
    # Boric acid at 40 degC is 8.1 per cent of the solution, 8.8 g in 100 g of water.
    found = dissolved("boric_acid", 40.0)
    assert found.g_per_kg_water == pytest.approx(1000.0 * 8.1 / (100.0 - 8.1), rel=0.01)


def test_an_impossible_cell_of_a_table_is_not_repeated():
    # Printed for monoammonium phosphate: 39.5 g at 10 degC above 37.4 g at 20 degC.
    cold, warm = (dissolved("monoammonium_phosphate", each).g_per_kg_water for each in (10.0, 20.0))
    assert cold == pytest.approx(295.0, rel=0.06)
    assert cold < warm


@pytest.mark.parametrize(
    ("text", "field"),
    [("1 tsp", "product_mass_g"), ("5 mL", "product_mass_g"), ("5 g", "volume_l")],
)
def test_a_volume_is_no_mass_and_a_mass_no_volume(text, field):
    with pytest.raises(QuantityError) as refusal:
        parse_quantity(text, field)
    assert refusal.value.code == "wrong_dimension"


def test_a_molar_stock_in_half_a_litre_is_told_by_its_ions():
    # 236 g of calcium nitrate tetrahydrate are one mole; in half a litre the stock is 2 mol/L, and
    # 2.5 mL of it in a litre bring 200 mg/L calcium, 5 mL (as for 1 mol/L) would bring 400.
    can = dilution(
        product="calcium_nitrate_tetrahydrate",
        strength={"basis": "product", "g_per_l": 236.15 / 0.5 * 0.005},
        water={"ph": 7.0, "alkalinity_mg_per_l_caco3": 0.5},
        volume_l=1000,
    )
    assert can.element("calcium") == pytest.approx(400.8, rel=1e-3)


def test_hardness_and_alkalinity_carry_their_unit():
    field = "alkalinity_mg_per_l_caco3"
    for text, expected in (("10 dKH", 178.5), ("2 meq/L", 100.1), ("100 mg/L", 100.0)):
        assert parse_quantity(text, field).value == pytest.approx(expected, rel=1e-3)
    bicarbonate = parse_quantity("2 meq/L", "bicarbonate_mg_per_l").value
    assert bicarbonate == pytest.approx(122.03, rel=1e-3)


def test_one_residual_for_every_water_does_not_give_one_ph():
    # A lecture leaves 0.5 meq/L in any water and promises pH 5.3 to 5.5. A soft water ends at 6.14
    # (PHREEQC), of a hard one 92 % of the alkalinity would go.
    def left(meq_per_l, start):
        return adjusted(
            water=bicarbonate_water(meq_per_l, start),
            volume_l=1000,
            target_alkalinity_mg_per_l_caco3=0.5 * CACO3,
            acid=acid("nitric", 38),
        )

    assert left(1.42, 9.3)["predicted_ph"] == pytest.approx(6.14, abs=0.02)
    assert left(6.2, 8.3).problem == "acid_neutralises_too_much"


def test_conductivity_is_no_straight_line_and_no_plain_sum_of_ions():
    # From 0.5 to 1 g/L a gram of magnesium sulfate loses a tenth of its conductivity, one of
    # potassium nitrate a sixtieth; the plain sum of ions puts magnesium sulfate half too high.
    nitrate = [conductivity(each / 101.10, potassium=1, nitrate=1) / each for each in (500, 1000)]
    sulfate = [conductivity(each / 246.47, magnesium=1, sulfate=1) / each for each in (500, 1000)]
    assert 1.0 - nitrate[1] / nitrate[0] == pytest.approx(0.016, abs=0.005)
    assert 1.0 - sulfate[1] / sulfate[0] == pytest.approx(0.10, abs=0.02)
    plain_sum = 2.0 * (53.0 + 80.0) / 246.47
    assert 1000.0 * sulfate[1] == pytest.approx(plain_sum / 1.5, rel=0.05)


def test_a_standard_by_the_litre_is_not_one_by_the_kilogram():
    # 0.01 mol in a litre is 0.010029 mol in a kilogram of water: 1412 against 1408 uS/cm.
    by_kilogram = conductivity(10.0, potassium=1, chloride=1)
    by_litre = conductivity(10.0 / 0.99706, potassium=1, chloride=1)
    assert by_litre / by_kilogram == pytest.approx(1.003, abs=0.0005)
    assert 1000.0 * by_kilogram == pytest.approx(1408.2, rel=0.005)


def test_element_strengths_are_of_the_element_and_not_of_its_oxide():
    # 50 mg/L of potassium from a label of 20 % K2O take 301 mg/L of the feed, not 250.
    can = dilution(
        product="feed_20_20_20",
        strength=by_element("potassium", 50.0),
        water={"ph": 7.0, "alkalinity_mg_per_l_caco3": 0.5},
        volume_l=1000,
    )
    assert can.exact() / 1000.0 == pytest.approx(50.0 / (0.20 * 0.8301) / 1000.0, rel=2e-3)


def test_the_mean_of_two_pressures_lies_above_the_pressure_of_the_mean():
    # 15 and 24.5 degC: 2.39 kPa by both ends, 2.30 at the mean. A single temperature is taken as it
    # is given, so that a day of two temperatures is two requests.
    both = 0.5 * sum(saturation_vapour_pressure(273.15 + each) for each in (15.0, 24.5))
    one = saturation_vapour_pressure(273.15 + 19.75)
    assert both == pytest.approx(2.39, abs=0.005)
    assert one == pytest.approx(2.30, abs=0.005)


def test_one_reading_is_told_what_a_mean_of_the_day_hides():
    plants = {"size": "large", "setup": "wet_dry_pot"}
    given = {"product": "potassium_nitrate", "strength": by_element("nitrogen", 50)}
    reading = {"humidity_percent": 60, "temperature_celsius": 22}
    usual = {"average_humidity_percent": 60, "average_temperature_celsius": 22}
    cans = [
        dose(plants=plants, air=air, volume_l=10, water="rain", **given)
        for air in (reading, {**reading, **usual})
    ]
    assert ["single_reading" in can.cautions for can in cans] == [True, False]
    (said,) = (each.message for each in CAUTIONS if each.code == "single_reading")
    assert "a mean of the day hides its warm, dry hours" in said
