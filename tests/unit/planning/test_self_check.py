"""The known dose, and the first run of every kernel."""

from service.planning import self_check as known
from service.planning.warm_up import warm_up
from tests.mixing import by_element, dilution


def test_known_dose_comes_out_as_known():
    assert known.self_check()


def test_known_dose_is_also_that_of_the_request_it_stands_for():
    can = dilution(
        product=known.KNOWN_PRODUCT,
        strength=by_element("nitrogen", known.KNOWN_NITROGEN),
        water="reverse_osmosis",
        volume_l=10,
    )
    assert abs(can.amount() - known.KNOWN_MASS) < 1e-9
    assert abs(can["predicted_ec_ms_per_cm"] / known.KNOWN_CONDUCTIVITY - 1.0) < 0.02


def test_a_wrong_computation_is_noticed(monkeypatch):
    monkeypatch.setattr(known, "KNOWN_CONDUCTIVITY", 1.2)
    assert not known.self_check()


def test_warm_up_names_the_modules_of_chemistry():
    assert "service.chemistry.solution" in warm_up()
