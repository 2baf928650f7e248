import pytest

from service.reference import waters as waters_module
from service.reference.elements import ions
from service.reference.formula import molar_mass
from service.reference.tables import ReferenceDataError, read_table
from service.reference.waters import Water, waters

PRESETS = ("reverse_osmosis", "rain", "soft_tap", "moderate_tap", "hard_tap", "softened_tap")


def charges(water: Water) -> tuple[float, float]:
    """Cations and anions in meq/L, alkalinity as an anion."""

    def meq(mass: float, ion: str) -> float:
        return mass * abs(ions()[ion].charge_number) / ions()[ion].molar_mass_g_per_mol

    cations = (
        meq(water.calcium_mg_per_l, "calcium")
        + meq(water.magnesium_mg_per_l, "magnesium")
        + meq(water.potassium_mg_per_l, "potassium")
        + meq(water.sodium_mg_per_l, "sodium")
        + water.ammonium_nitrogen_mg_per_l / molar_mass("N")
    )
    anions = (
        meq(water.chloride_mg_per_l, "chloride")
        + meq(water.sulfate_mg_per_l, "sulfate")
        + meq(water.nitrate_mg_per_l, "nitrate")
        + meq(water.fluoride_mg_per_l, "fluoride")
        + water.alkalinity_mg_per_l_caco3 * 2.0 / molar_mass("CaCO3")
    )
    return cations, anions


def test_presets_are_those_of_the_contract() -> None:
    assert tuple(waters()) == PRESETS


@pytest.mark.parametrize("key", PRESETS)
def test_preset_is_balanced_in_charge(key: str) -> None:
    cations, anions = charges(waters()[key])
    assert abs(cations - anions) <= 0.03 * 0.5 * (cations + anions)


@pytest.mark.parametrize("key", PRESETS)
def test_conductivity_is_about_a_tenth_of_the_charge(key: str) -> None:
    # A rule of thumb: 1 meq/L of cations is 0.08-0.12 mS/cm in dilute water; rain adds its acid.
    water = waters()[key]
    assert 0.08 <= water.ec_ms_per_cm / charges(water)[0] <= 0.15


def test_softening_swaps_hardness_for_sodium_and_leaves_alkalinity() -> None:
    hard, softened = waters()["hard_tap"], waters()["softened_tap"]
    assert softened.alkalinity_mg_per_l_caco3 == hard.alkalinity_mg_per_l_caco3
    assert softened.calcium_mg_per_l < 0.1 * hard.calcium_mg_per_l
    assert charges(softened)[0] == pytest.approx(charges(hard)[0], rel=0.01)


def test_analysis_has_the_field_names_of_a_water() -> None:
    analysis = waters()["hard_tap"].analysis()
    assert analysis["ph"] == 7.4
    assert analysis["sulfate_mg_per_l"] == 60.0
    assert "key" not in analysis
    assert all(isinstance(value, float) for value in analysis.values())


@pytest.mark.parametrize(
    ("table", "column", "value", "phrase"),
    [
        ("water_values", "unit", "mmol/L", "wrong unit"),
        ("water_values", "quantity", "taste", "unknown quantity"),
        ("water_values", "quantity", "boron", "wrong unit"),
        ("water_values", "water", "rain", "lacks ph"),
        ("waters", "key", "distilled", "lacks"),
    ],
)
def test_wrong_table_is_an_error(
    monkeypatch: pytest.MonkeyPatch, table: str, column: str, value: str, phrase: str
) -> None:
    def tampered(name: str, columns: tuple[str, ...]) -> tuple[object, ...]:
        rows = read_table(name, columns)
        return ({**rows[0], column: value}, *rows[1:]) if name == table else rows

    monkeypatch.setattr(waters_module, "read_table", tampered)
    with pytest.raises(ReferenceDataError, match=phrase):
        waters.__wrapped__()


def test_values_of_an_unknown_water_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    def tampered(name: str, columns: tuple[str, ...]) -> tuple[object, ...]:
        rows = read_table(name, columns)
        return rows[1:] if name == "waters" else rows

    monkeypatch.setattr(waters_module, "read_table", tampered)
    with pytest.raises(ReferenceDataError, match="reverse_osmosis"):
        waters.__wrapped__()
