"""Laws that every planned can obeys, whatever the request."""

import itertools
import json
import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.chemistry.solution import conductivity_of_total, workspace
from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan
from service.reference.catalogue import products
from service.reference.components import AMMONIUM, COMPONENT_NAMES, NITRATE, UREA
from service.reference.formula import atomic_weights
from service.reference.plants import plants
from tests.mixing import Can, dilution, dose, filled, known_to, mixed
from tests.properties import strategies

WEIGHT = atomic_weights()
MICRONUTRIENTS = {
    "boron": ("B", ["borate"]),
    "copper": ("Cu", ["copper"]),
    "zinc": ("Zn", ["zinc"]),
    "manganese": ("Mn", ["manganese"]),
    "iron": ("Fe", ["iron", "iron_chelate"]),
    "molybdenum": ("Mo", ["molybdate"]),
}
OVERSHOOT = 1.0 + 1e-6
ACID_OVERSHOOT = 1.002
"""The acid of the rounded amounts differs a little from that of the exact ones."""


def composition_of(can: Can) -> np.ndarray:
    """Water, products and acid added up from the reference data alone."""
    total = np.array(can.result["water_composition_mmol_per_l"])
    for slot in range(int(can.row["product_count"])):
        key = can.catalogue.product_rows[can.row["product"][slot]].key
        product = products()[key]
        per_unit = product.composition_mmol_per_g
        amount = can.amount(slot) / can["volume_l"]
        if product.form == "liquid":
            per_unit = product.composition_mmol_per_ml
        if per_unit is None:
            per_unit = can.catalogue.product_table[can.row["product"][slot]][: total.size]
        total = total + amount * np.asarray(per_unit)
    if can["acid_mmol_per_l"] > 0.0:
        kind = rows.ACID_KINDS[can.row["acid_kind"]]
        ion = {"nitric": "nitrate", "phosphoric": "phosphate", "sulfuric": "sulfate"}
        total[COMPONENT_NAMES.index(ion.get(kind, "citrate"))] += can["acid_mmol_per_l"]
    return total


def deficit(humidity: float, celsius: float) -> float:
    """Vapour pressure deficit by the Magnus form [kPa], good to half a per cent."""
    return 0.61094 * np.exp(17.625 * celsius / (celsius + 243.04)) * (1 - humidity / 100)


@settings(max_examples=300, deadline=None)
@given(strategies.doses())
def test_no_ceiling_is_passed_after_rounding(request):
    can = dose(**request)
    if can.status != "ok":
        assert can.status == "infeasible" or can.problem != "forward_check_failed"
        return
    overshoot = ACID_OVERSHOOT if can["acid_mmol_per_l"] > 0.0 else OVERSHOOT
    total = composition_of(can)
    profile = plants()[request["plants"]["profile"]]
    share = can["meter_ppm"] / profile.meter_ceilings_ppm["large"].value
    nitrogen = WEIGHT["N"] * (total[AMMONIUM] + total[NITRATE] + 2 * total[UREA])
    ceiling = profile.nitrogen_ceiling_mg_per_l.value * share
    assert nitrogen <= overshoot * ceiling
    reduced = WEIGHT["N"] * (total[AMMONIUM] + 2 * total[UREA])
    air = request["air"]
    mean = air.get("average_temperature_celsius", air["temperature_celsius"])
    allowed = profile.ammonium_and_urea_share_max.value
    if mean <= 18.0:
        allowed = profile.ammonium_and_urea_share_max_cool.value
    assert reduced <= overshoot * allowed * ceiling
    for name, (symbol, components) in MICRONUTRIENTS.items():
        held = WEIGHT[symbol] * sum(total[COMPONENT_NAMES.index(each)] for each in components)
        assert held <= overshoot * profile.micronutrient_maxima_mg_per_l[name].value
    expected = conductivity_of_total(total, False, workspace())
    product = products()[request["product"]]
    stated = product.label_ec_ms_per_cm_at_100_mg_per_l_n
    if stated is not None:
        # A conductivity that the label states goes before the computed one.
        brought = np.array(can.catalogue.product_table[can.row["product"][0]][: total.size])
        brought *= can.amount() / can["volume_l"]
        fed = WEIGHT["N"] * (brought[AMMONIUM] + brought[NITRATE] + 2 * brought[UREA])
        expected = conductivity_of_total(total - brought, False, workspace()) + stated * fed / 100.0
    expected += can["unexplained_ec_ms_per_cm"]
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(expected, rel=1e-6)
    conductivity = profile.ec_ceiling_ms_per_cm.value
    chosen = rows.APPLICATIONS[can.row["application"]]
    if chosen == "feed":
        conductivity = min(conductivity, profile.meter_ceilings_ppm["large"].value / 700)
        conductivity = min(
            conductivity, profile.meter_ceilings_ppm[request["plants"]["size"]].value / 700
        )
    else:
        conductivity = min(conductivity, 300 / 700)
    if request["plants"]["setup"] != "semi_hydroponic_pot":
        driest = max(
            deficit(air["humidity_percent"], air["temperature_celsius"]),
            deficit(air["humidity_percent"], 22.0),
        )
        by_air = 678.0 / (driest + 0.264) * profile.meter_ceilings_ppm["large"].value / 800.0
        conductivity = min(conductivity, 1.006 * by_air / 700)
    assert can["predicted_ec_ms_per_cm"] <= overshoot * conductivity


@settings(max_examples=200, deadline=None)
@given(strategies.doses())
def test_amounts_are_finite_and_never_negative(request):
    can = dose(**request)
    if can.status == "rejected":
        return
    count = int(can.row["product_count"])
    for name in ("amount", "exact_amount", "pre_stock_ml"):
        amounts = can.result[name][:count]
        assert np.isfinite(amounts).all()
        assert (amounts >= 0.0).all()
    assert (can.result["amount"][:count] <= can.result["exact_amount"][:count] * 1.000001).all()
    for name in ("acid_mmol_per_l", "acid_mass_g", "predicted_ec_ms_per_cm"):
        assert can[name] >= 0.0


def strength_of(can: Can) -> float:
    """How much of the product the ceilings leave, per litre."""
    assert can.status != "rejected", can.problem
    return can.exact() / can["volume_l"]


open_doses = strategies.doses(fine=True, acid=False).map(
    lambda request: {key: value for key, value in request.items() if key != "strength"}
)


@settings(max_examples=150, deadline=None)
@given(open_doses, strategies.numbers(0.0, 60.0))
def test_drier_air_never_makes_it_stronger(request, drop):
    air = request["air"]
    left = air["humidity_percent"] - drop
    # A number up to 1 would be asked back as a fraction.
    drier = {**air, "humidity_percent": left if left > 1.0 else 0.0}
    assert (
        strength_of(dose(**{**request, "air": drier})) <= strength_of(dose(**request)) * OVERSHOOT
    )


@settings(max_examples=150, deadline=None)
@given(open_doses)
def test_smaller_plant_never_gets_it_stronger(request):
    by_size = [
        strength_of(dose(**{**request, "plants": {**request["plants"], "size": size}}))
        for size in rows.SIZES
    ]
    assert by_size[0] * OVERSHOOT >= by_size[1]
    assert by_size[1] * OVERSHOOT >= by_size[2]


@settings(max_examples=150, deadline=None)
@given(open_doses)
def test_later_phase_never_gets_it_stronger(request):
    by_growth = [
        strength_of(dose(**{**request, "plants": {**request["plants"], "growth": growth}}))
        for growth in rows.GROWTHS
    ]
    assert all(first * OVERSHOOT >= then for first, then in itertools.pairwise(by_growth))


@settings(max_examples=150, deadline=None)
@given(open_doses, strategies.numbers(0.05, 1.0))
def test_weaker_profile_never_gets_it_stronger(request, factor):
    base = plants()["moth_orchid"]
    own = {
        "ec_ceiling_ms_per_cm": factor * base.ec_ceiling_ms_per_cm.value,
        "nitrogen_ceiling_mg_per_l": factor * base.nitrogen_ceiling_mg_per_l.value,
        "ammonium_share_ceiling_percent": 100 * factor * base.ammonium_and_urea_share_max.value,
    }
    for name, limit in base.micronutrient_maxima_mg_per_l.items():
        own[name] = factor * limit.value
    known = known_to(profiles={"weaker": own})
    whole = {**request, "plants": {**request["plants"], "profile": "moth_orchid"}}
    weaker = {**request, "plants": {**request["plants"], "profile": "weaker"}}
    assert strength_of(dose(known, **weaker)) <= strength_of(dose(known, **whole)) * OVERSHOOT


@settings(max_examples=200, deadline=None)
@given(open_doses, st.sampled_from(["humidity_percent", "temperature_celsius"]))
def test_a_hair_of_air_is_a_hair_of_strength(request, name):
    air = request["air"]
    moved = {**air, name: air[name] + 0.01}
    first, second = dose(**request), dose(**{**request, "air": moved})
    pure = dose(**{**request, "water": "rain", "air": air})
    assume(pure.status != "rejected")
    largest = max(strength_of(first), strength_of(second), strength_of(pure))
    assert abs(strength_of(first) - strength_of(second)) <= 0.01 * largest


@settings(max_examples=150, deadline=None)
@given(strategies.doses(), strategies.numbers(1.5, 50.0))
def test_amounts_scale_with_the_volume_apart_from_rounding(request, factor):
    small = dose(**request)
    large = dose(**{**request, "volume_l": request["volume_l"] * factor})
    assume(small.status != "rejected")
    assert large.status == small.status
    assert large.exact() == pytest.approx(factor * small.exact(), rel=1e-9)
    assert large["share_of_requested"] == small["share_of_requested"]


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(strategies.NITROGENOUS),
    strategies.waters,
    strategies.numbers(20.0, 250.0),
    st.sampled_from(rows.COUNTS),
)
def test_nitrogen_that_is_asked_for_is_in_the_can(product, water, wanted, counts):
    assume(product != "seaweed_extract")
    strength = {"basis": "element", "element": "nitrogen", "mg_per_l": wanted, "counts": counts}
    can = dilution(
        product=product,
        strength=strength,
        water=water,
        volume_l=100,
        instruments=strategies.FINE,
    )
    assert can.status == "ok"
    brought = can["water_nitrogen_mg_per_l"]
    expected = wanted + brought if counts == "added" else max(wanted, brought)
    assert can.element("nitrogen") == pytest.approx(expected, rel=1e-4)


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(strategies.FEEDS),
    strategies.numbers(0.05, 3.0),
    st.sampled_from(["calcium", "magnesium", "potassium", "phosphorus", "sulfur", "boron", "iron"]),
)
def test_any_element_leads_back_to_the_amount(product, amount, element):
    liquid = catalogue().product_rows[catalogue().product_positions[product]].liquid
    strength = {"basis": "product", ("ml_per_l" if liquid else "g_per_l"): amount}
    more = {
        "product": product,
        "water": {"ec_ms_per_cm": 0.0},
        "volume_l": 10,
        "instruments": strategies.FINE,
    }
    first = dilution(**more, strength=strength)
    assume(first.status == "ok")
    assume(first.element(element) > 1e-6)
    back = dilution(
        **more,
        strength={"basis": "element", "element": element, "mg_per_l": first.element(element)},
    )
    assert back.exact() == pytest.approx(first.exact(), rel=1e-4)


@settings(max_examples=60, deadline=None)
@given(st.lists(strategies.doses(), min_size=2, max_size=8))
def test_row_alone_is_the_row_in_a_batch_bit_for_bit(requests):
    together = mixed(requests)
    for request, can in zip(requests, together, strict=True):
        assert dose(**request).result.tobytes() == can.result.tobytes()


@settings(max_examples=400, deadline=None)
@given(strategies.hostile_rows())
def test_hostile_row_is_refused_or_gives_a_sound_can(request):
    results = rows.empty_results(1)
    asked = request.copy()
    plan(asked, results, catalogue())
    can = Can(asked[0], results[0], catalogue())
    if can.status == "rejected":
        assert can.problem not in ("none", "forward_check_failed")
        return
    assert can.problem == "none"
    for slot in range(int(can.row["product_count"])):
        assert 0.0 <= can.amount(slot) < np.inf
    assert 0.0 <= can["predicted_ec_ms_per_cm"] < np.inf
    assert np.isfinite(can.result["elements_mg_per_l"]).all()
    assert (can.result["elements_mg_per_l"] >= 0.0).all()
    assert 0.0 < can["volume_l"] < np.inf
    if can.row["limited"] == 1 and can.row["product_count"] > 0 and can.status == "ok":
        assert can.element("nitrogen") <= 1.002 * can["nitrogen_ceiling_mg_per_l"]


@settings(max_examples=100, deadline=None)
@given(strategies.hostile_rows(), strategies.doses())
def test_hostile_row_does_not_disturb_its_neighbours(hostile, request):
    asked, results = filled([request] * 3, catalogue(), True)
    asked[1] = hostile[0]
    plan(asked, results, catalogue())
    alone = dose(**request)
    assert results[0].tobytes() == results[2].tobytes() == alone.result.tobytes()


HANDFUL = [
    {
        "product": "feed_20_20_20",
        "strength": {"basis": "element", "element": "nitrogen", "mg_per_l": 120},
        "water": "hard_tap",
        "volume_l": 10,
        "plants": {"size": "large"},
        "air": {"humidity_percent": 55, "temperature_celsius": 24},
        "acid": {"kind": "nitric"},
        "target_ph": 6.0,
    },
    {"product": "urea", "water": "rain", "volume_l": 3},
    {"product": "seaweed_extract", "water": "soft_tap", "volume_l": 3, "application": "auto"},
    {"product": "potassium_nitrate", "water": {"ph": 7.7, "ec_ms_per_cm": 0.3}, "volume_l": 0.5},
    {"product": "potassium_nitrate", "water": "hard_tap", "volume_l": 5},
    {
        "product": "potassium_nitrate",
        "strength": {"basis": "meter_ppm", "ppm": 400},
        "water": "soft_tap",
        "plants": {"count": 6, "pot_diameter_cm": 12, "size": "medium"},
    },
    {"product": "potassium_nitrate", "water": {"sodium_mg_per_l": float("nan")}, "volume_l": 5},
    {
        "product": "potassium_nitrate",
        "strength": {"basis": "element", "element": "nitrogen", "mg_per_l": float("nan")},
        "water": "rain",
        "volume_l": 5,
    },
    {
        "product": "potassium_nitrate",
        "water": "rain",
        "volume_l": 5,
        "air": {"humidity_percent": float("inf"), "temperature_celsius": 22},
    },
    {"product": "urea", "water": {"sodium_mg_per_l": -5.0}, "volume_l": 5},
]

REPORT = """
import json, sys
from tests.mixing import mixed
told = []
for can in mixed(json.loads(sys.stdin.read())):
    told.append({name: can.result[name].tolist() for name in can.result.dtype.names})
print(json.dumps(told))
"""


def test_compiled_and_plain_python_plan_alike():
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": os.getcwd()}
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", REPORT],
        input=json.dumps(HANDFUL),
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr[-2000:]
    for plain, can in zip(json.loads(run.stdout), mixed(HANDFUL), strict=True):
        for name, values in plain.items():
            compiled = can.result[name].tolist()
            if can.result[name].dtype.kind == "f":
                np.testing.assert_allclose(values, compiled, rtol=1e-9, atol=1e-12, err_msg=name)
            elif can.status != "rejected" or name in ("status", "problem"):
                assert values == compiled, name


@st.composite
def shared_cans(draw):
    """Return a dose of two to four products by amount, with an acid or without."""
    keys = draw(st.lists(st.sampled_from(strategies.FEEDS), min_size=2, max_size=4, unique=True))
    known = catalogue()
    mixture = []
    for key in keys:
        liquid = known.product_rows[known.product_positions[key]].liquid
        amount = "ml_per_l" if liquid else "g_per_l"
        strength = {"basis": "product", amount: draw(strategies.numbers(0.01, 3.0))}
        mixture.append({"product": key, "strength": strength})
    request = draw(strategies.doses())
    for name in ("product", "strength"):
        request.pop(name, None)
    return {**request, "products": mixture}


@settings(max_examples=150, deadline=None)
@given(shared_cans())
def test_products_that_share_a_can_keep_its_ceilings_and_their_proportion(request):
    can = dose(**request)
    assert can.problem != "forward_check_failed"
    assume(can.status == "ok")
    overshoot = ACID_OVERSHOOT if can["acid_mmol_per_l"] > 0.0 else OVERSHOOT
    total = composition_of(can)
    nitrogen = WEIGHT["N"] * (total[AMMONIUM] + total[NITRATE] + 2 * total[UREA])
    reduced = WEIGHT["N"] * (total[AMMONIUM] + 2 * total[UREA])
    assert nitrogen == pytest.approx(can.element("nitrogen"), rel=1e-6, abs=1e-9)
    assert nitrogen <= overshoot * can["nitrogen_ceiling_mg_per_l"]
    assert reduced <= overshoot * can["ammonium_ceiling_mg_per_l"]
    maxima = plants()[request["plants"]["profile"]].micronutrient_maxima_mg_per_l
    for name, (symbol, components) in MICRONUTRIENTS.items():
        held = WEIGHT[symbol] * sum(total[COMPONENT_NAMES.index(each)] for each in components)
        assert held <= overshoot * maxima[name].value
    shares = [
        can.exact(slot) / next(v for k, v in each["strength"].items() if k != "basis")
        for slot, each in enumerate(request["products"])
    ]
    assert shares == pytest.approx([shares[0]] * len(shares), rel=1e-9)
