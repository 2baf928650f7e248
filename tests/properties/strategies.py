"""Requests for cans: sensible ones, and hostile rows that no caller should send."""

import math

import numpy as np
from hypothesis import strategies as st

from service.planning import rows
from service.planning.catalogue import catalogue
from service.reference.components import ELEMENT_NAMES

FEEDS = (
    "potassium_nitrate",
    "calcium_nitrate_tetrahydrate",
    "magnesium_sulfate_heptahydrate",
    "monopotassium_phosphate",
    "ammonium_nitrate",
    "feed_20_20_20",
    "feed_20_5_19",
    "feed_30_10_10",
    "feed_15_5_15_ca_mg",
    "feed_13_3_15_ca_mg",
    "feed_liquid_4_3_6",
    "calcium_magnesium_supplement",
    "seaweed_extract",
    "urea",
    "boric_acid",
    "iron_dtpa",
)
NITROGENOUS = tuple(
    key
    for key in FEEDS
    if key
    not in ("magnesium_sulfate_heptahydrate", "monopotassium_phosphate", "boric_acid", "iron_dtpa")
)
PRESETS = tuple(catalogue().water_rows)
FINE = {"balance_resolution_g": 1e-6, "syringe_resolution_ml": 1e-6}
PROFILES = catalogue().profile_names


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Return finite numbers of a range, without the bit patterns near nothing."""
    return st.floats(low, high, allow_nan=False).map(lambda value: float(f"{value:.6g}"))


plants = st.fixed_dictionaries(
    {
        "profile": st.sampled_from(PROFILES),
        "size": st.sampled_from(rows.SIZES),
        "setup": st.sampled_from(rows.SETUPS),
        "growth": st.sampled_from(rows.GROWTHS),
    }
)

air = st.fixed_dictionaries(
    {"humidity_percent": numbers(5.0, 95.0), "temperature_celsius": numbers(11.0, 37.0)},
    optional={
        "average_humidity_percent": numbers(5.0, 95.0),
        "average_temperature_celsius": numbers(11.0, 37.0),
    },
)


@st.composite
def analyses(draw):
    """Return a water analysis whose charges balance, as a laboratory would give it."""
    calcium, magnesium = draw(numbers(0.05, 3.0)), draw(numbers(0.02, 1.0))
    sodium, potassium = draw(numbers(0.05, 4.0)), draw(numbers(0.01, 0.3))
    charge = 2 * calcium + 2 * magnesium + sodium + potassium
    shares = [draw(numbers(0.05, 1.0)) for _ in range(3)]
    nitrate = draw(numbers(0.0, min(0.5, 0.3 * charge)))
    alkalinity, chloride, sulfate = ((charge - nitrate) * share / sum(shares) for share in shares)
    return {
        "ph": draw(numbers(6.6, 8.2)),
        "alkalinity_mg_per_l_caco3": alkalinity * 50.04,
        "calcium_mg_per_l": calcium * 40.078,
        "magnesium_mg_per_l": magnesium * 24.305,
        "sodium_mg_per_l": sodium * 22.990,
        "potassium_mg_per_l": potassium * 39.098,
        "chloride_mg_per_l": chloride * 35.453,
        "sulfate_mg_per_l": sulfate * 48.03,
        "nitrate_mg_per_l": nitrate * 62.004,
        "boron_mg_per_l": draw(numbers(0.0, 0.9)),
        "zinc_mg_per_l": draw(numbers(0.0, 1.0)),
        "temperature_celsius": draw(st.sampled_from([25.0, 15.0, 20.0])),
    }


waters = st.one_of(st.sampled_from(PRESETS), analyses())

instruments = st.sampled_from(
    [
        {"balance_resolution_g": 0.1, "syringe_resolution_ml": 0.1},
        {"balance_resolution_g": 1.0, "syringe_resolution_ml": 1.0},
        {"balance_resolution_g": 0.01, "syringe_resolution_ml": 0.5},
        FINE,
    ]
)


@st.composite
def doses(draw, fine: bool = False, acid: bool = True):
    """Return a dose of one product, with or without a strength."""
    request = {
        "plants": draw(plants),
        "air": draw(air),
        "product": draw(st.sampled_from(FEEDS)),
        "water": draw(waters),
        "volume_l": draw(numbers(0.2, 500.0)),
        "application": draw(st.sampled_from(["feed", "supplement", "stimulant", "auto"])),
        "instruments": FINE if fine else draw(instruments),
    }
    if draw(st.booleans()):
        request["strength"] = draw(strengths(request["product"]))
    if acid and draw(st.booleans()):
        request["target_ph"] = draw(numbers(5.2, 7.0))
        request["acid"] = {"kind": draw(st.sampled_from(rows.ACID_KINDS))}
    return request


def strengths(product: str) -> st.SearchStrategy[dict]:
    """Return strengths that make sense for a product."""
    liquid = catalogue().product_rows[catalogue().product_positions[product]].liquid
    amount = "ml_per_l" if liquid else "g_per_l"
    kinds = [st.fixed_dictionaries({"basis": st.just("product"), amount: numbers(0.01, 5.0)})]
    if product in NITROGENOUS:
        kinds.append(
            st.fixed_dictionaries(
                {
                    "basis": st.just("element"),
                    "element": st.just("nitrogen"),
                    "mg_per_l": numbers(5.0, 300.0),
                },
                optional={"counts": st.sampled_from(rows.COUNTS)},
            )
        )
    if product not in ("urea", "feed_30_10_10", "boric_acid", "iron_dtpa"):
        kinds.append(
            st.fixed_dictionaries(
                {"basis": st.just("meter_ppm"), "ppm": numbers(50.0, 900.0)},
                optional={"scale": st.sampled_from([500, 640, 700])},
            )
        )
    return st.one_of(kinds)


HOSTILE = (math.nan, math.inf, -math.inf, 0.0, -0.0, -1.0, 1e-300, 1e300, 5e-324, 1.0, 7.0, 50.0)


@st.composite
def hostile_rows(draw):
    """Return one request row whose every number may be anything."""
    request = rows.empty_requests(1)
    row = request[0]
    known = catalogue()

    def anything():
        return draw(st.one_of(st.sampled_from(HOSTILE), st.floats()))

    for name in rows.DOSE_REQUEST.names:
        field = rows.DOSE_REQUEST[name]
        if field.base.kind != "f":
            continue
        if field.shape:
            for place in range(field.shape[0]):
                if draw(st.booleans()):
                    row[name][place] = anything()
        elif draw(st.booleans()):
            row[name] = anything()
    for name, texts in (
        ("size", rows.SIZES),
        ("setup", rows.SETUPS),
        ("growth", rows.GROWTHS),
        ("refill", rows.REFILLS),
        ("medium", rows.MEDIA),
        ("application", rows.APPLICATIONS),
        ("acid_kind", rows.ACID_KINDS + rows.BASE_KINDS),
    ):
        row[name] = draw(st.integers(-1, len(texts) - 1))
    row["profile"] = draw(st.integers(0, len(known.profile_names) - 1))
    row["limited"] = draw(st.integers(0, 1))
    row["product_count"] = draw(st.integers(0, 3))
    for slot in range(int(row["product_count"])):
        row["product"][slot] = draw(st.integers(0, len(known.product_rows) - 1))
        row["strength_basis"][slot] = draw(st.integers(-1, len(rows.STRENGTH_BASES) - 1))
        row["strength_element"][slot] = draw(st.integers(0, len(ELEMENT_NAMES) - 1))
        row["strength_counts"][slot] = draw(st.integers(-1, 1))
        row["strength_by_volume"][slot] = draw(st.integers(0, 1))
    if draw(st.booleans()):
        row["water"] = known.water_rows[draw(st.sampled_from(PRESETS))]
    if draw(st.booleans()):
        row["volume_l"] = 10.0
    if draw(st.booleans()):
        row["humidity_percent"], row["temperature_celsius"] = np.nan, np.nan
    return request
