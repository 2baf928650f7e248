"""The reader of many rows and the model of the contract take, refuse and mean the same."""

import json
from typing import Any

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from service.api.batch import _read, reader_of
from service.api.naming import OpenCatalogue
from service.api.row_reader import ReadRows, RowOutcome
from service.api.row_structs import GROUPS, fields_of
from service.api.schemas.doses import DoseFields
from service.api.validation import _models_in
from service.planning import rows
from service.planning.catalogue import Catalogue, catalogue
from service.planning.row_texts import FOUND, row_texts

ODD = st.sampled_from(
    [None, True, "12", "1,5", "3 gal", "nan", -1, 0, 1e9, 10**30, [], {}, "", "x" * 130, "é\ud800"]
)
"""Values that some field takes and another refuses."""

OWN_LABEL = {"name": "own", "form": "solid", "label": {"total_n_percent": 20}}
OWN_PROFILE = {"ec_ceiling_ms_per_cm": 1}


def mostly(usual: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Return the usual values with an odd one now and then."""
    return st.integers(0, 39).flatmap(lambda drawn: ODD if drawn == 0 else usual)


def numbers(low: float, high: float) -> st.SearchStrategy[Any]:
    return mostly(st.floats(low, high) | st.integers(int(low) + 1, int(high)))


def some_of(required: dict[str, Any], optional: dict[str, Any]) -> st.SearchStrategy[Any]:
    return st.fixed_dictionaries(required, optional=optional)


words = st.sampled_from
elements = {"element": mostly(words(["nitrogen", "calcium", "N"])), "mg_per_l": numbers(1, 200)}
counts = {"counts": mostly(words(["added", "whole_can"]))}
strengths = mostly(
    some_of({"basis": st.just("element"), **elements}, counts)
    | some_of({"basis": st.just("product"), "g_per_l": numbers(0.1, 3)}, counts)
    | some_of({"basis": st.just("product"), "ml_per_l": numbers(0.1, 3)}, {"g_per_l": ODD})
    | some_of({"basis": st.just("conductivity"), "ec_ms_per_cm": numbers(0.1, 3)}, {})
    | some_of(
        {"basis": st.just("meter_ppm"), "ppm": numbers(50, 900)},
        {"scale": words([500, 640, 700, "500", 700.0, 501, None])},
    )
    | some_of({"basis": words(["element", "none"])}, {**elements, **counts})
)
products = mostly(
    words(["feed_13_3_15_ca_mg", "feed_20_20_20", "urea", "feed_liquid_4_3_6"])
    | words(["feed_13_3_15_ca", "urea\n", OWN_LABEL])
)
analyses = some_of(
    {},
    {
        "ph": numbers(5, 8),
        "alkalinity_mg_per_l_caco3": numbers(0, 200),
        "calcium_mg_per_l": numbers(0, 90),
        "sodium_mg_per_l": numbers(0, 60),
        "boron_mg_per_l": numbers(0, 1),
        "ec_ms_per_cm": numbers(0, 1),
        "temperature_celsius": numbers(5, 30),
    },
)
doses = st.fixed_dictionaries(
    {},
    optional={
        "id": mostly(st.text(min_size=1, max_size=8)),
        "plants": mostly(
            some_of(
                {},
                {
                    "profile": mostly(words(["moth_orchid", "Vanda", "unheard of", OWN_PROFILE])),
                    "size": mostly(words(["large", "medium", "mini"])),
                    "setup": words(["mount", "wet_dry_pot", "semi_hydroponic_pot"]),
                    "growth": words(["active", "resting"]),
                    "medium": words(["bark", "none"]),
                    "refill": words(["drained", "topped_up"]),
                    "count": mostly(st.integers(1, 50) | words([12.0, 1.5])),
                    "pot_diameter_cm": numbers(5, 20),
                    "days_since_flush": numbers(0, 60),
                },
            )
        ),
        "air": mostly(
            some_of(
                {},
                {
                    "humidity_percent": numbers(30, 90),
                    "temperature_celsius": numbers(15, 30),
                    "average_humidity_percent": numbers(30, 90),
                    "average_temperature_celsius": numbers(15, 30),
                },
            )
        ),
        "product": products,
        "strength": strengths,
        "water": mostly(words(["rain", "hard_tap", "softened_tap"]) | analyses),
        "volume_l": numbers(1, 50),
        "interval_days": numbers(1, 60),
    },
)
rarer = st.fixed_dictionaries(
    {},
    optional={
        "products": mostly(
            st.lists(some_of({"product": products, "strength": strengths}, {}), max_size=3)
        ),
        "volume_per_plant_ml": numbers(20, 500),
        "target_ph": numbers(5, 7),
        "acid": mostly(
            some_of({}, {"kind": words(["nitric", "citric"]), "percent": numbers(1, 90)})
        ),
        "application": mostly(words(["feed", "flush", "auto"])),
        "instruments": mostly(
            some_of(
                {},
                {
                    "balance_resolution_g": numbers(0.01, 2),
                    "balance_minimum_g": numbers(0, 2),
                    "syringe_resolution_ml": numbers(0.01, 2),
                    "largest_can_l": numbers(1, 20),
                },
            )
        ),
        "typo": st.just(1),
    },
)


def with_rarer(drawn: int) -> st.SearchStrategy[dict[str, Any]]:
    return st.builds(lambda usual, more: usual | more, doses, rarer) if drawn == 0 else doses


whole_rows = st.integers(0, 3).flatmap(with_rarer)
usable = st.builds(
    lambda row, product, volume: {"product": product, "volume_l": volume} | row,
    whole_rows,
    st.just("feed_13_3_15_ca_mg"),
    st.just(10),
)
given_rows = st.lists(usable | whole_rows | ODD, min_size=1, max_size=6)


def readable(defaults: dict[str, Any]) -> bool:
    try:
        DoseFields.model_validate(defaults)
    except ValidationError:
        return False
    return True


def by_the_model(
    given: list[Any], defaults: dict[str, Any]
) -> tuple[list[RowOutcome], np.ndarray, np.ndarray, Catalogue]:
    names = OpenCatalogue(catalogue())
    requests, results = rows.empty_requests(len(given)), rows.empty_results(len(given))
    outcomes = [
        _read(each, defaults, requests[place], results[place], names)
        for place, each in enumerate(given)
    ]
    return outcomes, requests, results, names.closed()


def assert_same(read: ReadRows, known: Catalogue, given: list[Any], defaults: dict[str, Any]):
    wanted, requests, results, model_knows = by_the_model(given, defaults)
    outcomes = read.outcomes()
    noted = [{(note.code, note.field) for each in all_ for note in each.notes}
             for all_ in (outcomes, wanted)]  # fmt: skip
    assert noted[0] == noted[1]
    for place, (ours, model) in enumerate(zip(outcomes, wanted, strict=True)):
        assert ours.id == model.id
        assert ours.problems == model.problems
        if model.problems:
            continue
        assert ours.water == model.water
        for name in rows.DOSE_REQUEST.names or ():
            found, expected = read.requests[place][name], requests[place][name]
            if name == "profile":
                found, expected = known.profile_table[found], model_knows.profile_table[expected]
            elif name == "product":
                count = requests[place]["product_count"]
                found = known.product_table[found[:count]]
                expected = model_knows.product_table[expected[:count]]
            np.testing.assert_array_equal(found, expected, err_msg=name)
        for name in ("assumptions", "cautions"):
            assert read.results[place][name] == results[place][name], name


@settings(max_examples=400, deadline=None)
@given(given_rows, st.just({}) | doses | whole_rows)
def test_many_rows_are_read_as_the_model_reads_each(given, defaults):
    assume(readable(defaults))
    names = OpenCatalogue(catalogue())
    read = reader_of(defaults, names).read_values(given)
    assert_same(read, names.closed(), given, defaults)


@settings(max_examples=400, deadline=None)
@given(given_rows, st.just({}) | doses | whole_rows)
def test_texts_of_rows_are_read_as_the_model_reads_their_values(given, defaults):
    assume(readable(defaults))
    text = json.dumps({"rows": given}).encode()
    places = row_texts(text, 100, 32)
    assert places.status == FOUND
    names = OpenCatalogue(catalogue())
    read = reader_of(defaults, names).read_texts(text, places, slice(0, len(given)))
    assert_same(read, names.closed(), json.loads(text)["rows"], defaults)


def test_the_shapes_have_every_field_of_a_row():
    assert {*fields_of("")[0], *fields_of("")[1]} == set(DoseFields.model_fields)
    for name in (*GROUPS, "water"):
        (model,) = _models_in(DoseFields.model_fields[name].annotation)
        assert {*fields_of(name)[0], *fields_of(name)[1]} == set(model.model_fields), name


@settings(max_examples=60, deadline=None)
@given(st.lists(usable, min_size=1, max_size=6))
def test_most_rows_take_the_fast_way(given):
    plain = [
        {"product": "feed_13_3_15_ca_mg", "volume_l": 5, "water": "rain", "id": f"{place}"}
        for place, _ in enumerate(given)
    ]
    read = reader_of({}, OpenCatalogue(catalogue())).read_values(plain)
    assert read.slow == {}
