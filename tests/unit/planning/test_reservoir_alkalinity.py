"""What a pH says of the alkalinity of a reservoir: its two ends, and when it says nothing."""

import numpy as np
import pytest

from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.equilibrium import CLOSED, INVALID_INPUT
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.solution import (
    STATE_COUNT,
    STATE_PH,
    constants_of,
    predicted_state,
    set_temperature,
    speciation_of,
    workspace,
)
from service.chemistry.water_analysis import composition_beside_air
from service.planning.catalogue import catalogue
from service.planning.known_water import known_water
from service.planning.notes import Notes
from service.planning.reservoir_alkalinity import buffered
from service.reference.components import COMPONENT_COUNT

HARD = known_water("hard_tap", catalogue(), Notes()).composition_mmol_per_l


def ph_of(composition: np.ndarray, pressure: float) -> float:
    state = np.zeros(STATE_COUNT)
    predicted_state(composition, 298.15, pressure, False, workspace(), state)
    return float(state[STATE_PH])


@pytest.mark.parametrize("ph", [5.5, 6.0, 6.5, 7.0])
def test_both_ends_have_the_ph_that_is_read(ph: float) -> None:
    known = buffered(HARD, ph, 25.0, None)
    assert known is not None
    assert ph_of(known.least_mmol_per_l, CLOSED) == pytest.approx(ph, abs=1e-5)
    assert ph_of(known.least_mmol_per_l, ATMOSPHERIC_CARBON_DIOXIDE) == pytest.approx(ph, abs=1e-3)
    assert ph_of(known.most_mmol_per_l, CLOSED) == pytest.approx(ph, abs=1e-5)
    assert known.least_meq_per_l < known.most_meq_per_l <= alkalinity_of_composition(HARD)


def test_aired_water_holds_the_bicarbonate_that_the_constants_say() -> None:
    # log KH -1.468 and pK1 6.352 (25 degrees): 427 ppm at pH 7.0 hold 10^(-3.370-1.468-6.352+7.0)
    # = 0.0646 mmol/L of bicarbonate in very thin water; ions of hard water raise it by a tenth.
    known = buffered(HARD, 7.0, 25.0, None)
    assert known is not None
    assert 0.0646 < known.least_meq_per_l < 0.0646 * 1.25


def test_no_end_is_more_alkaline_than_what_was_mixed() -> None:
    known = buffered(HARD, 9.2, 25.0, None)
    assert known is not None
    mixed = alkalinity_of_composition(HARD)
    assert known.least_meq_per_l == pytest.approx(mixed, rel=1e-9)
    assert known.most_meq_per_l == pytest.approx(mixed, rel=1e-9)


def test_a_measured_alkalinity_ends_the_guessing() -> None:
    known = buffered(HARD, 6.8, 20.0, 50.0436)
    assert known is not None
    assert known.measured
    assert known.least_meq_per_l == known.most_meq_per_l == pytest.approx(1.0, abs=1e-4)


def test_ph_without_any_alkalinity_is_not_explained() -> None:
    assert buffered(HARD, 7.0, 25.0, 0.0) is None


@pytest.mark.parametrize(("ph", "pressure"), [(np.nan, 4e-4), (7.0, -1.0), (7.0, np.nan)])
def test_composition_beside_air_outside_its_range_is_not_a_number(
    ph: float, pressure: float
) -> None:
    work, found = workspace(), np.zeros(COMPONENT_COUNT)
    set_temperature(298.15, work)
    status, error = composition_beside_air(
        0.001 * HARD, ph, pressure, constants_of(work), speciation_of(work), found
    )
    assert status == INVALID_INPUT
    assert np.isnan(error)
    assert np.isnan(found).all()
