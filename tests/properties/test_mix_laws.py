"""Laws of mixes, blends and readings, whatever goes into them."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.chemistry.equilibrium import CLOSED
from service.chemistry.meter import SCALE_NAMES, meter_reading
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.prepared_litre import prepared_litre
from service.chemistry.solution_density import concentration_from_molality, dissolved_mass
from service.planning.catalogue import catalogue
from service.planning.known_water import known_water
from service.planning.mix_parts import acid_part, mix_part
from service.planning.notes import Notes, RefusalError
from service.planning.reading import reference_reading
from service.planning.solution import mixture
from service.planning.water_blend import bounds_of, largest_share
from service.planning.water_pair import LINEAR, WaterPair
from service.reference.components import COMPONENT_COUNT, UNMEASURED

PRESETS = sorted(catalogue().water_rows)
SALTS = (
    "calcium_nitrate_tetrahydrate", "potassium_nitrate", "magnesium_sulfate_heptahydrate",
    "monopotassium_phosphate", "ammonium_sulfate", "urea", "feed_20_20_20", "feed_15_0_15",
)  # fmt: skip
KNOWN_WATERS = {preset: known_water(preset, catalogue(), Notes()) for preset in PRESETS}

waters = st.sampled_from(PRESETS).map(KNOWN_WATERS.__getitem__)
grams = st.lists(st.tuples(st.sampled_from(SALTS), st.floats(0.0, 3.0)), min_size=0, max_size=4)
pressures = st.sampled_from([CLOSED, ATMOSPHERIC_CARBON_DIOXIDE])
celsius = st.floats(0.0, 40.0)


def part(key, amount):
    known = catalogue()
    row = known.product_rows[known.product_positions[key]]
    return mix_part(row, amount, None, None, "additions.0", Notes())


def mixed(water, listed, temperature, pressure, acid=None):
    try:
        return mixture(water, [part(*each) for each in listed], acid, temperature, pressure)
    except RefusalError:
        assume(False)
        raise


def same(first, second):
    assert {name: plain(value) for name, value in vars(first).items()} == {
        name: plain(value) for name, value in vars(second).items()
    }


def plain(value):
    """Return an array as a list, which compares as one."""
    return value.tolist() if isinstance(value, np.ndarray) else value


@settings(max_examples=40, deadline=None)
@given(waters, grams, celsius, pressures, st.randoms(use_true_random=False))
def test_order_of_additions_does_not_matter(water, listed, temperature, pressure, random):
    shuffled = random.sample(listed, len(listed))
    same(mixed(water, listed, temperature, pressure), mixed(water, shuffled, temperature, pressure))


@settings(max_examples=40, deadline=None)
@given(waters, grams, st.sampled_from(SALTS), celsius, pressures)
def test_adding_nothing_changes_nothing(water, listed, salt, temperature, pressure):
    nothing = acid_part(
        SimpleNamespace(kind="nitric", percent=60, ml_per_l=None, g_per_l=None, mmol_per_l=0.0),
        Notes(),
    )
    same(
        mixed(water, listed, temperature, pressure),
        mixed(water, [*listed, (salt, 0.0)], temperature, pressure, nothing),
    )


@settings(max_examples=40, deadline=None)
@given(waters, grams, celsius)
def test_elements_do_not_depend_on_temperature_or_air(water, listed, temperature):
    closed = mixed(water, listed, 25.0, CLOSED)
    opened = mixed(water, listed, temperature, ATMOSPHERIC_CARBON_DIOXIDE)
    assert opened.elements_mg_per_l == closed.elements_mg_per_l
    assert opened.alkalinity_mg_per_l_caco3 == pytest.approx(closed.alkalinity_mg_per_l_caco3)


@settings(max_examples=40, deadline=None)
@given(waters, grams, celsius, pressures)
def test_ranges_hold_the_figure_and_nothing_is_negative(water, listed, temperature, pressure):
    mix = mixed(water, listed, temperature, pressure)
    if mix.ec_low_ms_per_cm is not None:
        assert 0.0 <= mix.ec_low_ms_per_cm <= mix.ec_ms_per_cm <= mix.ec_high_ms_per_cm
    assert mix.ec_ms_per_cm > 0.0
    assert all(amount > 0.0 for amount in mix.ions_mmol_per_l.values())
    assert all(amount >= 0.0 for amount in mix.elements_mg_per_l.values())


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0.0, 300.0), min_size=COMPONENT_COUNT, max_size=COMPONENT_COUNT),
    st.floats(273.15, 313.15),
)
def test_prepared_litre_holds_what_was_weighed_into_it(amounts, kelvin):
    added = np.array(amounts)
    added[UNMEASURED] = 0.0
    composition = np.zeros(COMPONENT_COUNT)
    content = prepared_litre(np.zeros(COMPONENT_COUNT), added, kelvin, composition)
    assume(not np.isnan(content))
    density = content * (1.0 + dissolved_mass(composition))
    for amount, molality in zip(added, composition, strict=True):
        back = concentration_from_molality(molality, dissolved_mass(composition), density)
        assert back == pytest.approx(amount, rel=1e-9, abs=1e-12)


@settings(max_examples=30, deadline=None)
@given(waters, waters, st.floats(0.0, 1.0))
def test_blend_lies_between_its_waters_and_equals_them_at_the_ends(first, second, share):
    pair = WaterPair(first, second)
    for name in LINEAR:
        ends = sorted([pair.value(name, 0.0), pair.value(name, 1.0)])
        slack = 1e-9 * ends[1] + 1e-12
        assert ends[0] - slack <= pair.value(name, share) <= ends[1] + slack
    assert pair.analysis(1.0) == WaterPair(first, first).analysis(1.0)
    assert pair.analysis(0.0) == WaterPair(second, second).analysis(0.0)
    assert pair.conductivity(1.0) == pytest.approx(first.ec_ms_per_cm, rel=1e-9)
    assert pair.conductivity(0.0) == pytest.approx(second.ec_ms_per_cm, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(
    waters,
    waters,
    st.dictionaries(st.sampled_from([*LINEAR[:9], "ec_ms_per_cm"]), st.floats(0.01, 100.0)),
)
def test_share_keeps_every_limit_and_a_larger_one_does_not(first, second, limits):
    pair = WaterPair(first, second)
    blend = largest_share(pair, bounds_of(limits, {}))
    if not blend.feasible:
        assert blend.conflicts
        return
    for name, limit in limits.items():
        assert pair.value(name, blend.share) <= limit + 1e-8 * max(limit, 1.0)
    if blend.share < 1.0 - 1e-3:
        name = blend.binding.removeprefix("limits.")
        assert pair.value(name, blend.share + 2e-4) > limits[name] - 1e-8


@settings(max_examples=100, deadline=None)
@given(st.floats(0.0, 60.0), st.sampled_from(SCALE_NAMES), st.sampled_from(SCALE_NAMES))
def test_scales_of_a_meter_lead_back_to_the_same_conductivity(conductivity, one, other):
    def read(**given):
        names = ("ec_ms_per_cm", "ppm", "scale", "temperature_celsius", "compensated")
        return reference_reading(SimpleNamespace(**{**dict.fromkeys(names), **given}), Notes())[0]

    first = meter_reading(SCALE_NAMES.index(one), conductivity)
    second = meter_reading(SCALE_NAMES.index(other), read(ppm=first, scale=one))
    assert read(ppm=second, scale=other) == pytest.approx(conductivity, rel=1e-9, abs=1e-12)
