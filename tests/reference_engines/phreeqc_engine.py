"""
PHREEQC in process, fed with our vectors of components.

Ammonium is the database's redox-free `Amm`, iron and manganese its inert `[Fe+2]` and `[Mn+2]`,
nitrate an added inert `Nit`, because the nitrate and the ferrous iron of a feed do not react at
these temperatures. Citrate is not in the database and is added; chelated iron and unmeasured
charge are its inert ions.
"""

import contextlib
import math
import tempfile

import numpy as np
import phreeqpython

from service.chemistry.equilibrium_constants import FORMATIONS, temperature_function
from service.chemistry.species import SPECIES_CHARGES, SPECIES_NAMES
from service.reference.components import (
    AMMONIUM,
    BORATE,
    CALCIUM,
    CARBONATE,
    CHLORIDE,
    CITRATE,
    COPPER,
    FLUORIDE,
    IRON,
    IRON_CHELATE,
    MAGNESIUM,
    MANGANESE,
    NITRATE,
    PHOSPHATE,
    POTASSIUM,
    SILICATE,
    SODIUM,
    SULFATE,
    UNMEASURED,
    ZINC,
)
from service.reference.equilibrium_tables import (
    load_activity_parameters,
    load_equilibrium_constants,
    load_saturation_constants,
)

TOTALS = {
    CALCIUM: "Ca",
    MAGNESIUM: "Mg",
    POTASSIUM: "K",
    SODIUM: "Na",
    AMMONIUM: "Amm",
    NITRATE: "Nit",
    CHLORIDE: "Cl",
    SULFATE: "S(6)",
    PHOSPHATE: "P",
    CARBONATE: "C(4)",
    BORATE: "B",
    CITRATE: "Cit",
    IRON: "[Fe+2]",
    MANGANESE: "[Mn+2]",
    ZINC: "Zn",
    COPPER: "Cu(2)",
    SILICATE: "Si",
    FLUORIDE: "F",
}

ADDED_IONS = """
SOLUTION_MASTER_SPECIES
Cit Cit-3 2.0 189.1 189.1
Nit Nit- 0.0 62.0 62.0
SOLUTION_SPECIES
Cit-3 = Cit-3
Nit- = Nit-
 -gamma 3.0 0.0
"""

SOLIDS_BLOCK = """
PHASES
Brushite
 CaHPO4:2H2O = Ca+2 + HPO4-2 + 2 H2O
 -analytic 18.18087 -0.04203102 -3649.594
Struvite
 MgAmmHPO4:6H2O = Mg+2 + AmmH+ + PO4-3 + 6 H2O
 -log_k -13.26
 -delta_h 22.6 kJ
"""

ATMOSPHERE_IN_BAR = 1.01325

OUR_NAMES = {
    "NH4+": "AmmH+",
    "NH3": "Amm",
    "NH4SO4-": "AmmHSO4-",
    "B(OH)3": "H3BO3",
}
"""What the database calls a species of ours."""


def _equation(text: str) -> str:
    left, right = text.split(" = ")
    sides = []
    for side in (left, right):
        terms = []
        for term in side.split(" + "):
            number, _, name = term.rpartition(" ")
            terms.append(f"{number} {OUR_NAMES.get(name, name)}".strip())
        sides.append(" + ".join(terms))
    return " = ".join(sides)


def _formation(name: str, powers: dict[str, int]) -> str:
    """Write a species as formed from masters, the form in which the engine wants it."""
    left, right = [], [OUR_NAMES.get(name, name)]
    for master, power in powers.items():
        term = f"{abs(power)} {OUR_NAMES.get(master, master)}"
        (left if power > 0 else right).append(term)
    return " + ".join(left) + " = " + " + ".join(right)


def our_species(only_citrate: bool) -> str:
    """Return SOLUTION_SPECIES with our constants and activity parameters."""
    activity = {row.species: row for row in load_activity_parameters()}
    lines = ["SOLUTION_SPECIES"]
    for name, charge in zip(SPECIES_NAMES, SPECIES_CHARGES, strict=True):
        if only_citrate and "Cit" not in name:
            continue
        if name in FORMATIONS:
            formation = FORMATIONS[name]
            lines.append(_formation(name, formation.powers))
            lines.append(" -analytic " + " ".join(f"{a:.12g}" for a in formation.coefficients))
        elif name in OUR_NAMES.values() or name in OUR_NAMES or name in PLAIN_MASTERS:
            lines.append(f"{OUR_NAMES.get(name, name)} = {OUR_NAMES.get(name, name)}")
        else:
            continue
        row = activity[name]
        if charge and row.model != "davies":
            lines.append(f" -gamma {row.ion_size_angstrom} {row.b_kg_per_mol}")
    if not only_citrate:
        # Species of the database that ours does not know.
        lines += ["H3BO3 = H2BO3- + H+", " -log_k -99", "Na+ + OH- = NaOH", " -log_k -99"]
    return "\n".join(lines) + "\n"


PLAIN_MASTERS = {"H+", "Ca+2", "Mg+2", "K+", "Na+", "Cl-", "SO4-2", "PO4-3", "CO3-2"}
PLAIN_MASTERS |= {"Cit-3", "H4SiO4", "F-"}


def our_phases() -> str:
    """Return PHASES with our solubility of carbon dioxide and our saturation constants."""
    lines = ["PHASES"]
    gas = next(row for row in load_equilibrium_constants() if row.name == "CO2(g)")
    lines += ["CO2(g)", " CO2 = CO2"]
    lines.append(" -analytic " + " ".join(f"{a:.12g}" for a in temperature_function(gas)))
    for row in load_saturation_constants():
        equation = _equation(row.reaction).replace("MgNH4PO4:6H2O", "MgAmmHPO4:6H2O")
        lines += [row.name.capitalize(), f" {equation}"]
        lines.append(" -analytic " + " ".join(f"{a:.12g}" for a in temperature_function(row)))
    return "\n".join(lines) + "\n"


class Phreeqc:
    """One PHREEQC with vitens.dat, with its own constants or with ours."""

    def __init__(self, our_constants: bool = False) -> None:
        self.program = phreeqpython.PhreeqPython(database="vitens.dat").ip
        self.our_constants = our_constants
        block = ADDED_IONS + our_species(only_citrate=not our_constants)
        block += our_phases() if our_constants else SOLIDS_BLOCK
        self.run(block + "END\n")

    def run(self, text: str) -> None:
        """Run an input in a folder of its own, where the engine may leave its error files."""
        with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
            self.program.run_string(text)

    def _solution(self, number: int, row: np.ndarray, celsius: float, ph: str) -> list[str]:
        lines = [
            f"SOLUTION {number}",
            " units mol/kgw",
            f" temp {celsius:.10g}",
            f" pH {ph}",
            " pe 8",
        ]
        lines += [
            f" {name} {float(row[component]):.14g}"
            for component, name in TOTALS.items()
            if row[component] > 0.0
        ]
        negative = float(row[IRON_CHELATE]) + max(-float(row[UNMEASURED]), 0.0)
        if negative:
            lines.append(f" Nmod {negative:.14g}")
        if row[UNMEASURED] > 0.0:
            lines.append(f" Pmod {float(row[UNMEASURED]):.14g}")
        return lines

    def solve(
        self,
        compositions: np.ndarray,
        temperature: np.ndarray,
        carbon_dioxide_pressure: float | None = None,
        solids: tuple[str, ...] = (),
        start_ph: float = 7.0,
    ) -> np.ndarray:
        """
        Return pH, ionic strength, then saturation indices of every row.

        The engine's own iteration does not converge from every first pH, so rows that fail are
        halved and tried again from others; where it starts does not change where it ends.
        """
        count = len(compositions)
        if count > 100:
            half = count // 2
            parts = [
                self.solve(rows, kelvin, carbon_dioxide_pressure, solids)
                for rows, kelvin in (
                    (compositions[:half], temperature[:half]),
                    (compositions[half:], temperature[half:]),
                )
            ]
            return np.concatenate(parts)
        lines = ["SELECTED_OUTPUT 1", " -reset false", " -state true", "USER_PUNCH 1"]
        lines.append(" -headings " + " ".join(["ph", "mu", *solids]))
        lines.append(" -start")
        lines.append(' 10 PUNCH -LA("H+"), MU' + "".join(f', SI("{s}")' for s in solids))
        lines.append(" -end")
        for row in range(count):
            lines += self._solution(
                row + 1, compositions[row], temperature[row] - 273.15, f"{start_ph} charge"
            )
            if carbon_dioxide_pressure is not None:
                index = math.log10(carbon_dioxide_pressure / ATMOSPHERE_IN_BAR)
                lines += ["EQUILIBRIUM_PHASES 1", f" CO2(g) {index:.12g} 10"]
            lines.append("END")
        try:
            self.run("\n".join(lines) + "\n")
        except Exception:
            if count > 1:
                return np.concatenate(
                    [
                        self.solve(
                            compositions[i : i + 1],
                            temperature[i : i + 1],
                            carbon_dioxide_pressure,
                            solids,
                        )
                        for i in range(count)
                    ]
                )
            following = {7.0: 5.0, 5.0: 9.0, 9.0: 6.0, 6.0: 4.0, 4.0: 10.0, 10.0: 3.0}
            if start_ph not in following:
                raise
            return self.solve(
                compositions, temperature, carbon_dioxide_pressure, solids, following[start_ph]
            )
        output = self.program.get_selected_output_array()
        wanted = "i_soln" if carbon_dioxide_pressure is None else "react"
        kept = [record[1:] for record in output[1:] if record[0].strip() == wanted]
        assert len(kept) == count, (len(kept), count)
        return np.array(kept, dtype=float)

    def dose(
        self,
        composition: np.ndarray,
        kelvin: float,
        reagent: str,
        ph: float,
        carbon_dioxide_pressure: float | None = None,
    ) -> float:
        """Return the moles of a reagent (formula) that bring one solution to a pH [mol/kg]."""
        lines = ["SELECTED_OUTPUT 1", " -reset false", " -state true", "USER_PUNCH 1"]
        lines += [" -headings delta", " -start", ' 10 PUNCH EQUI_DELTA("Fix_pH")', " -end"]
        lines += self._solution(1, composition, kelvin - 273.15, "7 charge")
        lines += ["EQUILIBRIUM_PHASES 1", f" Fix_pH {-ph:.12g} {reagent} 10"]
        if carbon_dioxide_pressure is not None:
            index = math.log10(carbon_dioxide_pressure / ATMOSPHERE_IN_BAR)
            lines.append(f" CO2(g) {index:.12g} 10")
        self.run("\n".join([*lines, "END"]) + "\n")
        return -float(self.program.get_selected_output_array()[-1][-1])
