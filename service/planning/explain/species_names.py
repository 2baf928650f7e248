"""Names of species and of their activity coefficients in formulas."""

from typing import Final

from service.chemistry.activity import SPECIES_CLASS
from service.chemistry.species import SPECIES_CHARGES, SPECIES_COUNT, SPECIES_NAMES
from service.reference.equilibrium_tables import load_activity_parameters


def species_name(index: int) -> str:
    """
    Return the name of a species in formulas: `Ca_2plus`, `HCO3_minus`, `CO2`.

    Parameters
    ----------
    index : int
        The species.

    Returns
    -------
    str
        Its name with the charge in words.
    """
    base = SPECIES_NAMES[index].rstrip("0123456789").rstrip("+-")
    charge = SPECIES_CHARGES[index]
    if charge == 0:
        base = SPECIES_NAMES[index]
    clean = base.replace("(", "").replace(")", "")
    if charge == 0:
        return clean
    number = "" if abs(charge) == 1 else str(abs(charge))
    return f"{clean}_{number}{'plus' if charge > 0 else 'minus'}"


def gamma_name(index: int, prefix: str) -> str:
    """
    Return the name of the activity coefficient that a species has.

    Parameters
    ----------
    index : int
        The species.
    prefix : str
        As in `explain_ph`.

    Returns
    -------
    str
        Species of one class share it.
    """
    return f"{prefix}gamma_{_CLASS_NAMES[int(SPECIES_CLASS[index])]}"


def _class_names() -> dict[int, str]:
    """Return a name for every class of activity coefficients: its species, or charge and size."""
    rows = {row.species: row for row in load_activity_parameters()}
    members: dict[int, list[int]] = {}
    for index in range(SPECIES_COUNT):
        members.setdefault(int(SPECIES_CLASS[index]), []).append(index)
    names: dict[int, str] = {}
    for place, listed in members.items():
        row = rows[SPECIES_NAMES[listed[0]]]
        charge = abs(SPECIES_CHARGES[listed[0]])
        if len(listed) == 1:
            name = species_name(listed[0])
        elif charge == 0:
            name = "uncharged"
        elif row.model == "davies":
            name = f"davies_{charge}"
        else:
            name = f"charge_{charge}_size_{row.ion_size_angstrom:g}".replace(".", "_")
        names[place] = name if name not in names.values() else f"{name}_of_{place}"
    return names


_CLASS_NAMES: Final = _class_names()
