"""Whatever is asked: a working can be followed line by line, and ends in the plain answer."""

import re
from typing import Any

from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from service.api.problems import ProblemError
from service.planning import rows
from tests.explanations import explained
from tests.following import faults_of, fields_of, numbers_of
from tests.properties.strategies import (
    NITROGENOUS,
    air,
    analyses,
    doses,
    instruments,
    numbers,
    plants,
    strengths,
    waters,
)

some = settings(max_examples=40, suppress_health_check=list(HealthCheck), derandomize=True)
few = settings(max_examples=12, suppress_health_check=list(HealthCheck), derandomize=True)

LEFT_OUT = re.compile(
    r".*\.order$|.*_count$|.*\.shelf_place$|.*meter_scale$|weeks\.\d+\.week$"
    r"|what_keeps_it_under\.\d+\.(every_weeks|feed_number|weaker_percent)$"
    r"|flush\.within_days$|split\.steps\..*|(published_ranges|range|alternative|dry_air_alternative)\..*"
)
SALTS = (
    "calcium_nitrate_tetrahydrate",
    "potassium_nitrate",
    "magnesium_sulfate_heptahydrate",
    "monopotassium_phosphate",
    "ammonium_sulfate",
    "potassium_sulfate",
)


def follow(name: str, body: dict[str, Any]) -> dict[str, Any]:
    """Hold a working against its plain answer; what is refused has none."""
    try:
        plain, working = explained(name, body)
    except (ProblemError, ValidationError):
        assume(False)
        raise
    assert faults_of(working) == []
    told = dict(numbers_of(plain))
    fields = fields_of(working)
    assert {field: told.get(field) for field in fields} == fields
    assert [each for each in told if each not in fields and not LEFT_OUT.fullmatch(each)] == []
    assert working["status"] == plain["status"]
    return working


@some
@given(doses())
@example({"product": "feed_20_20_20", "volume_l": 5.0, "water": "hard_tap",
          "plants": {"profile": "disa"}})  # fmt: skip
@example(
    {
        "product": "feed_15_5_15_ca_mg",
        "volume_l": 23.0,
        "water": "moderate_tap",
        "target_ph": 5.9,
        "acid": {"kind": "citric"},
        "instruments": {"largest_can_l": 9},
    }
)
@example({"application": "flush", "volume_l": 3.0, "water": {"ec_ms_per_cm": 0.4}})
@example({"products": [{"product": "calcium_magnesium_supplement",
                        "strength": {"basis": "product", "ml_per_l": 1.0}},
                       {"product": "feed_20_20_20",
                        "strength": {"basis": "meter_ppm", "ppm": 400.0}}],
          "volume_l": 8.0, "water": "rain"})  # fmt: skip
@example({"product": "feed_20_20_20", "plants": {"count": 12, "pot_diameter_cm": 11,
          "setup": "semi_hydroponic_pot", "refill": "topped_up"}})  # fmt: skip
@example({"product": "feed_20_20_20", "plants": {"count": 4, "setup": "mount"}, "water": "rain",
          "target_ph": 6.5, "acid": {"kind": "potassium_bicarbonate"}})  # fmt: skip
def test_dose(body: dict[str, Any]) -> None:
    follow("doses", body)


@some
@given(st.data(), st.sampled_from(NITROGENOUS), waters, numbers(0.3, 200.0), instruments)
def test_dilution(data, product, water, volume, tools) -> None:
    body = {
        "product": product,
        "strength": data.draw(strengths(product)),
        "water": water,
        "volume_l": volume,
        "instruments": tools,
    }
    follow("dilutions", body)


@some
@given(plants, air, st.sampled_from(rows.APPLICATIONS), st.sampled_from(rows.REFILLS),
       numbers(1.0, 21.0))  # fmt: skip
def test_target(bench, around, application, refill, interval) -> None:
    body = {
        "plants": {**bench, "refill": refill},
        "air": around,
        "application": application,
        "interval_days": interval,
    }
    follow("targets", body)


@st.composite
def adjustments(draw):
    kind = draw(st.sampled_from(rows.ACID_KINDS + rows.BASE_KINDS))
    body: dict[str, Any] = {
        "water": draw(waters),
        "volume_l": draw(numbers(0.3, 2000.0)),
        "acid": {"kind": kind},
        "carbon_dioxide": draw(st.sampled_from(["closed", "open"])),
        "instruments": draw(instruments),
        "limits": {"acid_phosphorus_mg_per_l": draw(st.sampled_from([30.0, 500.0]))},
    }
    if draw(st.booleans()):
        body["acid"]["percent"] = draw(numbers(5.0, 60.0))
    if draw(st.integers(0, 3)) > 0:
        low, high = (5.4, 7.0) if kind in rows.ACID_KINDS else (6.0, 8.6)
        body["target_ph"] = draw(numbers(low, high))
    else:
        body["target_alkalinity_mg_per_l_caco3"] = draw(numbers(5.0, 120.0))
    if draw(st.booleans()):
        product = draw(st.sampled_from(SALTS))
        body["additions"] = [{"product": product, "g_per_l": draw(numbers(0.05, 0.6))}]
        body["acid_goes"] = draw(st.sampled_from(["after_feed", "before_feed"]))
    return body


@some
@given(adjustments())
def test_ph_adjustment(body: dict[str, Any]) -> None:
    follow("ph-adjustments", body)


additions = st.lists(
    st.fixed_dictionaries({"product": st.sampled_from(SALTS), "g_per_l": numbers(0.0, 3.0)}),
    max_size=4,
    unique_by=lambda each: each["product"],
)


@some
@given(waters, additions, st.none() | numbers(0.01, 3.0), numbers(2.0, 39.0),
       st.sampled_from(["closed", "open"]))  # fmt: skip
@example("reverse_osmosis", [{"product": "monopotassium_phosphate", "g_per_l": 1e-28}], None, 2.0,
         "closed")  # fmt: skip
def test_solution(water, added, acid, celsius, carbon_dioxide) -> None:
    body: dict[str, Any] = {
        "water": water,
        "additions": added,
        "temperature_celsius": celsius,
        "carbon_dioxide": carbon_dioxide,
    }
    if acid is not None:
        body["acid"] = {"kind": "nitric", "mmol_per_l": acid}
    follow("solutions", body)


@few
@given(analyses(), st.sampled_from(["rain", "reverse_osmosis", "soft_tap"]), numbers(5.0, 150.0),
       st.none() | numbers(0.05, 0.8))  # fmt: skip
def test_water_blend(first, second, sodium, conductivity) -> None:
    limits = {"sodium_mg_per_l": sodium}
    if conductivity is not None:
        limits["ec_ms_per_cm"] = conductivity
    first = {name: value for name, value in first.items() if name != "temperature_celsius"}
    follow("water-blends", {"waters": [first, second], "limits": limits})


@st.composite
def readings(draw):
    body: dict[str, Any] = {
        "kind": draw(st.sampled_from(["feed", "water", "drainage"])),
        "compensated": draw(st.booleans()),
        "temperature_celsius": draw(numbers(1.0, 34.0)),
        "plants": {"size": draw(st.sampled_from(rows.SIZES))},
    }
    if draw(st.booleans()):
        body["ec_ms_per_cm"] = draw(numbers(0.01, 6.0))
    else:
        body["ppm"] = draw(numbers(5.0, 3000.0))
        body["scale"] = draw(st.sampled_from(["500", "640", "700", "kcl", "nacl", "442"]))
    if body["kind"] == "drainage" and draw(st.booleans()):
        body["feed_ec_ms_per_cm"] = draw(numbers(0.2, 2.0))
    return body


@some
@given(readings())
def test_reading(body: dict[str, Any]) -> None:
    follow("readings", body)


@st.composite
def pots(draw):
    setup = draw(st.sampled_from(["wet_dry_pot", "semi_hydroponic_pot"]))
    size = (
        {"volume_l": draw(numbers(0.2, 4.0))}
        if draw(st.booleans())
        else {"diameter_cm": draw(numbers(6.0, 22.0))}
    )
    return {"setup": setup, "plant_count": draw(st.integers(1, 40)), **size}


@some
@given(pots(), waters, st.none() | numbers(0.2, 5.0), st.none() | numbers(0.2, 1.5),
       st.none() | numbers(0.3, 1.6))  # fmt: skip
def test_flush(container, water, reading, target, feed) -> None:
    body: dict[str, Any] = {"container": container, "water": water}
    if reading is not None:
        body["reading"] = {
            "ec_ms_per_cm": reading, "compensated": False, "temperature_celsius": 18.0
        }  # fmt: skip
    if target is not None:
        body["target"] = {"ec_ms_per_cm": target}
    if feed is not None:
        body["feed_ec_ms_per_cm"] = feed
    follow("flushes", body)


def test_flush_of_a_mount() -> None:
    follow("flushes", {"container": {"setup": "mount", "plant_count": 7}, "water": "rain"})


@st.composite
def outlooks(draw):
    schedule = [{"kind": "feed", "ec_ms_per_cm": draw(numbers(0.3, 1.8))}]
    if draw(st.booleans()):
        schedule.append({"kind": "water"})
    if draw(st.booleans()):
        schedule.append({"kind": "flush", "every_days": draw(st.integers(5, 30))})
    body: dict[str, Any] = {
        "container": draw(pots()),
        "plants": {"refill": draw(st.sampled_from(rows.REFILLS))},
        "water": draw(st.sampled_from(["rain", "soft_tap", "hard_tap"])),
        "schedule": schedule,
        "weeks": draw(st.integers(1, 9)),
        "salt_uptake_percent": draw(st.sampled_from([0.0, 25.0])),
    }
    basis = draw(st.sampled_from(["air", "days", "weights"]))
    if basis == "air":
        body["air"] = {"humidity_percent": 55, "temperature_celsius": 23}
    elif basis == "days":
        body["days_between_waterings"] = draw(st.integers(1, 12))
    else:
        body |= {"pot_mass_wet_g": 900, "pot_mass_dry_g": draw(numbers(500.0, 880.0))}
        body["days_between_weighings"] = 7
    return body


@some
@given(outlooks())
def test_salt_outlook(body: dict[str, Any]) -> None:
    follow("salt-outlooks", body)


@few
@given(st.sampled_from(SALTS), numbers(1.0, 38.0), st.none() | st.sampled_from(SALTS),
       numbers(5.0, 120.0))  # fmt: skip
def test_solubility(product, celsius, other, grams) -> None:
    body: dict[str, Any] = {"product": product, "temperature_celsius": celsius}
    if other is not None:
        body["background"] = [{"product": other, "g_per_kg_water": grams}]
    follow("solubilities", body)


@few
@given(st.lists(st.sampled_from(SALTS), min_size=2, max_size=5, unique=True),
       numbers(20.0, 150.0), numbers(20.0, 150.0), st.sampled_from(["rain", "soft_tap"]),
       st.none() | numbers(0.5, 300.0))  # fmt: skip
def test_recipe(shelf, nitrogen, potassium, water, volume) -> None:
    body: dict[str, Any] = {
        "target_mg_per_l": {"nitrogen": nitrogen, "potassium": potassium},
        "shelf": [{"product": key} for key in shelf],
        "water": water,
    }
    if volume is not None:
        body["volume_l"] = volume
    follow("recipes", body)


@few
@given(st.lists(st.sampled_from(SALTS), min_size=1, max_size=4, unique=True),
       st.lists(numbers(0.05, 0.6), min_size=4, max_size=4),
       st.sampled_from([20.0, 100.0, 400.0]), st.sampled_from(["rain", "soft_tap"]),
       st.none() | st.sampled_from([0.1, 1.0]))  # fmt: skip
def test_stock_plan(keys, amounts, factor, water, step) -> None:
    body: dict[str, Any] = {
        "recipe": [
            {"product": key, "g_per_l": amount} for key, amount in zip(keys, amounts, strict=False)
        ],
        "concentration_factor": factor,
        "tank_volume_l": 10,
        "water": water,
    }
    if step is not None:
        body["balance_resolution_g"] = step
    follow("stock-plans", body)


@st.composite
def reservoirs(draw):
    body: dict[str, Any] = {
        "volume_l": draw(numbers(20.0, 500.0)),
        "reading": {
            "ec_ms_per_cm": draw(numbers(0.4, 2.5)),
            "ph": draw(numbers(5.0, 8.0)),
            "level_percent": draw(numbers(40.0, 100.0)),
        },
        "target": {"ec_ms_per_cm": draw(numbers(0.6, 1.6)), "ph": draw(numbers(5.5, 6.5))},
        "water": "soft_tap",
        "acid": {"kind": draw(st.sampled_from(["nitric", "phosphoric", "citric"])), "percent": 38},
        "last_dose": {"none": True},
    }
    if draw(st.booleans()):
        rise = draw(numbers(0.05, 0.3))
        body["stocks"] = [{"ec_rise_ms_per_cm": rise}, {"ec_rise_ms_per_cm": rise}]
    else:
        body["stocks"] = [{"products": [{"product": "feed_15_5_15_ca_mg", "g_per_l": 100}]}]
    if draw(st.booleans()):
        pump = {"ml_per_second": 2.0, "largest_seconds": 60.0, "largest_ml_per_day": 3000.0}
        lines = ("water", "stock_a", "stock_b", "acid")
        body["pump"] = {line: pump for line in lines if draw(st.booleans())}
    return body


@some
@given(reservoirs())
def test_reservoir_correction(body: dict[str, Any]) -> None:
    follow("reservoir-corrections", body)


@settings(max_examples=5, suppress_health_check=list(HealthCheck), derandomize=True)
@given(st.sampled_from(["north", "south"]), st.sampled_from(rows.SETUPS),
       st.sampled_from(["rain", "hard_tap"]))  # fmt: skip
def test_programme(hemisphere, setup, water) -> None:
    body = {
        "plants": {"setup": setup, "count": 6},
        "site": {"hemisphere": hemisphere},
        "first_date": "2027-02-01",
        "last_date": "2027-05-31",
        "shelf": ["feed_15_5_15_ca_mg", "calcium_magnesium_supplement", "seaweed_extract"],
        "water": water,
        "volume_l": 4,
    }
    follow("programmes", body)
