"""The volume of a can, from litres, plants or pots."""

import pytest

from service.planning.volumes import MOUNT_MILLILITRES, pot_volume
from tests.mixing import by_element, dilution, dose

FED = {"product": "potassium_nitrate", "strength": by_element("nitrogen", 30), "water": "rain"}


def test_pot_of_twelve_centimetres_holds_somewhat_less_than_a_litre():
    assert pot_volume(12.0) == pytest.approx(0.916, abs=0.001)


@pytest.mark.parametrize(
    ("medium", "share"),
    [
        ("bark", 0.30),
        ("sphagnum", 0.25),
        ("bark_and_sphagnum", 0.30),
        ("clay_pebbles", 0.25),
        ("pumice", 0.25),
        ("none", 0.15),
    ],
)
def test_watering_takes_a_share_of_the_pot_by_its_medium(medium, share):
    plants = {"count": 10, "pot_diameter_cm": 12, "medium": medium}
    can = dose(**FED, plants=plants)
    assert can["volume_l"] == pytest.approx(10 * share * pot_volume(12.0), rel=1e-12)
    assert "volume_from_pots" in can.assumptions
    assert "medium_assumed" not in can.assumptions


def test_medium_follows_the_setup_when_it_is_not_named():
    pot = dose(**FED, plants={"count": 1, "pot_diameter_cm": 12, "setup": "wet_dry_pot"})
    reservoir = dose(
        **FED, plants={"count": 1, "pot_diameter_cm": 12, "setup": "semi_hydroponic_pot"}
    )
    assert reservoir["volume_l"] / pot["volume_l"] == pytest.approx(0.25 / 0.30)
    assert "medium_assumed" in pot.assumptions


def test_mount_is_sprayed_until_it_runs_off_whatever_its_size():
    can = dose(**FED, plants={"setup": "mount", "count": 20})
    assert can["volume_l"] == pytest.approx(20 * MOUNT_MILLILITRES / 1000.0)


def test_stated_share_of_a_plant_goes_before_the_pot():
    can = dose(**FED, plants={"count": 4, "pot_diameter_cm": 12}, volume_per_plant_ml=500)
    assert can["volume_l"] == pytest.approx(2.0)
    assert "volume_from_pots" not in can.assumptions


def test_stated_volume_is_shared_out_among_the_plants():
    can = dose(**FED, plants={"count": 8}, volume_l=4)
    assert can["volume_per_plant_ml"] == pytest.approx(500.0)


@pytest.mark.parametrize(
    "plants",
    [
        {},
        {"count": 5},
        {"pot_diameter_cm": 12},
        {"setup": "mount"},
        {"count": 0, "pot_diameter_cm": 12},
    ],
)
def test_dose_without_a_volume_is_refused(plants):
    assert dose(**FED, plants=plants).problem == "volume_unknown"


@pytest.mark.parametrize("volume", [0.0, -5.0, float("inf")])
def test_volume_that_is_none_is_refused(volume):
    assert dose(**FED, volume_l=volume).problem == "volume_unknown"
    assert dilution(**FED, volume_l=volume).problem == "volume_unknown"


def test_dilution_without_a_volume_is_for_one_litre():
    can = dilution(**FED)
    assert can["volume_l"] == 1.0
    assert "volume_assumed" in can.assumptions
