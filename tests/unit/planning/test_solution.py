"""What a mix will be, on cases whose answer is known by arithmetic."""

from types import SimpleNamespace

import numpy as np
import pytest

from service.chemistry.density import reagent_density
from service.chemistry.equilibrium import CLOSED
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.known_water import known_water
from service.planning.mix_parts import LabelText, acid_part, mix_part
from service.planning.notes import Notes, RefusalError
from service.planning.products import labelled_row
from service.planning.solution import mixture, pressure_of, solution_fields
from service.reference.components import COMPONENT_COUNT, NITRATE
from service.reference.formula import molar_mass

PURE = known_water(None, catalogue(), Notes())


def product(key):
    known = catalogue()
    return known.product_rows[known.product_positions[key]]


def part(key, grams=None, millilitres=None, label=None, notes=None):
    return mix_part(product(key), grams, millilitres, label, "additions.0", notes or Notes())


def labelled(name="own", density=None, form="solid", own=True, **label):
    row = labelled_row(name, form, density, label)
    return row, LabelText(label, form, density, None, own)


def acid(kind, percent=None, **amount):
    given = {"ml_per_l": None, "g_per_l": None, "mmol_per_l": None, **amount}
    return SimpleNamespace(kind=kind, percent=percent, **given)


def test_potassium_chloride_standard_conducts_as_printed():
    # 0.01 demal: 0.745263 g of KCl in 1000 g of solution conducts 1.40823 mS/cm at 0.01 mol/kg.
    mix = mixture(PURE, [part("potassium_chloride", 0.7430)], None, 25.0, CLOSED)
    assert mix.ec_ms_per_cm == pytest.approx(1.408, rel=0.005)
    assert mix.ionic_strength_mol_per_kg == pytest.approx(0.01, rel=0.002)
    assert mix.elements_mg_per_l["potassium"] == pytest.approx(743.0 * 39.098 / 74.551, rel=1e-4)


def test_conductivity_at_the_temperature_of_the_mix_is_that_of_the_standard():
    # CRC: 0.01 mol/kg KCl conducts 1.14145 mS/cm at 15 degrees Celsius.
    mix = mixture(PURE, [part("potassium_chloride", 0.7430)], None, 15.0, CLOSED)
    assert mix.ec_at_temperature_ms_per_cm == pytest.approx(1.1414, rel=0.005)
    assert mix.ec_ms_per_cm == pytest.approx(1.408, rel=0.005)


def test_concentrate_holds_less_water_than_a_litre():
    # 30 g/L of KNO3 at 25 degrees: density 1.0154, so 985.4 g of water and 0.3011 mol/kg.
    mix = mixture(PURE, [part("potassium_nitrate", 30.0)], None, 25.0, CLOSED)
    water = mix.density_kg_per_l - 0.030
    assert mix.density_kg_per_l == pytest.approx(1.0155, abs=0.0008)
    assert mix.ionic_strength_mol_per_kg == pytest.approx(0.030 / 0.101103 / water, rel=1e-4)


def test_mix_beyond_the_chemistry_is_refused_and_says_how_strong_it_is():
    with pytest.raises(RefusalError, match=r"0\.5 mol/kg") as refusal:
        mixture(PURE, [part("potassium_nitrate", 80.0)], None, 25.0, CLOSED)
    assert refusal.value.notice.code == "solution_too_strong"
    assert refusal.value.notice.field == "additions"


def test_strong_acid_alone_is_refused_for_its_ph():
    added = acid_part(acid("nitric", mmol_per_l=50.0), Notes())
    with pytest.raises(RefusalError, match="pH 1") as refusal:
        mixture(PURE, [], added, 25.0, CLOSED)
    assert refusal.value.notice.code == "solution_ph_out_of_range"


def test_unionised_ammonia_is_a_species():
    base = acid_part(acid("potassium_hydroxide", mmol_per_l=2.0), Notes())
    mix = mixture(PURE, [part("ammonium_sulfate", 0.2)], base, 25.0, CLOSED)
    ratio = mix.ions_mmol_per_l["NH3"] / mix.ions_mmol_per_l["NH4+"]
    assert np.log10(ratio) == pytest.approx(mix.ph - 9.245, abs=0.06)


def test_species_below_the_least_concentration_are_not_listed():
    mix = mixture(PURE, [part("potassium_nitrate", 0.5)], None, 25.0, CLOSED)
    assert min(mix.ions_mmol_per_l.values()) > 1e-6
    assert "Ca+2" not in mix.ions_mmol_per_l
    assert mix.saturation == {}


def test_open_mix_holds_the_carbon_dioxide_of_its_air():
    soft = known_water("soft_tap", catalogue(), Notes())
    outdoor = mixture(soft, [], None, 25.0, ATMOSPHERIC_CARBON_DIOXIDE)
    stuffy = mixture(soft, [], None, 25.0, pressure_of("open", 4270.0, Notes()))
    assert outdoor.ph - stuffy.ph == pytest.approx(1.0, abs=0.05)
    ratio = stuffy.ions_mmol_per_l["CO2"] / outdoor.ions_mmol_per_l["CO2"]
    assert ratio == pytest.approx(10.0, rel=0.01)
    assert outdoor.alkalinity_mg_per_l_caco3 == pytest.approx(stuffy.alkalinity_mg_per_l_caco3)


def test_carbon_dioxide_is_kept_unless_air_is_named():
    notes = Notes()
    assert pressure_of(None, None, notes) == CLOSED
    assert pressure_of("closed", None, notes) == CLOSED
    assert pressure_of(None, 400.0, notes) == pytest.approx(400e-6 * 1.01325)
    assert pressure_of("open", None, notes) == ATMOSPHERIC_CARBON_DIOXIDE
    assert [each["code"] for each in notes.assumptions] == [
        "carbon_dioxide_closed_assumed",
        "carbon_dioxide_open_assumed",
        "carbon_dioxide_share_assumed",
    ]


def test_acid_by_mass_volume_and_amount_is_the_same():
    notes = Notes()
    by_amount = acid_part(acid("nitric", 38.0, mmol_per_l=1.5), notes)
    grams = 1.5 * molar_mass("HNO3") / 1000.0 / 0.38
    by_mass = acid_part(acid("nitric", 38.0, g_per_l=grams), notes)
    density = reagent_density(0, 0.38, 293.15)
    by_volume = acid_part(acid("nitric", 38.0, ml_per_l=grams / density), notes)
    assert by_amount[NITRATE] == 1.5
    assert by_mass == pytest.approx(by_amount)
    assert by_volume == pytest.approx(by_amount)
    assert {each["code"] for each in notes.cautions} == {"acid_handling"}


def test_acid_without_a_strength_is_taken_at_the_usual_one_and_said():
    notes = Notes()
    usual = acid_part(acid("sulfuric", g_per_l=1.0), notes)
    assert usual == pytest.approx(acid_part(acid("sulfuric", 35.0, g_per_l=1.0), Notes()))
    assert [each["code"] for each in notes.assumptions] == ["acid_strength_assumed"]


def test_volume_of_a_solid_reagent_is_refused():
    with pytest.raises(RefusalError) as refusal:
        acid_part(acid("citric", 100.0, ml_per_l=1.0), Notes())
    assert refusal.value.notice.code == "acid_density_unknown"


def test_millilitres_of_a_solid_are_refused():
    with pytest.raises(RefusalError) as refusal:
        part("potassium_nitrate", millilitres=1.0)
    assert refusal.value.notice.code == "volume_of_a_solid"
    assert refusal.value.notice.field == "additions.0.ml_per_l"


def test_grams_of_a_liquid_need_its_density():
    row, text = labelled(form="liquid", basis="volume", nitrate_n_percent=5, k2o_percent=10)
    with pytest.raises(RefusalError) as refusal:
        mix_part(row, 1.0, None, text, "additions.0", Notes())
    assert refusal.value.notice.code == "density_needed"
    row, text = labelled(
        form="liquid", density=1.25, basis="volume", nitrate_n_percent=5, k2o_percent=10
    )
    assert mix_part(row, 2.5, None, text, "additions.0", Notes()).amount == pytest.approx(2.0)


def test_label_that_is_balanced_and_without_urea_is_known_to_12_percent():
    row, text = labelled(nitrate_n_percent=13.85, k2o_percent=46.58)
    assert row.closure == "balanced"
    added = mix_part(row, 0.5, None, text, "additions.0", Notes())
    mix = mixture(PURE, [added], None, 25.0, CLOSED)
    assert mix.ec_high_ms_per_cm == pytest.approx(1.12 * mix.ec_ms_per_cm, rel=2e-3)
    assert mix.ec_low_ms_per_cm == pytest.approx(0.88 * mix.ec_ms_per_cm, rel=2e-3)


def test_label_that_leaves_charge_open_has_the_range_of_its_readings():
    row, text = labelled(nitrate_n_percent=5, ammonium_n_percent=5, k2o_percent=30)
    added = mix_part(row, 0.5, None, text, "additions.0", Notes())
    assert added.readings_mmol_per_l
    mix = mixture(PURE, [added], None, 25.0, CLOSED)
    assert mix.ec_high_ms_per_cm >= 1.119 * mix.ec_ms_per_cm
    for reading in added.readings_mmol_per_l:
        other = mixture(PURE, [], reading, 25.0, CLOSED).ec_ms_per_cm
        assert mix.ec_low_ms_per_cm - 1e-9 <= other <= mix.ec_high_ms_per_cm + 1e-9


def test_stated_conductivity_of_an_own_label_is_taken_without_a_range():
    stated = {"nitrate_n_percent": 10, "ammonium_n_percent": 5, "k2o_percent": 30}
    row, text = labelled(**stated, ec_ms_per_cm_at_100_mg_per_l_n=0.80)
    added = mix_part(row, 100.0 / 150.0, None, text, "additions.0", Notes())
    mix = mixture(PURE, [added], None, 25.0, CLOSED)
    assert mix.ec_ms_per_cm == pytest.approx(0.80 + PURE.ec_ms_per_cm, abs=0.003)
    assert mix.ec_low_ms_per_cm is None
    many = LabelText(text.label, "solid", None, None, own=False)
    of_makers = mix_part(row, 100.0 / 150.0, None, many, "additions.0", Notes())
    assert mixture(PURE, [of_makers], None, 25.0, CLOSED).ec_high_ms_per_cm > 0.88


def test_urea_is_called_invisible_to_the_meter():
    notes = Notes()
    mix = mixture(PURE, [part("urea", 0.2), part("potassium_nitrate", 0.2)], None, 25.0, CLOSED)
    solution_fields(mix, PURE, notes)
    said = {each["code"]: each["message"] for each in notes.cautions}
    assert "77 %" in said["urea_not_on_the_meter"]
    notes = Notes()
    solution_fields(
        mixture(PURE, [part("potassium_nitrate", 0.2)], None, 25.0, CLOSED), PURE, notes
    )
    assert notes.cautions == []


def test_salts_have_no_range():
    mix = mixture(PURE, [part("potassium_nitrate", 0.5)], None, 25.0, CLOSED)
    assert mix.ec_low_ms_per_cm is None
    assert mix.ec_high_ms_per_cm is None


def water_of(**values):
    notes = Notes()
    analysis = SimpleNamespace(**{**dict.fromkeys(rows.WATER_FIELDS), **values})
    return known_water(analysis, catalogue(), notes), notes


def test_unbalanced_analysis_is_told_and_kept():
    water, notes = water_of(
        ph=7.5, alkalinity_mg_per_l_caco3=100, calcium_mg_per_l=80, magnesium_mg_per_l=10,
        sodium_mg_per_l=20, chloride_mg_per_l=20, sulfate_mg_per_l=20,
    )  # fmt: skip
    assert "water_charge_imbalance" in {each["code"] for each in notes.cautions}
    fields = solution_fields(mixture(water, [], None, 25.0, CLOSED), water, notes)
    assert fields["ph"] == pytest.approx(7.5, abs=0.005)
    assert fields["water_charge_error_percent"] > 10.0


def test_ph_is_not_given_when_the_alkalinity_is_unknown():
    water, notes = water_of(ph=7.5, calcium_mg_per_l=80)
    fields = solution_fields(mixture(water, [], None, 25.0, CLOSED), water, notes)
    assert fields["ph"] is None
    assert fields["alkalinity_mg_per_l_caco3"] is None
    assert fields["ec_ms_per_cm"] > 0.1
    assert fields["water_charge_error_percent"] is None
    assert "alkalinity_unknown" in {each["code"] for each in notes.cautions}


def test_reading_of_the_water_beyond_its_ions_stays_in_the_mix():
    water, _ = water_of(ec_ms_per_cm=0.5, alkalinity_mg_per_l_caco3=0, ph=6)
    mix = mixture(water, [], None, 25.0, CLOSED)
    assert mix.ec_ms_per_cm == pytest.approx(0.5, abs=1e-6)
    assert mix.ec_at_temperature_ms_per_cm == pytest.approx(0.5, abs=1e-6)


def test_oversaturated_solids_are_cautioned_but_slow_ones_are_not():
    notes = Notes()
    hard = known_water("hard_tap", catalogue(), Notes())
    parts = [part("monopotassium_phosphate", 0.3), part("calcium_nitrate_tetrahydrate", 1.0)]
    base = acid_part(acid("potassium_hydroxide", mmol_per_l=2.0), Notes())
    mix = mixture(hard, parts, base, 25.0, CLOSED)
    solution_fields(mix, hard, notes)
    codes = [each["code"] for each in notes.cautions]
    assert "brushite_may_form" in codes
    assert "calcite_may_form" in codes
    assert mix.saturation["hydroxyapatite"] > 0.0
    assert not any("hydroxyapatite" in each["message"].lower() for each in notes.cautions)


def test_water_is_pure_when_none_is_named_and_that_is_said():
    notes = Notes()
    water = known_water(None, catalogue(), notes)
    assert [each["code"] for each in notes.assumptions] == ["water_pure_assumed"]
    assert notes.cautions == []
    assert mixture(water, [], None, 25.0, CLOSED).ph == pytest.approx(5.6, abs=0.03)
    assert water.composition_mmol_per_l.shape == (COMPONENT_COUNT,)


def test_notes_on_a_water_name_the_field_that_it_stands_in():
    notes = Notes()
    analysis = SimpleNamespace(**{**dict.fromkeys(rows.WATER_FIELDS), "sodium_mg_per_l": 200.0})
    known_water(analysis, catalogue(), notes, "waters.1")
    fields = {each["code"]: each["field"] for each in notes.cautions}
    assert fields["sodium_high"] == "waters.1.sodium_mg_per_l"
    assert fields["water_analysis_incomplete"] == "waters.1"


def test_contradicting_analysis_is_refused():
    with pytest.raises(RefusalError) as refusal:
        water_of(nitrate_mg_per_l=50, nitrate_nitrogen_mg_per_l=50)
    assert refusal.value.notice.code == "conflicting_water_forms"
    assert refusal.value.notice.field == "water"


def test_ph_alone_does_not_make_a_water_unsolvable():
    water, notes = water_of(ph=7.0, ec_ms_per_cm=0.5)
    assert water.ec_ms_per_cm == pytest.approx(0.5)
    assert notes.assumptions == []
    assert "alkalinity_unknown" in {each["code"] for each in notes.cautions}
