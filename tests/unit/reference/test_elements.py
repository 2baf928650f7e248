import numpy as np
import pytest

from service.reference.components import (
    COMPONENT_COUNT,
    COMPONENT_NAMES,
    ELEMENT_NAMES,
    NOMINAL_CHARGE,
)
from service.reference.elements import ELEMENT_MATRIX, ELEMENT_SYMBOLS, ions
from service.reference.formula import atomic_weights


def of(element: str, component: str) -> float:
    return float(ELEMENT_MATRIX[ELEMENT_NAMES.index(element), COMPONENT_NAMES.index(component)])


def test_shape_follows_the_order_of_elements_and_components() -> None:
    assert ELEMENT_MATRIX.shape == (len(ELEMENT_NAMES), COMPONENT_COUNT)
    assert len(ELEMENT_SYMBOLS) == len(ELEMENT_NAMES)


@pytest.mark.parametrize(
    ("element", "component", "mg_per_mmol"),
    [
        ("nitrogen", "nitrate", 14.007),
        ("nitrogen", "ammonium", 14.007),
        ("nitrogen", "urea", 28.014),
        ("phosphorus", "phosphate", 30.974),
        ("sulfur", "sulfate", 32.06),
        ("iron", "iron", 55.845),
        ("iron", "iron_chelate", 55.845),
        ("boron", "borate", 10.81),
        ("molybdenum", "molybdate", 95.95),
        ("silicon", "silicate", 28.085),
        ("fluorine", "fluoride", 18.998),
    ],
)
def test_component_brings_its_element(element: str, component: str, mg_per_mmol: float) -> None:
    assert of(element, component) == pytest.approx(mg_per_mmol)


def test_each_component_brings_one_element_and_three_bring_none() -> None:
    brought = np.count_nonzero(ELEMENT_MATRIX, axis=0)
    none = {COMPONENT_NAMES[i] for i in np.flatnonzero(brought == 0)}
    assert none == {"carbonate", "citrate", "unmeasured"}
    assert brought.max() == 1


def test_matrix_is_read_only() -> None:
    with pytest.raises(ValueError, match="read-only"):
        ELEMENT_MATRIX[0, 0] = 1.0


def test_symbols_belong_to_the_atomic_weights() -> None:
    assert set(ELEMENT_SYMBOLS) <= set(atomic_weights())


def test_charge_of_strong_ions_is_the_nominal_charge_of_their_component() -> None:
    weak = {"phosphate", "carbonate", "borate", "citrate", "silicate"}
    for ion in ions().values():
        if ion.component not in weak:
            assert ion.charge_number == NOMINAL_CHARGE[COMPONENT_NAMES.index(ion.component)]


def test_molar_mass_of_nitrate() -> None:
    assert ions()["nitrate"].molar_mass_g_per_mol == pytest.approx(62.004)
