"""Water that a pot loses, the pot itself, and what its weeks warn of, with arithmetic beside."""

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from service.planning.catalogue import catalogue
from service.planning.containers import Container, understood_container
from service.planning.notes import Notes, RefusalError
from service.planning.poured_water import PouredWater
from service.planning.salt_outlook import DRYING_BORNE, Change, Outlook, _caution
from service.planning.salt_weeks import COLUMN_COUNT, DRIED_OUT, DRIEST, MOIST
from service.planning.water_use import WaterUse, water_use
from service.reference.media import media


def asked(**given: Any) -> SimpleNamespace:
    nothing = dict.fromkeys(
        ("pot_mass_wet_g", "pot_mass_dry_g", "days_between_weighings", "days_between_waterings",
         "air")
    )  # fmt: skip
    return SimpleNamespace(**{**nothing, **given})


def air(**given: Any) -> SimpleNamespace:
    names = ("humidity_percent", "temperature_celsius", "average_humidity_percent",
             "average_temperature_celsius")  # fmt: skip
    return SimpleNamespace(**{**dict.fromkeys(names), **given})


def read(container: dict[str, Any], **plants: Any) -> tuple[Container, list[str]]:
    stated = dict.fromkeys(("setup", "medium", "plant_count", "diameter_cm", "volume_l"))
    known = dict.fromkeys(("size", "setup", "medium", "count", "refill", "pot_diameter_cm"))
    notes = Notes()
    pot = understood_container(
        SimpleNamespace(**{**stated, **container}), SimpleNamespace(**{**known, **plants}),
        catalogue().default_profile, catalogue(), notes,
    )  # fmt: skip
    return pot, [each["code"] for each in notes.assumptions]


POT, _ = read({"volume_l": 1.0, "medium": "bark", "diameter_cm": 12.0}, size="large")


def used(pot: Container = POT, **given: Any) -> tuple[WaterUse, Notes]:
    notes = Notes()
    return water_use(asked(**given), pot, notes), notes


def test_two_weighings_tell_what_was_lost() -> None:
    held = POT.held_l
    # Half of what the pot holds in four days, known to 5 %.
    lost = 0.5 * held
    use, notes = used(pot_mass_wet_g=900.0, pot_mass_dry_g=900.0 - 1000.0 * lost,
                      days_between_weighings=4.0)  # fmt: skip
    each_day = lost / 4.0
    assert (use.low_l, use.middle_l, use.high_l) == pytest.approx(
        (0.95 * each_day, each_day, 1.05 * each_day)
    )
    assert (use.held_l, use.basis, use.measured) == (held, "weights", True)
    assert math.isnan(use.deficit_kpa)
    assert notes.assumptions == notes.cautions == []


def test_a_pot_that_lost_more_than_it_holds_holds_more() -> None:
    lost = 0.91 * POT.held_l
    use, notes = used(pot_mass_wet_g=2000.0, pot_mass_dry_g=2000.0 - 1000.0 * lost,
                      days_between_weighings=1.0)  # fmt: skip
    assert use.held_l == pytest.approx(lost / 0.9)
    assert [each["code"] for each in notes.assumptions] == ["held_water_from_masses"]
    just, none = used(pot_mass_wet_g=2000.0, pot_mass_dry_g=2000.0 - 890.0 * POT.held_l,
                      days_between_weighings=1.0)  # fmt: skip
    assert just.held_l == POT.held_l
    assert none.assumptions == []


@pytest.mark.parametrize("dry", [900.0, 901.0])
def test_a_pot_does_not_gain_by_drying(dry: float) -> None:
    with pytest.raises(RefusalError) as refusal:
        used(pot_mass_wet_g=900.0, pot_mass_dry_g=dry, days_between_weighings=1.0)
    assert refusal.value.notice.code == "pot_masses_contradictory"


def test_days_between_waterings_stand_for_half_of_the_water() -> None:
    use, notes = used(days_between_waterings=5.0)
    assert use.middle_l == pytest.approx(0.5 * POT.held_l / 5.0)
    assert (use.low_l, use.high_l) == pytest.approx((0.7 * use.middle_l, 1.3 * use.middle_l))
    assert (use.basis, use.measured) == ("days", True)
    assert [each["code"] for each in notes.assumptions] == ["water_use_from_days"]


def test_without_a_measurement_the_air_gives_a_band() -> None:
    # The pot of common practice: 12 cm at 22 °C and 60 % (1.06 kPa) loses 0.17 x 113.1 x 1.06 mL.
    use, notes = used(air=air(humidity_percent=60.0, temperature_celsius=22.0))
    middle = 0.17 * math.pi * 36.0 * 1.0577 / 1000.0
    assert use.middle_l == pytest.approx(middle, rel=1e-3)
    assert (use.low_l, use.high_l) == pytest.approx((0.6 * use.middle_l, 1.6 * use.middle_l))
    assert use.deficit_kpa == pytest.approx(1.0577, abs=2e-3)
    assert not use.measured
    assert [each["code"] for each in notes.assumptions] == ["water_use_estimated"]
    assert [each["code"] for each in notes.cautions] == ["water_use_not_measured"]


def test_the_usual_air_stands_for_the_weeks() -> None:
    both = {"average_humidity_percent": 60.0, "average_temperature_celsius": 22.0}
    usual, _ = used(air=air(humidity_percent=95.0, temperature_celsius=30.0, **both))
    plain, _ = used(air=air(humidity_percent=60.0, temperature_celsius=22.0))
    assert usual.middle_l == plain.middle_l
    mixed, _ = used(air=air(humidity_percent=95.0, temperature_celsius=22.0,
                            average_humidity_percent=60.0))  # fmt: skip
    assert mixed.middle_l == plain.middle_l
    silent, notes = used(air=air(humidity_percent=60.0))
    assert "air_temperature_assumed" in [each["code"] for each in notes.assumptions]
    assert silent.middle_l > 0.0
    assert "air_assumed" in [each["code"] for each in used()[1].assumptions]


def test_a_pot_holds_the_share_of_its_medium() -> None:
    for medium in ("bark", "sphagnum", "pumice"):
        pot, _ = read({"volume_l": 2.0, "medium": medium}, size="large")
        assert pot.held_l == pytest.approx(2.0 * media()[medium].held_share)
        assert pot.efficiency == media()[medium].leaching_efficiency
    reservoir, _ = read({"volume_l": 2.0, "medium": "clay_pebbles",
                         "setup": "semi_hydroponic_pot"}, size="large")  # fmt: skip
    assert reservoir.held_l > 2.0 * media()["clay_pebbles"].held_share


def test_what_is_not_said_of_a_pot_is_assumed_and_named() -> None:
    pot, codes = read({"volume_l": 1.0})
    assert codes[:4] == ["size_assumed", "setup_assumed", "one_pot_assumed", "medium_assumed"]
    assert (pot.size, pot.setup, pot.medium, pot.refill) == (
        "mini",
        "wet_dry_pot",
        "bark",
        "drained",
    )
    assert (pot.plant_count, pot.is_mount) == (1, False)
    assert pot.ceiling_ms_per_cm == pytest.approx(300.0 / 700.0)
    over, codes = read({"volume_l": 1.0, "setup": "semi_hydroponic_pot"}, size="large", count=4)
    assert "refill_assumed" in codes
    assert (over.medium, over.plant_count, over.refill) == ("clay_pebbles", 4, "drained")
    topped, _ = read({"volume_l": 1.0, "setup": "semi_hydroponic_pot"}, refill="topped_up")
    assert topped.refill == "topped_up"


def test_a_mount_has_no_pot() -> None:
    mount, codes = read({"setup": "mount"}, size="large", count=3)
    assert mount.is_mount
    assert (mount.medium, mount.refill, mount.plant_count) == ("none", "drained", 3)
    assert (mount.pot_volume_l, mount.held_l, mount.diameter_cm) == (0.0, 0.0, 0.0)
    assert (mount.efficiency, mount.ceiling_ms_per_cm) == (1.0, pytest.approx(800.0 / 700.0))
    assert codes == []
    mossy, _ = read({"setup": "mount", "medium": "sphagnum"}, size="large")
    assert mossy.medium == "sphagnum"
    for pot in ({"diameter_cm": 10.0}, {"volume_l": 0.5}):
        with pytest.raises(RefusalError) as refusal:
            read({"setup": "mount", **pot})
        assert refusal.value.notice.code == "container_contradictory"
    with pytest.raises(RefusalError):
        read({"setup": "mount"}, pot_diameter_cm=10.0)
    with pytest.raises(RefusalError):
        read({"medium": "none", "volume_l": 1.0})


def outlook(
    *,
    moist: tuple[float, ...] = (0.8,),
    high: tuple[float, ...] | None = None,
    driest: float = 1.0,
    dried_out: float = 0.0,
    water: float = 0.1,
    basis: str = "weights",
    changes: tuple[Change, ...] = (Change("flush", 4, 0.9),),
    pot: Container = POT,
    limit: float = 1.0,
) -> list[tuple[str, str]]:
    """Return the cautions of weeks with a limit [mS/cm]."""
    lines = []
    for values in (moist, moist, high or moist):
        line = np.zeros((len(values), COLUMN_COUNT))
        line[:, MOIST] = values
        line[:, DRIEST], line[:, DRIED_OUT] = driest, dried_out
        lines.append(line)
    use = WaterUse(0.01, 0.02, 0.03, 0.3, basis, math.nan)
    plain = SimpleNamespace(ec_ms_per_cm=water)
    assert "ec_ms_per_cm" in PouredWater.__annotations__
    notes = Notes()
    _caution(
        Outlook(pot, plain, use, (), 0.5, 0.0, limit, "stated", *lines, changes),  # type: ignore[arg-type]
        notes,
    )
    return [(each["code"], each["message"]) for each in notes.cautions]


def codes(*args: Any, **given: Any) -> list[str]:
    return [code for code, _ in outlook(*args, **given)]


def test_weeks_within_the_limit_warn_of_nothing() -> None:
    assert codes() == []
    assert codes(moist=(1.0,)) == []


def test_a_water_over_the_limit_is_said() -> None:
    assert codes(water=1.0) == []
    assert codes(water=1.01) == ["water_over_limit"]


def test_the_week_in_which_salt_passes_the_limit_is_named() -> None:
    rising = (0.8, 0.9, 1.1, 1.2)
    (found,) = outlook(moist=rising)
    assert found[0] == "salt_over_limit"
    assert "in about week 3" in found[1]
    (found,) = outlook(moist=rising, basis="air")
    assert "in week 3 at the earliest" in found[1]
    (found,) = outlook(moist=(0.8, 0.9), high=(0.8, 1.1))
    assert "in week 2 at the earliest" in found[1]
    assert codes(moist=rising, changes=()) == ["salt_over_limit", "nothing_keeps_salt_under"]


def test_salt_of_a_drying_pot_is_said_beyond_what_is_borne() -> None:
    assert codes(driest=DRYING_BORNE - 0.01) == []
    assert codes(driest=DRYING_BORNE + 0.01) == ["salt_over_limit_when_dry"]
    assert codes(driest=2.0 * DRYING_BORNE - 0.01, limit=2.0) == []
    assert codes(driest=2.0 * DRYING_BORNE + 0.01, limit=2.0) == ["salt_over_limit_when_dry"]
    assert codes(dried_out=1.0) == ["pot_dries_out"]


def test_a_reservoir_that_is_topped_up_is_said() -> None:
    pot, _ = read({"volume_l": 1.0, "setup": "semi_hydroponic_pot"}, refill="topped_up")
    assert codes(pot=pot) == ["salt_gathers_in_reservoir"]
