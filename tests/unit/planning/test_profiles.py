"""The table of plant profiles that kernels read."""

import pytest

from service.planning import profiles, rows
from service.planning.catalogue import catalogue
from service.planning.profiles import own_profile_row, profile_row
from service.reference.plants import MICRONUTRIENTS, SIZES, plants


def test_sizes_and_micronutrients_stand_in_the_order_of_the_rows():
    assert tuple(SIZES) == rows.SIZES
    first = rows.BINDING_LIMITS.index("boron")
    assert tuple(MICRONUTRIENTS) == rows.BINDING_LIMITS[first : first + len(MICRONUTRIENTS)]


@pytest.mark.parametrize("key", list(plants()))
def test_profile_becomes_a_row_of_ceilings_that_falls_with_size(key):
    row = profile_row(plants()[key])
    large, medium, mini = row[profiles.SIZE_METER_PPM : profiles.SIZE_METER_PPM + 3]
    assert large >= medium >= mini > 0.0
    assert row[profiles.COOL_AMMONIUM_SHARE] <= row[profiles.AMMONIUM_SHARE] <= 1.0
    assert 5.0 <= row[profiles.PH_LOW] < row[profiles.PH_HIGH]
    assert (row > 0.0).all()
    assert not row.flags.writeable


def test_own_ceilings_replace_those_of_the_base_and_nothing_else():
    base = catalogue().profile_table[catalogue().default_profile]
    own = own_profile_row(
        base,
        {
            "ec_ceiling_ms_per_cm": 0.4,
            "nitrogen_ceiling_mg_per_l": 80.0,
            "ammonium_share_ceiling_percent": 20.0,
            "boron": 0.3,
        },
    )
    assert own[profiles.EC_CEILING] == 0.4
    assert own[profiles.NITROGEN_CEILING] == 80.0
    assert own[profiles.AMMONIUM_SHARE] == own[profiles.COOL_AMMONIUM_SHARE] == 0.2
    assert own[profiles.FIRST_MICRONUTRIENT_MAXIMUM] == 0.3
    assert own[profiles.SODIUM_CAUTION] == base[profiles.SODIUM_CAUTION]
    assert own[profiles.PH_LOW] == base[profiles.PH_LOW]


def test_generous_share_does_not_make_the_cool_share_generous():
    base = catalogue().profile_table[catalogue().default_profile]
    own = own_profile_row(base, {"ammonium_share_ceiling_percent": 90.0})
    assert own[profiles.COOL_AMMONIUM_SHARE] == base[profiles.COOL_AMMONIUM_SHARE]
