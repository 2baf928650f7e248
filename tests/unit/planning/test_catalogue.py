"""What a request can name."""

import pytest

from service.planning.catalogue import catalogue
from service.planning.products import labelled_row
from service.planning.profiles import own_profile_row
from service.reference.catalogue import products


def test_every_product_but_acids_and_bases_has_a_row():
    known = catalogue()
    fed = [key for key, each in products().items() if each.kind not in ("acid", "base")]
    assert list(known.product_positions) == fed
    assert known.product_table.shape[0] == len(fed)
    assert not known.product_table.flags.writeable


def test_unknown_product_is_a_key_error_and_unknown_plant_is_none():
    with pytest.raises(KeyError):
        catalogue().product_position("unobtainium")
    assert catalogue().profile_position("ghost_orchid") is None


def test_plant_is_found_by_profile_and_by_genus():
    known = catalogue()
    assert known.profile_position("phalaenopsis") == known.profile_position("moth_orchid")
    assert known.profile_names[known.default_profile] == "moth_orchid"


def test_weakest_profile_is_weaker_than_every_other():
    known = catalogue()
    weakest = known.profile_table[known.weakest_profile]
    assert (weakest[:4] <= known.profile_table[:, :4].min(axis=0)).all()


def test_products_and_profiles_of_one_request_leave_the_catalogue_alone():
    known = catalogue()
    more = known.with_products([labelled_row("own", "solid", None, {"nitrate_n_percent": 9.0})])
    base = known.profile_table[0]
    more = more.with_profiles({"mine": own_profile_row(base, {"ec_ceiling_ms_per_cm": 0.1})})
    assert more.product_position("own") == len(known.product_rows)
    assert more.profile_position("mine") == len(known.profile_names)
    assert "own" not in known.product_positions
    assert known.with_products([]) is known
    assert known.with_profiles({}) is known


def test_catalogue_is_built_once():
    assert catalogue() is catalogue()
