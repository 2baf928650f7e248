"""From a request to a row of numbers."""

from types import SimpleNamespace

import numpy as np
import pytest

from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.requests import TooManyProductsError, fill_row
from service.planning.rows import empty_requests, empty_results
from tests.mixing import by_element, dilution, dose, filled

FED = {"product": "potassium_nitrate", "strength": by_element("nitrogen", 60), "water": "rain"}


def row_of(limited=True, **request):
    asked, results = filled([{**FED, **request}], catalogue(), limited)
    return asked[0], results[0]


def test_empty_row_says_nothing():
    row = empty_requests(1)[0]
    for name in row.dtype.names:
        field = np.asarray(row[name])
        if name == "product_count":
            assert field == 0
        elif field.dtype.kind == "f":
            assert np.isnan(field).all()
        else:
            assert (field == rows.ABSENT).all()
    assert np.isnan(empty_results(1)[0]["amount"]).all()


@pytest.mark.parametrize(
    ("name", "texts"),
    [
        ("size", rows.SIZES),
        ("setup", rows.SETUPS),
        ("growth", rows.GROWTHS),
        ("refill", rows.REFILLS),
        ("medium", rows.MEDIA),
    ],
)
def test_words_become_their_positions(name, texts):
    for code, text in enumerate(texts):
        assert row_of(plants={name: text})[0][name] == code


@pytest.mark.parametrize("application", rows.APPLICATIONS)
def test_application_becomes_its_position(application):
    row, _ = row_of(application=application)
    assert row["application"] == rows.APPLICATIONS.index(application)


@pytest.mark.parametrize("kind", rows.ACID_KINDS + rows.BASE_KINDS)
def test_acid_and_base_stand_in_one_list(kind):
    row, _ = row_of(acid={"kind": kind, "percent": 30})
    assert row["acid_kind"] == (rows.ACID_KINDS + rows.BASE_KINDS).index(kind)
    assert row["acid_percent"] == 30


def test_every_water_field_has_its_column():
    for place, name in enumerate(rows.WATER_FIELDS):
        row, _ = row_of(water={name: 1.5})
        assert row["water"][place] == 1.5
        assert np.isnan(np.delete(row["water"], place)).all()


def test_water_that_is_not_named_is_a_moderate_tap():
    row, result = row_of(water=None)
    np.testing.assert_array_equal(row["water"], catalogue().water_rows["moderate_tap"])
    assert int(result["assumptions"])


def test_dose_and_dilution_are_told_apart():
    assert row_of(limited=True)[0]["limited"] == 1
    assert row_of(limited=False)[0]["limited"] == 0


def test_product_that_no_catalogue_knows_is_a_key_error():
    with pytest.raises(KeyError, match="unobtainium"):
        dose(**{**FED, "product": "unobtainium"})


def test_more_products_than_a_can_takes_are_refused():
    many = [{"product": "urea", "strength": by_element("nitrogen", 1)}] * (
        rows.MAXIMUM_PRODUCTS + 1
    )
    with pytest.raises(TooManyProductsError):
        dilution(products=many, water="rain")
    assert dilution(products=many[1:], water="rain").status == "ok"


def test_request_needs_no_attribute_that_it_does_not_use():
    row, result = empty_requests(1), empty_results(1)
    fill_row(row[0], result[0], SimpleNamespace(), catalogue(), limited=True)
    assert row[0]["product_count"] == 0


def test_strength_by_millilitres_is_marked():
    strength = {"basis": "product", "ml_per_l": 2.0}
    row, _ = row_of(product="feed_liquid_4_3_6", strength=strength)
    assert row["strength_by_volume"][0] == 1
    assert row["strength_value"][0] == 2.0


def test_scale_and_counts_are_taken_over():
    strength = {"basis": "meter_ppm", "ppm": 300, "scale": 640, "counts": "added"}
    row, _ = row_of(strength=strength)
    assert row["strength_scale"][0] == 640
    assert row["strength_counts"][0] == rows.COUNTS.index("added")
