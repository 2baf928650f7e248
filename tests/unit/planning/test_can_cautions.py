"""Every caution of a finished can, on this side of its limit and on the other."""

import math
from typing import Any

import numpy as np
import pytest

from service.planning import products, profiles, rows
from service.planning.can_cautions import can_cautions
from service.planning.catalogue import catalogue
from service.planning.cautions import CAUTIONS, assumption_bit, notices
from service.planning.profiles import AMMONIUM_SHARE, PH_HIGH, PH_LOW, SIZE_METER_PPM
from service.reference.components import AMMONIUM, ELEMENT_NAMES, NITRATE, UREA
from service.reference.plants import MICRONUTRIENTS

NITROGEN_MASS = 14.0067
CALCIUM_MASS, MAGNESIUM_MASS = 40.078, 24.305
PRODUCT = catalogue().product_positions["feed_15_5_15_ca_mg"]
ELEMENTS = {"calcium": 60.0, "magnesium": 20.0, "nitrogen": 100.0}
CASE = dict[str, Any]


def profile(**changed: float) -> np.ndarray:
    """Return a plant with round limits."""
    values = catalogue().profile_table[catalogue().default_profile].copy()
    values[PH_LOW], values[PH_HIGH], values[AMMONIUM_SHARE] = 5.5, 6.5, 0.3
    values[SIZE_METER_PPM : SIZE_METER_PPM + 3] = 800.0
    first = profiles.FIRST_MICRONUTRIENT_MAXIMUM
    values[first : first + len(MICRONUTRIENTS)] = 1.0
    for name, value in changed.items():
        values[int(name.removeprefix("column_"))] = value
    return values


def said(
    row: CASE | None = None,
    result: CASE | None = None,
    *,
    elements: CASE | None = None,
    holds: dict[int, float] | None = None,
    water_holds: dict[int, float] | None = None,
    water: CASE | None = None,
    product: CASE | None = None,
    of: np.ndarray | None = None,
) -> set[str]:
    """Return what is said of a can of which nothing would be said as it stands."""
    asked, found = rows.empty_requests(1), rows.empty_results(1)
    asked["limited"], asked["product_count"] = 0, 1
    asked["application"] = rows.APPLICATIONS.index("feed")
    asked["setup"] = rows.SETUPS.index("wet_dry_pot")
    asked["size"] = rows.SIZES.index("large")
    asked["growth"] = rows.GROWTHS.index("active")
    asked["humidity_percent"] = 60.0
    asked["product"][:, 0] = PRODUCT
    found["saturation"] = found["saturation_open"] = -1.0
    found["predicted_ph"] = found["predicted_ph_open"] = 6.0
    found["ph_spread"], found["volume_l"] = 0.1, 10.0
    found["composition_mmol_per_l"] = found["water_composition_mmol_per_l"] = 0.0
    found["elements_mg_per_l"] = 0.0
    found["water_alkalinity_mg_per_l_caco3"] = 90.0
    for name in ("acid_mmol_per_l", "acid_nitrogen_mg_per_l", "acid_volume_ml"):
        found[name] = 0.0
    for name in ("air_meter_ppm", "meter_ppm", "ec_ceiling_ms_per_cm"):
        found[name] = 700.0
    found["growth_factor"] = 1.0
    found["ammonium_ceiling_mg_per_l"], found["nitrogen_ceiling_mg_per_l"] = 50.0, 100.0
    for element, value in {**ELEMENTS, **(elements or {})}.items():
        found["elements_mg_per_l"][:, ELEMENT_NAMES.index(element)] = value
    for component, value in (holds or {NITRATE: 100.0 / NITROGEN_MASS}).items():
        found["composition_mmol_per_l"][:, component] = value
    for component, value in (water_holds or {}).items():
        found["water_composition_mmol_per_l"][:, component] = value
    for name, value in (water or {}).items():
        asked["water"][:, rows.WATER_FIELDS.index(name)] = value
    for name, value in (row or {}).items():
        asked[name] = value
    for name, value in (result or {}).items():
        found[name] = value
    table = catalogue().product_table.copy()
    for column in (products.IS_OXIDISER, products.FORMS_UNKNOWN, products.IS_LABEL):
        table[PRODUCT, column] = 0.0
    for name, value in (product or {}).items():
        table[PRODUCT, getattr(products, name)] = value
    can_cautions(asked[0], table, profile() if of is None else of, found[0])
    return {each.code for each in notices(int(found["cautions"][0]), CAUTIONS)}


def test_of_a_can_within_all_limits_nothing_is_said() -> None:
    assert said() == set()
    assert said({"limited": 1}) == set()


def test_what_was_said_before_stays_said() -> None:
    bit = np.uint64(1) << np.uint64([each.code for each in CAUTIONS].index("cold_water"))
    assert said(result={"cautions": bit}) == {"cold_water"}


@pytest.mark.parametrize("place", range(len(rows.SOLIDS_IN_ANSWERS)))
def test_each_solid_is_named_where_it_can_form_and_once(place: int) -> None:
    solid = rows.SOLIDS_IN_ANSWERS[place]
    closed, in_air = np.full((2, len(rows.SOLIDS_IN_ANSWERS)), -0.001)
    in_air[place] = 0.001
    assert said(result={"saturation": closed, "saturation_open": in_air}) == {
        f"{solid}_may_form_open"
    }
    closed[place] = 0.001
    assert said(result={"saturation": closed, "saturation_open": in_air}) == {f"{solid}_may_form"}
    closed[place] = in_air[place] = 0.0
    assert said(result={"saturation": closed, "saturation_open": in_air}) == set()


@pytest.mark.parametrize("element", MICRONUTRIENTS)
def test_each_micronutrient_has_its_own_maximum(element: str) -> None:
    assert said(elements={element: 1.0}) == set()
    assert said(elements={element: 1.0 + 1e-10}) == set()
    assert said(elements={element: 1.0 + 1e-6}) == {f"{element}_high"}
    column = profiles.FIRST_MICRONUTRIENT_MAXIMUM + MICRONUTRIENTS.index(element)
    of = profile(**{f"column_{column}": 3.0})
    assert said(elements={element: 2.9}, of=of) == set()
    assert said(elements={element: 3.1}, of=of) == {f"{element}_high"}


SHARE = 100.0 / NITROGEN_MASS
NITRATE_ALONE = {NITRATE: SHARE}


@pytest.mark.parametrize(
    ("within", "beyond", "expected"),
    [
        ({"elements": {"calcium": 20.0}}, {"elements": {"calcium": 19.9}}, "calcium_missing"),
        ({"elements": {"magnesium": 8.0}}, {"elements": {"magnesium": 7.9}}, "magnesium_missing"),
        (
            {"holds": {AMMONIUM: 0.299 * SHARE}},
            {"holds": {AMMONIUM: 0.301 * SHARE}},
            "ammonium_and_urea_share_high",
        ),
        # A urea molecule has two nitrogens: 5 mmol in 100 are a tenth of the nitrogen.
        (
            {"holds": {UREA: 0.0499 * SHARE}},
            {"holds": {UREA: 0.0501 * SHARE}},
            "urea_not_on_the_meter",
        ),
        (
            {"row": {"limited": 1}, "holds": {AMMONIUM: 0.499 * SHARE}},
            {"row": {"limited": 1}, "holds": {AMMONIUM: 0.501 * SHARE}},
            "ammonium_and_urea_share_high",
        ),
        ({"product": {"IS_OXIDISER": 0.0}}, {"product": {"IS_OXIDISER": 1.0}}, "oxidiser"),
        (
            {"product": {"FORMS_UNKNOWN": 0.0}},
            {"product": {"FORMS_UNKNOWN": 1.0}},
            "forms_of_nitrogen_unknown",
        ),
        ({"product": {"IS_LABEL": 0.0}}, {"product": {"IS_LABEL": 1.0}}, "conductivity_from_label"),
        (
            {"result": {"predicted_ph": 6.5, "predicted_ph_open": 6.5}},
            {"result": {"predicted_ph": 6.51, "predicted_ph_open": 6.51}},
            "ph_at_edge_of_window",
        ),
        (
            {"result": {"predicted_ph": 5.5, "predicted_ph_open": 5.5}},
            {"result": {"predicted_ph": 5.49, "predicted_ph_open": 5.49}},
            "ph_at_edge_of_window",
        ),
        (
            {"result": {"predicted_ph_open": 6.49}},
            {"result": {"predicted_ph_open": 6.51}},
            "ph_drifts_in_air",
        ),
        (
            {"result": {"predicted_ph_open": 5.51}},
            {"result": {"predicted_ph_open": 5.49}},
            "ph_drifts_in_air",
        ),
        ({"result": {"ph_spread": 0.5}}, {"result": {"ph_spread": 0.51}}, "ph_uncertain"),
        (
            {"row": {"acid_kind": 1}, "result": {"acid_mmol_per_l": 0.968}},
            {"row": {"acid_kind": 1}, "result": {"acid_mmol_per_l": 0.969}},
            "acid_phosphorus_large",
        ),
        (
            {"result": {"acid_volume_ml": 100.0}},
            {"result": {"acid_volume_ml": 100.1}},
            "acid_share_large",
        ),
        (
            {"row": {"limited": 1, "humidity_percent": 99.5}},
            {"row": {"limited": 1, "humidity_percent": 99.6}},
            "humidity_at_end_of_scale",
        ),
        (
            {"row": {"limited": 1, "humidity_percent": 2.0}},
            {"row": {"limited": 1, "humidity_percent": 1.9}},
            "humidity_at_end_of_scale",
        ),
    ],
)
def test_a_limit_is_kept_up_to_it_and_passed_beyond(
    within: CASE, beyond: CASE, expected: str
) -> None:
    assert said(**within) == set()
    assert said(**beyond) == {expected}


@pytest.mark.parametrize(("ph", "side"), [(7.0, 1.0), (5.0, -1.0)])
def test_half_a_unit_beyond_the_window_is_a_warning(ph: float, side: float) -> None:
    near, far = ph - 0.01 * side, ph + 0.01 * side
    at_edge = said(result={"predicted_ph": near, "predicted_ph_open": near})
    outside = said(result={"predicted_ph": far, "predicted_ph_open": far})
    assert (at_edge, outside) == ({"ph_at_edge_of_window"}, {"ph_outside_window"})


def test_without_a_ph_nothing_is_said_of_it() -> None:
    unknown = {"predicted_ph": math.nan, "predicted_ph_open": math.nan, "ph_spread": 9.0}
    assert said(result=unknown) == set()


def test_of_next_to_no_nitrogen_no_share_is_taken() -> None:
    assert said(elements={"nitrogen": 1.0}, holds={AMMONIUM: 1.0 / NITROGEN_MASS}) == set()
    assert said(elements={"nitrogen": 1.1}, holds={AMMONIUM: 1.1 / NITROGEN_MASS}) == {
        "ammonium_and_urea_share_high"
    }


def test_urea_is_lost_on_a_mount_alone() -> None:
    holds = {UREA: 0.06 * SHARE}
    mount = {"setup": rows.SETUPS.index("mount")}
    assert said(mount, holds=holds) == {"urea_not_on_the_meter", "urea_lost_on_mount"}
    assert said(mount, holds={UREA: 0.049 * SHARE}) == set()


DEGREES = {"alkalinity_mg_per_l_caco3": 35.0}
ODD = {"water_charge_error_percent": 25.1, "water_ec_ms_per_cm": 0.31}


def test_an_alkalinity_that_may_be_degrees_needs_all_three_signs() -> None:
    assert said(result=ODD, water=DEGREES) == {"alkalinity_may_be_degrees"}
    assert said(result=ODD, water={"alkalinity_mg_per_l_caco3": 35.1}) == set()
    assert said(result=ODD) == set()
    for name, usual in (("water_charge_error_percent", 25.0), ("water_ec_ms_per_cm", 0.3)):
        assert said(result={**ODD, name: usual}, water=DEGREES) == set()


UNASKED = {"assumptions": assumption_bit("target_ph_from_window")}


@pytest.mark.parametrize(
    ("target", "acid", "expected"),
    [
        (6.0, 0.0, {"no_acid_needed"}),
        (5.81, 0.0, {"no_acid_needed"}),
        (5.79, 0.0, {"target_not_reached"}),
        (6.19, 0.0, {"no_acid_needed"}),
        (6.21, 0.0, {"target_not_reached"}),
        (6.0, 0.5, set()),
        (5.81, 0.5, set()),
        (5.79, 0.5, {"target_not_reached"}),
    ],
)
def test_a_target_is_met_within_a_fifth_of_a_unit(
    target: float, acid: float, expected: set[str]
) -> None:
    assert said({"target_ph": target, "acid_kind": 0}, {"acid_mmol_per_l": acid}) == expected


def test_a_target_that_nobody_asked_for_is_met_by_the_whole_window() -> None:
    assert said({"target_ph": 5.5}, UNASKED) == {"no_acid_needed"}
    assert said({"target_ph": 5.5, "acid_kind": 0}, {**UNASKED, "acid_mmol_per_l": 0.1}) == {
        "target_not_reached"
    }


FLUSH = {"application": rows.APPLICATIONS.index("flush")}


def test_a_flush_with_much_acid_feeds() -> None:
    assert said(FLUSH, {"acid_nitrogen_mg_per_l": 10.0}) == set()
    assert said(FLUSH, {"acid_nitrogen_mg_per_l": 10.1}) == {"flush_acid_feeds"}
    assert said(result={"acid_nitrogen_mg_per_l": 10.1}) == set()
    # Phosphorus is 30.974 mg in a millimole.
    phosphoric = {**FLUSH, "acid_kind": rows.ACID_KINDS.index("phosphoric")}
    assert said(phosphoric, {"acid_mmol_per_l": 0.322}) == set()
    assert said(phosphoric, {"acid_mmol_per_l": 0.324}) == {"flush_acid_feeds"}


LIMITED = {"limited": 1}


@pytest.mark.parametrize(
    ("alkalinity", "reduced", "expected"),
    [
        (121.0, 0.149, {"basic_feed_in_hard_water"}),
        (120.0, 0.149, set()),
        (121.0, 0.151, set()),
        (59.0, 0.401, {"acid_feed_in_soft_water"}),
        (60.0, 0.401, set()),
        (59.0, 0.399, set()),
        (math.nan, 0.1, set()),
        (math.nan, 0.45, set()),
    ],
)
def test_the_reaction_of_a_feed_suits_its_water(
    alkalinity: float, reduced: float, expected: set[str]
) -> None:
    result = {"water_alkalinity_mg_per_l_caco3": alkalinity}
    holds = {AMMONIUM: reduced * SHARE}
    assert said(LIMITED, result, holds=holds) == expected
    # Of a dilution nothing is advised, nor of 20 mg/L of nitrogen.
    assert said(None, result, holds=holds, of=profile(**{f"column_{AMMONIUM_SHARE}": 1.0})) == set()
    little = {AMMONIUM: reduced * 20.0 / NITROGEN_MASS}
    assert said(LIMITED, result, holds=little, elements={"nitrogen": 20.0}) == set()


def test_acid_takes_the_bases_of_hard_water() -> None:
    result = {"water_alkalinity_mg_per_l_caco3": 121.0, "acid_mmol_per_l": 0.1}
    assert said({**LIMITED, "acid_kind": 0}, result) == set()


SUPPLEMENT = {**LIMITED, "application": rows.APPLICATIONS.index("supplement")}


@pytest.mark.parametrize(
    ("calcium", "magnesium", "expected"),
    [(60.1, 10.1, {"water_supplements"}), (59.9, 10.1, set()), (60.1, 9.9, set())],
)
def test_a_water_with_enough_of_both_needs_no_supplement(
    calcium: float, magnesium: float, expected: set[str]
) -> None:
    water = {0: calcium / CALCIUM_MASS, 1: magnesium / MAGNESIUM_MASS}
    assert said(SUPPLEMENT, water_holds=water) == expected
    assert said(LIMITED, water_holds=water) == set()


def test_a_supplement_is_split_for_minis_alone() -> None:
    mini = {"size": rows.SIZES.index("mini")}
    assert said({**SUPPLEMENT, **mini}) == {"split_supplement_for_mini"}
    assert said({**LIMITED, **mini}) == set()


def test_air_growth_and_reservoir_are_spoken_of() -> None:
    setup, refill = rows.SETUPS.index("semi_hydroponic_pot"), rows.REFILLS.index("topped_up")
    assert said({**LIMITED, "setup": setup, "refill": refill}) == {"salt_gathers_in_reservoir"}
    assert said({**LIMITED, "setup": setup, "refill": 0}) == set()
    assert said({**LIMITED, "refill": refill}) == set()
    spiking = {"growth": rows.GROWTHS.index("spike_initiation")}
    stimulant = {"application": rows.APPLICATIONS.index("stimulant")}
    assert said({**LIMITED, **spiking, **stimulant}) == {"stimulant_while_spikes_set"}
    assert said({**LIMITED, **spiking}) == said({**LIMITED, **stimulant}) == set()


@pytest.mark.parametrize(
    ("today", "usual", "far"),
    [(2.01, 1.0, True), (1.99, 1.0, False), (1.0, 2.01, True), (1.0, 1.99, False),
     (9.0, math.nan, False)],
)  # fmt: skip
def test_a_reading_of_twice_the_usual_deficit_or_half_is_questioned(
    today: float, usual: float, far: bool
) -> None:
    result = {"limiting_deficit_kpa": today, "average_deficit_kpa": usual}
    assert said(LIMITED, result) == ({"reading_far_from_usual"} if far else set())


def test_where_the_air_leaves_less_than_150_ppm_plain_water_is_advised() -> None:
    # 150 meter ppm for a plant that bears 800; a quarter as much for one that bears 200.
    assert said(LIMITED, {"air_meter_ppm": 150.0}) == set()
    assert said(LIMITED, {"air_meter_ppm": 149.9}) == {"dry_air"}
    tender = profile(**{f"column_{SIZE_METER_PPM}": 200.0})
    assert said(LIMITED, {"air_meter_ppm": 37.6}, of=tender) == set()
    assert said(LIMITED, {"air_meter_ppm": 37.4}, of=tender) == {"dry_air"}
    for calm in (FLUSH, {"setup": rows.SETUPS.index("semi_hydroponic_pot")}):
        assert said({**LIMITED, **calm}, {"air_meter_ppm": 149.9}) == set()


def test_a_plant_that_hardly_grows_needs_no_feed_under_150_ppm() -> None:
    resting = {"growth_factor": 0.5, "meter_ppm": 149.9}
    assert said(LIMITED, resting) == {"plain_water_will_do"}
    assert said(LIMITED, {**resting, "meter_ppm": 150.0}) == set()
    assert said(LIMITED, {**resting, "growth_factor": 1.0}) == set()
    assert said(LIMITED, {**resting, "air_meter_ppm": 149.9}) == {"dry_air"}
    for other in ("supplement", "stimulant", "flush"):
        asked = {**LIMITED, "application": rows.APPLICATIONS.index(other)}
        assert said(asked, resting) == set()
