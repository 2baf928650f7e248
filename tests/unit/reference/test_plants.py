import copy
from typing import Any

import pytest

from service.chemistry.product import product_catalogue, product_compositions
from service.reference import plants as plants_module
from service.reference.components import ELEMENT_NAMES
from service.reference.elements import ELEMENT_MATRIX
from service.reference.plants import (
    MICRONUTRIENTS,
    SIZES,
    default_plant,
    plant_profile,
    plants,
    weakest_plant,
)
from service.reference.tables import ReferenceDataError


def test_profiles_are_there() -> None:
    assert set(plants()) == {
        "moth_orchid",
        "cattleya",
        "dendrobium",
        "vanda",
        "paphiopedilum",
        "oncidium",
        "disa",
    }


def test_moth_orchid_is_assumed_when_no_plant_is_named() -> None:
    profile = default_plant()
    assert profile.key == "moth_orchid"
    assert {size: profile.meter_ceilings_ppm[size].value for size in SIZES} == {
        "large": 800.0,
        "medium": 600.0,
        "mini": 300.0,
    }
    assert profile.nitrogen_ceiling_mg_per_l.value == 200.0
    assert profile.nitrogen_ceiling_mg_per_l.provenance.source == "wang-chang-2017"
    assert (profile.ph.low, profile.ph.high) == (5.5, 6.5)
    assert profile.sodium_caution_mg_per_l.value == 34.0
    assert profile.chloride_caution_mg_per_l.value == 53.0


@pytest.mark.parametrize("key", list(plants()))
def test_weakest_profile_has_the_lowest_ceilings(key: str) -> None:
    profile, weakest = plants()[key], weakest_plant()
    assert weakest.ec_ceiling_ms_per_cm.value <= profile.ec_ceiling_ms_per_cm.value
    assert weakest.nitrogen_ceiling_mg_per_l.value <= profile.nitrogen_ceiling_mg_per_l.value
    for size in SIZES:
        ours, theirs = weakest.meter_ceilings_ppm[size], profile.meter_ceilings_ppm[size]
        assert ours.value <= theirs.value


@pytest.mark.parametrize("key", list(plants()))
def test_smaller_plants_get_weaker_feed(key: str) -> None:
    ceilings = plants()[key].meter_ceilings_ppm
    assert ceilings["large"].value > ceilings["medium"].value > ceilings["mini"].value


@pytest.mark.parametrize("key", list(plants()))
def test_meter_ceiling_of_the_strictest_scale_is_within_the_conductivity_ceiling(key: str) -> None:
    profile = plants()[key]
    large = profile.meter_ceilings_ppm["large"].value
    assert large / 700.0 <= profile.ec_ceiling_ms_per_cm.value


@pytest.mark.parametrize("key", list(plants()))
def test_cool_share_is_stricter(key: str) -> None:
    profile = plants()[key]
    warm, cool = profile.ammonium_and_urea_share_max, profile.ammonium_and_urea_share_max_cool
    assert (warm.value, cool.value) == (0.5, 0.25)
    assert profile.cool_below_celsius.value == 18.0


@pytest.mark.parametrize(
    "key", [key for key, product in product_catalogue().items() if product.kind == "feed"]
)
def test_no_ordinary_feed_at_150_mg_per_l_nitrogen_passes_a_micronutrient_maximum(
    key: str,
) -> None:
    elements = dict(zip(ELEMENT_NAMES, ELEMENT_MATRIX @ product_compositions()[key], strict=True))
    grams_per_litre = 150.0 / elements["nitrogen"]
    for name in MICRONUTRIENTS:
        limit = default_plant().micronutrient_maxima_mg_per_l[name].value
        assert elements[name] * grams_per_litre <= limit


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("moth_orchid", "moth_orchid"),
        ("Moth orchid", "moth_orchid"),
        ("Phalaenopsis", "moth_orchid"),
        (" miltonia ", "oncidium"),
        ("LAELIA", "cattleya"),
    ],
)
def test_plant_is_found_by_profile_or_genus(name: str, key: str) -> None:
    choice = plant_profile(name)
    assert choice.known
    assert choice.profile.key == key
    assert choice.hint == ""


def test_unknown_plant_gets_the_weakest_profile_and_a_hint() -> None:
    choice = plant_profile("phalenopsis")
    assert not choice.known
    assert choice.profile is weakest_plant()
    assert "phalaenopsis" in choice.hint


def test_plant_like_nothing_known_gets_no_hint() -> None:
    assert plant_profile("zz").hint == ""


def change(path: str, value: object) -> Any:
    document = copy.deepcopy(plants_module._document())
    node = document
    *folders, last = path.split(".")
    for name in folders:
        node = node[name]
    if value is None:
        del node[last]
    else:
        node[last] = value
    return document


@pytest.mark.parametrize(
    ("path", "value", "phrase"),
    [
        ("settings.weakest_profile", "cactus", "names no profile"),
        ("profiles.disa.ec_ceiling_ms_per_cm", None, "lacks ec_ceiling_ms_per_cm"),
        ("profiles.disa.ec_ceiling_ms_per_cm.value", -1, "must be above 0"),
        ("profiles.disa.ec_ceiling_ms_per_cm.value", "0.2", "must be a number"),
        ("profiles.disa.ec_ceiling_ms_per_cm.value", True, "must be a number"),
        ("profiles.disa.ec_ceiling_ms_per_cm.basis", "hunch", "must be one of"),
        ("profiles.disa.ec_ceiling_ms_per_cm.source", "rumour", "unknown source"),
        ("profiles.disa.ec_ceiling_ms_per_cm.locator", "", "is required with a source"),
        ("profiles.disa.ranges.ec_ms_per_cm.low", 3.0, "low must not be above high"),
        ("profiles.disa.meter_ceilings_ppm.mini", None, "must be a number"),
        ("profiles.disa.ec_ceiling", {}, "did you mean ec_ceiling_ms_per_cm"),
        ("defaults.micronutrient_maxima_mg_per_l.copper", None, "copper"),
    ],
)
def test_wrong_profile_is_an_error_that_names_its_place(
    monkeypatch: pytest.MonkeyPatch, path: str, value: object, phrase: str
) -> None:
    document = change(path, value)
    monkeypatch.setattr(plants_module, "_document", lambda: document)
    with pytest.raises(ReferenceDataError, match=phrase):
        plants.__wrapped__()
