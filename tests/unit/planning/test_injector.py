import pytest

from service.planning.injector import PARTS_IN, PARTS_TO, Injector, factor_of_ratio


def test_one_to_a_hundred_is_a_hundred_or_a_hundred_and_one() -> None:
    assert factor_of_ratio(100.0, PARTS_IN) == 100.0
    assert factor_of_ratio(100.0, PARTS_TO) == 101.0


def test_other_reading_is_one_percent_away() -> None:
    read_in = Injector(100.0, 1, PARTS_IN)
    assert read_in.other_strength_percent == pytest.approx(99.0099, abs=1e-4)
    assert read_in.other_factor == 101.0
    read_to = Injector(101.0, 1, PARTS_TO)
    assert read_to.ratio == 100.0
    assert read_to.other_strength_percent == pytest.approx(101.0)
    assert read_to.other_factor == 100.0


@pytest.mark.parametrize("tank_count", [1, 2, 4])
def test_concentrates_and_water_fill_the_litre(tank_count: int) -> None:
    injector = Injector(100.0, tank_count, PARTS_IN)
    assert injector.concentrate_ml_per_l == pytest.approx(10.0)
    assert tank_count * injector.concentrate_ml_per_l + injector.water_ml_per_l == 1000.0
