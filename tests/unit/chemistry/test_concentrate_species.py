"""Weak acids of a concentrate: mass action, balances and charge, from what is reported alone."""

import math

import numpy as np
import pytest

from service.chemistry import concentrate_ions as ions
from service.chemistry import species
from service.chemistry.concentrate import Brine, brine
from service.chemistry.concentrate_solids import SALT_OF_SOLID, SOLID_COUNT, SOLID_NAMES
from service.chemistry.concentrate_species import (
    LN_GAMMA,
    LN_WATER_ACTIVITY,
    OK,
    PH,
    REJECTED,
    STATE_SIZE,
    dissolve,
)
from service.chemistry.pitzer import pitzer_activities
from service.reference import components

EVERYTHING = {
    components.CALCIUM: 0.2,
    components.MAGNESIUM: 0.11,
    components.POTASSIUM: 0.5,
    components.SODIUM: 0.03,
    components.AMMONIUM: 0.2,
    components.NITRATE: 0.9,
    components.CHLORIDE: 0.05,
    components.SULFATE: 0.1,
    components.PHOSPHATE: 0.15,
    components.CARBONATE: 0.02,
    components.BORATE: 0.01,
    components.CITRATE: 0.04,
    components.IRON: 0.001,
    components.IRON_CHELATE: 0.002,
    components.MANGANESE: 0.0013,
    components.ZINC: 0.0007,
    components.COPPER: 0.0005,
    components.MOLYBDATE: 0.0003,
    components.SILICATE: 0.006,
    components.FLUORIDE: 0.004,
    components.UREA: 0.07,
    components.UNMEASURED: 0.0,
}
CASES = {
    "as a feed": {},
    "alkaline": {components.POTASSIUM: 2.2, components.UNMEASURED: 0.05},
    "about neutral": {components.POTASSIUM: 0.78, components.UNMEASURED: -0.03},
    "acid": {components.NITRATE: 1.6, components.UNMEASURED: -0.06},
}


@pytest.fixture(scope="module")
def model() -> Brine:
    return brine(298.15)


def state_of(composition: np.ndarray, model: Brine) -> tuple[int, np.ndarray]:
    state = np.zeros(STATE_SIZE)
    arrays = model.salts, model.pairs, model.triplets
    return dissolve(composition, model.constants, model.slope, *arrays, state), state


def everything(changed: dict[int, float]) -> np.ndarray:
    composition = np.zeros(components.COMPONENT_COUNT)
    for component, amount in {**EVERYTHING, **changed}.items():
        composition[component] = amount
    return composition


@pytest.mark.parametrize("case", CASES)
def test_every_form_obeys_mass_action_and_every_component_is_all_there(
    case: str, model: Brine
) -> None:
    composition = everything(CASES[case])
    status, state = state_of(composition, model)
    assert status == OK
    held, k = state[: ions.SPECIES_COUNT], model.constants
    gamma = np.exp(state[LN_GAMMA : LN_GAMMA + ions.SPECIES_COUNT])
    activity = held * gamma
    h, w = 10.0 ** -state[PH], math.exp(state[LN_WATER_ACTIVITY])
    about = pytest.approx
    assert activity[ions.HYDROGEN] == about(h)
    assert activity[ions.HYDROXIDE] == about(k[species.HYDROXIDE_ION] * w / h)

    # Ions of which no coefficients are known act as chloride and sulfate; one of three charges
    # counts as one of each.
    one, two = gamma[ions.INERT_ANION], gamma[ions.INERT_DIVALENT_ANION]
    phosphate = activity[ions.HYDROGEN_PHOSPHATE] / k[species.HYDROGEN_PHOSPHATE_ION] / h
    assert activity[ions.DIHYDROGEN_PHOSPHATE] == about(
        k[species.DIHYDROGEN_PHOSPHATE_ION] * h**2 * phosphate
    )
    assert activity[ions.PHOSPHORIC_ACID] == about(k[species.PHOSPHORIC_ACID] * h**3 * phosphate)
    last = phosphate / (one * two)
    forms = (ions.HYDROGEN_PHOSPHATE, ions.DIHYDROGEN_PHOSPHATE, ions.PHOSPHORIC_ACID)
    assert last + held[list(forms)].sum() == about(composition[components.PHOSPHATE])

    carbonate = activity[ions.CARBONATE]
    assert activity[ions.BICARBONATE] == about(k[species.BICARBONATE_ION] * h * carbonate)
    assert activity[ions.CARBON_DIOXIDE] == about(k[species.CARBON_DIOXIDE] * h**2 / w * carbonate)
    forms = (ions.CARBONATE, ions.BICARBONATE, ions.CARBON_DIOXIDE)
    assert held[list(forms)].sum() == about(composition[components.CARBONATE])

    citrate = held[ions.CITRIC_ACID] / (k[species.CITRIC_ACID] * h**3)
    citrates = (
        citrate / (one * two),
        k[species.HYDROGEN_CITRATE_ION] * h * citrate / two,
        k[species.DIHYDROGEN_CITRATE_ION] * h**2 * citrate / one,
    )
    assert sum(citrates) + held[ions.CITRIC_ACID] == about(composition[components.CITRATE])

    assert activity[ions.BORATE] == about(k[species.BORATE_ION] * w / h * held[ions.BORIC_ACID])
    assert held[ions.BORATE] + held[ions.BORIC_ACID] == about(composition[components.BORATE])
    silicate = k[species.TRIHYDROGEN_SILICATE_ION] / h / one * held[ions.SILICIC_ACID]
    assert silicate + held[ions.SILICIC_ACID] == about(composition[components.SILICATE])
    assert held[ions.AMMONIA] == about(k[species.AMMONIA] / h * activity[ions.AMMONIUM])
    assert held[ions.AMMONIUM] + held[ions.AMMONIA] == about(composition[components.AMMONIUM])

    unmeasured = composition[components.UNMEASURED]
    chelate, fluoride = composition[components.IRON_CHELATE], composition[components.FLUORIDE]
    assert held[ions.INERT_ANION] == about(
        last + citrates[0] + citrates[2] + silicate + chelate + fluoride + max(-unmeasured, 0.0)
    )
    assert held[ions.INERT_DIVALENT_ANION] == about(last + citrates[0] + citrates[1])
    assert held[ions.INERT_CATION] == max(unmeasured, 0.0)
    whole = {
        ions.CALCIUM: components.CALCIUM,
        ions.MAGNESIUM: components.MAGNESIUM,
        ions.POTASSIUM: components.POTASSIUM,
        ions.SODIUM: components.SODIUM,
        ions.MANGANESE: components.MANGANESE,
        ions.IRON: components.IRON,
        ions.ZINC: components.ZINC,
        ions.COPPER: components.COPPER,
        ions.CHLORIDE: components.CHLORIDE,
        ions.NITRATE: components.NITRATE,
        ions.SULFATE: components.SULFATE,
        ions.MOLYBDATE: components.MOLYBDATE,
        ions.UREA: components.UREA,
    }
    assert {ion: held[ion] for ion in whole} == {
        ion: composition[component] for ion, component in whole.items()
    }
    # As many positive as negative charges, hydrogen and hydroxide included.
    assert float(ions.CHARGES @ held) == about(0.0, abs=1e-9 + 1e-6 * held[ions.HYDROXIDE])


@pytest.mark.parametrize("case", CASES)
def test_activities_are_those_of_the_species_found(case: str, model: Brine) -> None:
    _, state = state_of(everything(CASES[case]), model)
    again = np.zeros(ions.SPECIES_COUNT)
    water = pitzer_activities(
        state[: ions.SPECIES_COUNT],
        model.slope,
        model.salts,
        model.pairs,
        model.triplets,
        again,
    )
    found = state[LN_GAMMA : LN_GAMMA + ions.SPECIES_COUNT]
    assert found == pytest.approx(again, abs=1e-5)
    assert state[LN_WATER_ACTIVITY] == pytest.approx(water, rel=1e-5)


def test_the_cases_reach_every_form(model: Brine) -> None:
    found = {case: state_of(everything(changed), model)[1][PH] for case, changed in CASES.items()}
    assert found["alkaline"] > 12.0
    assert 6.0 < found["about neutral"] < 9.0
    assert found["acid"] < 2.0


def test_pure_water_is_neutral(model: Brine) -> None:
    status, state = state_of(np.zeros(components.COMPONENT_COUNT), model)
    assert status == OK
    assert state[PH] == pytest.approx(6.998, abs=0.005)
    assert state[LN_WATER_ACTIVITY] == pytest.approx(0.0, abs=1e-8)


@pytest.mark.parametrize("amount", [-1e-6, math.nan, math.inf])
def test_what_is_no_amount_is_rejected_and_unmeasured_charge_may_be_negative(
    amount: float, model: Brine
) -> None:
    composition = everything({components.ZINC: amount})
    status, state = state_of(composition, model)
    assert status == REJECTED
    assert math.isnan(state[PH])
    composition = everything({components.UNMEASURED: -0.01})
    assert state_of(composition, model)[0] == OK


def test_a_slope_out_of_range_is_rejected(model: Brine) -> None:
    state = np.zeros(STATE_SIZE)
    arrays = model.salts, model.pairs, model.triplets
    assert dissolve(everything({}), model.constants, math.nan, *arrays, state) == REJECTED
    assert math.isnan(state[PH])


def test_every_solid_has_a_salt_of_the_table_or_a_published_constant() -> None:
    assert set(SALT_OF_SOLID[SALT_OF_SOLID < 0].tolist()) == {-1}
    assert SALT_OF_SOLID.size == SOLID_COUNT == len(SOLID_NAMES)
