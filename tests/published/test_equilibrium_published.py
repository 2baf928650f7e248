"""
Equilibrium constants, activity coefficients and acid doses in print.

`equilibrium_constants.csv` holds printed constants, `equilibrium_acid_doses.csv` doses that an
engine computed with other databases than ours is tuned to. Tolerances are half a unit of the last
printed digit wherever the same equation is used; where ours comes from another publication, the
table `OTHER_PUBLICATIONS` says how far the two are apart and why.

Left out, because they are volumes and masses of a commercial acid and need its density: UMA-001 to
-012, GMT-002, -004 and -006, VID-001, -002, -005, -007, -008, PLN-003, SKL-001, HIL-002, -004, -006
and all density and normality rows (LAL, PER, ECH, RGT, DMM); they belong with the densities.
VID-011 is advice (leave 0.5 meq/L), no equilibrium. CNV rows are units, PHD rows conductivities.
"""

import csv
import math
import re
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from service.chemistry.acidification import reagent_for_alkalinity, reagent_for_ph
from service.chemistry.activity import (
    debye_hueckel_a,
    log10_activity_coefficient_davies_1962,
    log10_activity_coefficient_truesdell_jones_1974,
)
from service.chemistry.alkalinity import alkalinity, alkalinity_of_composition
from service.chemistry.equilibrium import CLOSED, OK, speciate
from service.chemistry.equilibrium_constants import (
    CARBON_DIOXIDE_SOLUBILITY,
    constants_array,
    fill_constants,
)
from service.chemistry.ph import speciate_closed
from service.chemistry.saturation import (
    BRUSHITE,
    CALCITE,
    GYPSUM,
    SOLID_COUNT,
    STRUVITE,
    fill_saturation_constants,
)
from service.chemistry.species import SPECIES_NAMES
from service.chemistry.water_analysis import composition_from_alkalinity
from service.chemistry.workspace import MOLALITY, PH, workspace
from service.reference.components import (
    AMMONIUM,
    CALCIUM,
    CITRATE,
    COMPONENT_COUNT,
    NITRATE,
    PHOSPHATE,
    SODIUM,
    SULFATE,
)
from tests.comparisons import IPHREEQC, compared, computed_by

FOLDER = Path(__file__).parent
REAGENTS = {
    "nitric": NITRATE,
    "phosphoric": PHOSPHATE,
    "sulfuric": SULFATE,
    "citric": CITRATE,
}

OTHER_PUBLICATIONS = {
    "HAR": (0.002, "Harned's own fits of the carbonate system; ours is Plummer and Busenberg 1982"),
    "MIL": (0.001, "Millero's refit of Harned's data"),
    "KWA": (
        0.008,
        "IAPWS 2006; ours is PHREEQC's: 0.001 apart at 15 to 40 degrees, 0.008 at 0",
    ),
    "EME": (
        0.007,
        "Emerson 1975; ours is the later review of Goldberg 2002",
    ),
    "PHQ": (0.03, "another release of the database: phosphate of NIST 46, rounded constants"),
    "MIN": (0.03, "MINTEQA2: phosphate of NIST 46, rounded constants"),
}

NOT_ADOPTED = {
    "PHQ-010": "calcite -8.45 of the 2021 release; Plummer and Busenberg print -8.48",
    "PHQ-011": "gypsum -4.55 of that release belongs with its CaSO4 2.14; ours are -4.58 and 2.25",
    "PHQ-012": "CaSO4 2.14 of that release belongs with its gypsum -4.55",
    "PHQ-013": "MgSO4 2.42 of that release; ours is 2.37",
    "PHQ-014": "that release in effect drops the ion pair; Plummer and Busenberg print 1.11",
}


def table(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def half_digit(printed: str) -> float:
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent * (1.0 + 1e-9)


def kelvin(conditions: str) -> float:
    found = re.search(r"(-?[\d.]+) C\b", conditions)
    return 273.15 + (float(found[1]) if found else 25.0)


def log10_constants(temperature: float) -> dict[str, float]:
    constants = constants_array()
    fill_constants(temperature, constants)
    values = {n: math.log10(constants[i]) for i, n in enumerate(SPECIES_NAMES)}
    values["CO2(g)"] = math.log10(constants[CARBON_DIOXIDE_SOLUBILITY])
    return values


def solubility_products(temperature: float) -> np.ndarray:
    saturation_constants = np.zeros(SOLID_COUNT)
    fill_saturation_constants(temperature, saturation_constants)
    return saturation_constants


def constant_of(quantity: str, k: dict[str, float], ksp: np.ndarray) -> float:
    """Return ours of a printed quantity."""
    ours = {
        "pK1 (CO2(aq)+H2O = H+ + HCO3-)": k["CO2"] - k["HCO3-"],
        "pK1 of carbonic acid": k["CO2"] - k["HCO3-"],
        "pK2 (HCO3- = H+ + CO3 2-)": k["HCO3-"],
        "pK2 of carbonic acid": k["HCO3-"],
        "carbonic acid pK2": k["HCO3-"],
        "log10 KH (CO2(g) = CO2(aq), mol/(kg atm))": k["CO2(g)"],
        "log K, CO2(g) = CO2(aq)": k["CO2(g)"],
        "pKw of water": -k["OH-"],
        "log K, H2O = OH- + H+": k["OH-"],
        "log K, CO3 2- + H+ = HCO3-": k["HCO3-"],
        "log K, CO3 2- + 2 H+ = CO2 + H2O": k["CO2"],
        "log K, SO4 2- + H+ = HSO4-": k["HSO4-"],
        "log K, NH4+ = NH3 + H+": k["NH3"],
        "ammonium pK": -k["NH3"],
        "pKa of ammonium": -k["NH3"],
        "log K, PO4 3- + H+ = HPO4 2-": k["HPO4-2"],
        "log K, PO4 3- + 2 H+ = H2PO4-": k["H2PO4-"],
        "log K, PO4 3- + 3 H+ = H3PO4": k["H3PO4"],
        "phosphoric acid pK1": k["H3PO4"] - k["H2PO4-"],
        "phosphoric acid pK2": k["H2PO4-"] - k["HPO4-2"],
        "phosphoric acid pK3": k["HPO4-2"],
        "log K, citrate3- + H+": k["HCit-2"],
        "log K, citrate3- + 2 H+": k["H2Cit-"],
        "log K, citrate3- + 3 H+": k["H3Cit"],
        "citric acid pK1": k["H3Cit"] - k["H2Cit-"],
        "citric acid pK2": k["H2Cit-"] - k["HCit-2"],
        "citric acid pK3": k["HCit-2"],
        "log K, Ca2+ + HPO4 2- = CaHPO4(aq)": k["CaHPO4"] - k["HPO4-2"],
        "log K, Ca2+ + H2PO4- = CaH2PO4+": k["CaH2PO4+"] - k["H2PO4-"],
        "log Ksp calcite": ksp[CALCITE],
    }
    return float(ours[quantity])


CONSTANTS = [
    row
    for row in table("equilibrium_constants.csv")
    if row["id"] not in NOT_ADOPTED
    and row["id"][:3] not in ("DAV", "EFF")
    and "fraction" not in row["quantity"]
]


@pytest.mark.parametrize("row", CONSTANTS, ids=lambda row: row["id"])
def test_constant_is_as_printed(row):
    temperature = kelvin(row["conditions"])
    ours = constant_of(
        row["quantity"], log10_constants(temperature), solubility_products(temperature)
    )
    tolerance, _ = OTHER_PUBLICATIONS.get(row["id"][:3], (0.0, ""))
    allowed = max(half_digit(row["value"]), tolerance)
    compared("equilibrium_constants", row, float(row["value"]), ours, allowed)


def test_constants_left_out_differ_as_their_reason_says():
    rows = table("equilibrium_constants.csv")
    printed = {row["id"]: float(row["value"]) for row in rows if row["id"] in NOT_ADOPTED}
    k, ksp = log10_constants(298.15), solubility_products(298.15)
    ours = {
        "PHQ-010": ksp[CALCITE],
        "PHQ-011": ksp[GYPSUM],
        "PHQ-012": k["CaSO4"],
        "PHQ-013": k["MgSO4"],
        "PHQ-014": k["CaHCO3+"],
    }
    assert set(ours) == set(NOT_ADOPTED)
    for key, value in ours.items():
        assert 0.02 < abs(value - printed[key]) < 6.0


@pytest.mark.parametrize(
    "row",
    [r for r in table("equilibrium_constants.csv") if "fraction" in r["quantity"]],
    ids=lambda row: row["id"],
)
def test_ammonia_fraction_is_as_printed(row):
    # Emerson's pKa is 0.0014 above ours at 25 degrees Celsius: 0.32 % of a small fraction.
    ph = float(re.search(r"pH ([\d.]+)", row["conditions"])[1])
    composition = np.zeros(COMPONENT_COUNT)
    composition[AMMONIUM] = 1e-9
    constants, ws = constants_array(), workspace()
    fill_constants(kelvin(row["conditions"]), constants)
    assert speciate(composition, constants, CLOSED, ph, False, ws) == OK
    percent = 100.0 * ws[MOLALITY + SPECIES_NAMES.index("NH3")] / composition[AMMONIUM]
    printed = float(row["value"])
    allowed = half_digit(row["value"]) + 0.0045 * printed
    compared("ammonia_fraction", row, printed, percent, allowed)


@pytest.mark.parametrize(
    "row",
    [r for r in table("equilibrium_constants.csv") if r["id"].startswith("EFF")],
    ids=lambda row: row["id"],
)
def test_hydrogen_ions_released_per_mole_of_acid_are_as_printed(row):
    k = log10_constants(298.15)
    ph = float(re.search(r"pH ([\d.]+)", row["conditions"])[1])
    chain = ("H3Cit", "H2Cit-", "HCit-2") if "citric" in row["quantity"] else ()
    chain = chain or ("H3PO4", "H2PO4-", "HPO4-2")
    weights = [10.0 ** (k[name] - (3 - lost) * ph) for lost, name in enumerate(chain)] + [1.0]
    released = sum(lost * weight for lost, weight in enumerate(weights)) / sum(weights)
    compared("hydrogen_released", row, float(row["value"]), released, half_digit(row["value"]))


def test_phosphoric_acid_of_a_printed_table_ends_near_ph_6_35():
    # GMT-005 (published, n.d.): 27.5 mg/L P, 0.888 mmol/L, take 50 mg/L CaCO3, 0.999 meq/L, away:
    # 1.125 hydrogen ions per molecule, which is what it gives off when it ends near pH 6.35.
    k = log10_constants(298.15)
    printed = (50.0 / 50.0435) / (27.5 / 30.974)
    released = 1.0 + 1.0 / (1.0 + 10.0 ** (k["H2PO4-"] - k["HPO4-2"] - 6.35))
    assert printed == pytest.approx(released, abs=0.005)


DAVIES = {r["id"]: r for r in table("equilibrium_constants.csv") if r["id"].startswith("DAV")}


def test_davies_coefficients_are_as_printed():
    # Printed with A = 0.5108 of another dielectric constant; ours is 0.5100.
    assert debye_hueckel_a(298.15) == pytest.approx(float(DAVIES["DAV-002"]["value"]), abs=0.001)
    for key in ("DAV-003", "DAV-004", "DAV-005", "DAV-006", "DAV-007"):
        row = DAVIES[key]
        strength = float(re.search(r"I = ([\d.]+)", row["conditions"])[1])
        ours = 10.0 ** log10_activity_coefficient_davies_1962(1.0, strength, 298.15)
        compared("activity_coefficients", row, float(row["value"]), ours, 5e-4)


def test_truesdell_jones_without_parameters_is_the_limiting_law():
    ours = log10_activity_coefficient_truesdell_jones_1974(2.0, 0.0, 0.0, 1e-4, 298.15)
    assert ours == pytest.approx(-4.0 * debye_hueckel_a(298.15) * 0.01, rel=1e-12)


def test_solubility_products_are_as_published():
    # gregory-moreno-brown-1970 pKs 6.59; ronteltap-maurer-gujer-2007 13.26 +- 0.057 at 25 degrees.
    k, ksp = log10_constants(298.15), solubility_products(298.15)
    for key, printed, ours in (
        ("gregory-moreno-brown-1970", -6.59, ksp[BRUSHITE] + k["HPO4-2"]),
        ("ronteltap-maurer-gujer-2007", -13.26, ksp[STRUVITE]),
        ("parkhurst-appelo-2013", -4.58, ksp[GYPSUM]),
    ):
        row = {"id": key, "basis": "published", "source": key, "locator": "solubility product"}
        compared("equilibrium_constants", row, printed, float(ours), 0.005)


def test_brushite_has_the_sign_that_one_database_prints_wrong():
    # One database prints +6.55 for CaHPO4.2H2O = Ca+2 + HPO4-2 + 2 H2O; it must be negative.
    k, ksp = log10_constants(298.15), solubility_products(298.15)
    assert -6.7 < ksp[BRUSHITE] + k["HPO4-2"] < -6.5


def water_of(cation: int, equivalents: float, ph: float) -> np.ndarray:
    """Return a bicarbonate water of one cation at 25 degrees Celsius."""
    analysis, composition = np.zeros(COMPONENT_COUNT), np.zeros(COMPONENT_COUNT)
    analysis[cation] = equivalents * 1e-3 / (2.0 if cation == CALCIUM else 1.0)
    constants = constants_array()
    fill_constants(298.15, constants)
    status, error = composition_from_alkalinity(
        analysis, ph, equivalents, constants, workspace(), composition
    )
    assert status == OK
    assert error == pytest.approx(0.0, abs=1e-9)
    return composition


def acid_dose(water: np.ndarray, acid: str, ph: float) -> float:
    """Return a dose [mmol/kg]."""
    constants, reagent = constants_array(), np.zeros(COMPONENT_COUNT)
    fill_constants(298.15, constants)
    reagent[REAGENTS[acid]] = 1.0
    status, amount = reagent_for_ph(
        water, reagent, ph, constants, CLOSED, workspace(), np.zeros(COMPONENT_COUNT)
    )
    assert status == OK
    return 1000.0 * amount


@pytest.mark.parametrize("row", table("equilibrium_acid_doses.csv"), ids=lambda row: row["id"])
def test_acid_dose_is_as_computed_with_other_databases(row):
    cation = {"sodium": SODIUM, "calcium": CALCIUM}[row["cation"]]
    water = water_of(cation, float(row["alkalinity_meq_per_l"]), float(row["start_ph"]))
    ours = acid_dose(water, row["acid"], float(row["target_ph"]))
    # 2 % or 0.01 mmol/L is asked; the strong acids and the rounding of the print allow less.
    relative = {"nitric": 0.002, "sulfuric": 0.002, "phosphoric": 0.005, "citric": 0.006}
    dose = float(row["acid_mmol_per_l"])
    compared("acid_doses", row, dose, ours, relative[row["acid"]] * dose)


def test_harder_water_needs_more_than_four_times_the_acid():
    # VID-013 (published lecture, Universidad de Concepcion, n.d.): bicarbonate 1.42 meq/L at pH 9.3
    # against 6.2 meq/L at pH 8.3, both to pH 5.8: "more than 4"; PHREEQC 1.132 and 4.754 meq/L.
    soft = acid_dose(water_of(SODIUM, 1.42, 9.3), "nitric", 5.8)
    hard = acid_dose(water_of(SODIUM, 6.2, 8.3), "nitric", 5.8)
    assert hard / soft > 4.0
    for identity, theirs, ours in (("soft", 1.132, soft), ("hard", 4.754, hard)):
        row = computed_by(IPHREEQC, f"VID-013-{identity}", "closed, to pH 5.8")
        compared("acid_doses", row, theirs, ours, 0.005 * theirs)


def test_leaving_an_alkalinity_takes_the_difference_and_ends_where_phreeqc_says():
    # PLN-004 (informal): 4.6 meq/L at pH 6.74 down to 0.7 takes 3.9 meq/L. PHREEQC (PLN-003, note):
    # that ends at pH 5.42, and pH 5.5 exactly would take 3.77.
    water = water_of(SODIUM, 4.6, 6.74)
    reagent, mixture = np.zeros(COMPONENT_COUNT), np.zeros(COMPONENT_COUNT)
    reagent[NITRATE] = 1.0
    status, amount = reagent_for_alkalinity(water, reagent, 0.7, mixture)
    assert status == OK
    assert 1000.0 * amount == pytest.approx(3.9, abs=1e-9)
    constants, ws = constants_array(), workspace()
    fill_constants(298.15, constants)
    assert speciate_closed(mixture, constants, ws) == OK
    assert ws[PH] == pytest.approx(5.42, abs=0.01)
    assert alkalinity(ws) == pytest.approx(0.7, abs=1e-9)
    assert acid_dose(water, "nitric", 5.5) == pytest.approx(3.77, abs=0.01)


def test_the_printed_dose_that_does_not_recompute_is_not_repeated():
    # NCB-001 (published, n.d.): alkalinity 3.7 meq/L at pH 6.5, to pH 5 with sulfuric acid. The
    # print gives what supplies 1.52 meq/L; PHREEQC needs 1.715 mmol/L, 3.43 meq/L.
    dose = acid_dose(water_of(SODIUM, 3.7, 6.5), "sulfuric", 5.0)
    assert dose == pytest.approx(1.715, rel=0.01)
    assert 2.0 * dose > 2.0 * 1.52


@pytest.mark.parametrize(
    ("acid", "equivalents", "supplied"),
    [
        ("nitric", 1.0, 0.768),
        ("sulfuric", 2.0, 0.773),
        ("phosphoric", 1.0, 0.765),
        ("citric", 2.2, 0.78),
    ],
)
def test_ending_near_ph_5_8_takes_about_four_fifths_of_the_alkalinity(acid, equivalents, supplied):
    # HIL-001, -003, -005, -007 (from memory, plausibility only): acid per meq/L of alkalinity to
    # reach "about pH 5.8"; what their volumes supply at the density of the acid, in meq/L, citric
    # acid at 2.2 hydrogen ions per molecule.
    water = water_of(SODIUM, 1.0, 7.8)
    assert equivalents * acid_dose(water, acid, 5.8) == pytest.approx(supplied, rel=0.06)


def test_phosphoric_acid_counts_once_and_sulfuric_twice_against_alkalinity():
    # VID-003, -006, -009 (published lecture): equivalent weights 98.04, 63.02 and 49.04 g/eq.
    expected = {"phosphoric": 1.0, "nitric": 1.0, "sulfuric": 2.0}
    for acid, equivalents in expected.items():
        reagent = np.zeros(COMPONENT_COUNT)
        reagent[REAGENTS[acid]] = 1.0
        assert alkalinity_of_composition(reagent) == -equivalents
