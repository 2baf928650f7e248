"""
What a mix will be: pH, conductivity, species and solids of a litre with known contents.

Amounts per litre count a litre at 25 degC, whatever the temperature of the mix: what is weighed in
does not change when it is warmed. Concentrates are included as far as the chemistry holds, because
the room that the solutes take up is counted.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.activity import HIGHEST_IONIC_STRENGTH
from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.conductivity import solution_conductivity
from service.chemistry.equilibrium import (
    CLOSED,
    NOT_CONVERGED,
    OK,
    speciate,
)
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.prepared_litre import carbon_dioxide_pressure, prepared_litre
from service.chemistry.saturation import (
    SOLID_COUNT,
    SOLID_NAMES,
    fill_saturation_constants,
    saturation_indices,
)
from service.chemistry.solution import REFERENCE_TEMPERATURE
from service.chemistry.solution_density import solution_density
from service.chemistry.species import SPECIES_COUNT, SPECIES_NAMES
from service.chemistry.workspace import (
    IONIC_STRENGTH,
    MOLALITY,
    PH,
    TOTAL_CARBONATE,
    workspace,
)
from service.planning.can_cautions import UREA_SHARE_NAMED
from service.planning.card import meter_readings
from service.planning.known_water import KnownWater
from service.planning.mix_parts import MixPart
from service.planning.notes import Notes, RefusalError
from service.planning.products import LABEL_SPREAD
from service.planning.rows import SOLIDS_IN_ANSWERS
from service.planning.water import FREEZING_POINT
from service.reference.components import CARBONATE, COMPONENT_COUNT, ELEMENT_NAMES, UREA
from service.reference.elements import ELEMENT_MATRIX
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

FloatArray = NDArray[np.float64]

LEAST_LISTED: Final = 1e-6
"""Concentration from which a species is listed [mmol/L]."""

STATED_NITROGEN: Final = 100.0
"""Nitrogen at which labels state their conductivity [mg/L]."""

BURNS_BELOW: Final = 5.0
"""pH under which no target is accepted and a mix is called too acid to pour."""

SLOW_SOLIDS: Final = ("hydroxyapatite", "magnesite", "aragonite", "monetite")
"""Solids that do not form in a can, or only by way of another one that is listed."""

_NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")


@dataclass(frozen=True, eq=False)
class Speciated:
    """
    A composition at one temperature, speciated.

    Attributes
    ----------
    status : int
        Status of `service.chemistry.equilibrium.speciate`.
    composition : ndarray, shape (n_components,)
        Conserved components, the carbonate as it is beside the air [mol/kg].
    constants : ndarray
        Constants at the temperature.
    work : ndarray
        Workspace of the speciation.
    """

    status: int
    composition: FloatArray
    constants: FloatArray
    work: FloatArray


@dataclass(frozen=True, eq=False)
class Mixture:
    """
    A mix, computed.

    Attributes
    ----------
    ph, ionic_strength_mol_per_kg, density_kg_per_l : float
        Of the mix at its temperature.
    ec_ms_per_cm, ec_at_temperature_ms_per_cm : float
        Conductivity at 25 degC and as it is.
    ec_low_ms_per_cm, ec_high_ms_per_cm : float or None
        Range of the conductivity where a label leaves it open.
    alkalinity_mg_per_l_caco3 : float
        Acid capacity.
    elements_mg_per_l, ions_mmol_per_l, saturation : dict of str to float
        Elements, species and saturation indices by name.
    prepared_mol_per_kg, settled_mol_per_kg : ndarray, shape (n_components,)
        What the litre was made of, and the same with the carbonate that it has beside the air.
    water_kg_per_l : float
        Water in the litre.
    temperature_celsius : float
        Temperature of the mix.
    carbon_dioxide_bar : float
        Partial pressure of carbon dioxide, or `CLOSED`.
    ions_ec_ms_per_cm, stated_surplus_ms_per_cm : float
        Parts of the conductivity: of the ions, and by how much labels state more than theirs.
    """

    ph: float
    ionic_strength_mol_per_kg: float
    density_kg_per_l: float
    ec_ms_per_cm: float
    ec_at_temperature_ms_per_cm: float
    ec_low_ms_per_cm: float | None
    ec_high_ms_per_cm: float | None
    alkalinity_mg_per_l_caco3: float
    elements_mg_per_l: dict[str, float]
    ions_mmol_per_l: dict[str, float]
    saturation: dict[str, float]
    prepared_mol_per_kg: FloatArray
    settled_mol_per_kg: FloatArray
    water_kg_per_l: float
    temperature_celsius: float
    carbon_dioxide_bar: float
    ions_ec_ms_per_cm: float
    stated_surplus_ms_per_cm: float


def speciated(composition: FloatArray, temperature: float, pressure: float) -> Speciated:
    """
    Speciate a composition, closed or beside air.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Conserved components [mol/kg].
    temperature : float
        Temperature [K].
    pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].

    Returns
    -------
    Speciated
        The solution; its composition holds the carbonate that it has beside the air.
    """
    constants = constants_array()
    fill_constants(temperature, constants)
    work = workspace()
    status = speciate(composition, constants, pressure, np.nan, False, work)
    settled = composition.copy()
    if status < NOT_CONVERGED:
        settled[CARBONATE] = work[TOTAL_CARBONATE]
    return Speciated(status, settled, constants, work)


def mixture(
    water: KnownWater,
    parts: Sequence[MixPart],
    acid: FloatArray | None,
    temperature_celsius: float,
    pressure: float,
) -> Mixture:
    """
    Compute a mix.

    Parameters
    ----------
    water : KnownWater
        The water that fills up the litre.
    parts : sequence of MixPart
        The products.
    acid : ndarray or None
        Components of the acid or base [mmol/L].
    temperature_celsius : float
        Temperature of the mix [degC].
    pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].

    Returns
    -------
    Mixture
        What it is.

    Raises
    ------
    RefusalError
        If it is stronger, more acid or more alkaline than the chemistry holds for.
    """
    added = _sum([part.added_mmol_per_l for part in parts])
    if acid is not None:
        added += acid
    composition = np.zeros(COMPONENT_COUNT)
    content = prepared_litre(
        water.composition_mol_per_kg, added, REFERENCE_TEMPERATURE, composition
    )
    if np.isnan(content):
        raise RefusalError("solution_too_strong", strength="far above 1")
    temperature = temperature_celsius + FREEZING_POINT
    mix = speciated(composition, temperature, pressure)
    _check(mix)
    ph = float(mix.work[PH])
    molality = mix.work[MOLALITY : MOLALITY + SPECIES_COUNT].copy()
    strength = float(mix.work[IONIC_STRENGTH])
    acid_capacity = 1000.0 * alkalinity_of_composition(composition)
    indices = _saturation(mix, temperature)
    unexplained = water.unexplained_ec_ms_per_cm
    computed = _conductivity(mix.composition, REFERENCE_TEMPERATURE)
    if np.isnan(computed):
        raise RefusalError("solution_too_strong", strength=f"{strength:.2f}")
    surplus = _stated_surplus(parts)
    conductivity = computed + surplus + unexplained
    at_temperature = _conductivity(mix.composition, temperature) * conductivity / computed
    low, high = _range(water, parts, acid, conductivity, computed)
    return Mixture(
        ph=ph,
        ionic_strength_mol_per_kg=strength,
        density_kg_per_l=float(solution_density(mix.composition, temperature)),
        ec_ms_per_cm=conductivity,
        ec_at_temperature_ms_per_cm=at_temperature,
        ec_low_ms_per_cm=low,
        ec_high_ms_per_cm=high,
        alkalinity_mg_per_l_caco3=float(acid_capacity * content * CALCIUM_CARBONATE_MG_PER_MEQ),
        elements_mg_per_l=_elements(1000.0 * content * composition),
        ions_mmol_per_l={
            name: float(amount)
            for name, amount in zip(SPECIES_NAMES, 1000.0 * content * molality, strict=True)
            if amount > LEAST_LISTED
        },
        saturation=indices,
        prepared_mol_per_kg=composition,
        settled_mol_per_kg=mix.composition,
        water_kg_per_l=float(content),
        temperature_celsius=temperature_celsius,
        carbon_dioxide_bar=pressure,
        ions_ec_ms_per_cm=computed,
        stated_surplus_ms_per_cm=surplus,
    )


def _sum(amounts: Sequence[FloatArray]) -> FloatArray:
    """Return the sum of amounts, the same in whatever order they stand."""
    if not amounts:
        return np.zeros(COMPONENT_COUNT)
    total: FloatArray = np.sort(np.array(amounts), axis=0).sum(axis=0)
    return total


def _check(mix: Speciated) -> None:
    """Refuse a mix that lies outside what the chemistry holds for."""
    if mix.status == OK:
        return
    strength, ph = float(mix.work[IONIC_STRENGTH]), float(mix.work[PH])
    if np.isfinite(ph) and strength <= HIGHEST_IONIC_STRENGTH:
        raise RefusalError("solution_ph_out_of_range", ph=ph)
    said = f"{strength:.2f}" if np.isfinite(strength) else "far above 0.5"
    raise RefusalError("solution_too_strong", strength=said)


def _conductivity(composition: FloatArray, temperature: float) -> float:
    """Return the conductivity of a closed composition at a temperature [mS/cm]."""
    constants = constants_array()
    fill_constants(temperature, constants)
    return float(solution_conductivity(composition, constants, CLOSED, workspace()))


def _alone(part: MixPart, amount: float) -> float:
    """Return the conductivity of an amount of one product in pure water [mS/cm]."""
    composition = np.zeros(COMPONENT_COUNT)
    added = part.added_mmol_per_l * amount / part.amount
    prepared_litre(np.zeros(COMPONENT_COUNT), added, REFERENCE_TEMPERATURE, composition)
    return _conductivity(composition, REFERENCE_TEMPERATURE)


def _stated_surplus(parts: Sequence[MixPart]) -> float:
    """
    Return how far the conductivities that labels state lie above the computed ones [mS/cm].

    A label states its conductivity at 100 mg/L nitrogen; with the amount it bends as the computed
    conductivity of the product does.
    """
    surplus = []
    for part in parts:
        if not part.stated_ec_ms_per_cm > 0.0 or not part.amount > 0.0:
            continue
        nitrogen = float(ELEMENT_MATRIX[_NITROGEN] @ part.added_mmol_per_l) / part.amount
        reference = STATED_NITROGEN / nitrogen
        computed = _alone(part, reference)
        here = _alone(part, part.amount)
        if computed > 0.0 and np.isfinite(here):
            surplus.append((part.stated_ec_ms_per_cm * reference / computed - 1.0) * here)
    return float(sum(sorted(surplus)))


def _range(
    water: KnownWater,
    parts: Sequence[MixPart],
    acid: FloatArray | None,
    conductivity: float,
    computed: float,
) -> tuple[float | None, float | None]:
    """Return the ends between which the conductivity lies where labels leave it open [mS/cm]."""
    open_parts = [part for part in parts if part.is_open and part.amount > 0.0]
    if not open_parts:
        return None, None
    below, above = [0.0], [0.0]
    for part in open_parts:
        others = [other.added_mmol_per_l for other in parts if other is not part]
        if acid is not None:
            others.append(acid)
        without = _conductivity_with(water, others)
        if not np.isfinite(without):
            return None, None
        share = LABEL_SPREAD * max(computed - without, 0.0)
        readings = [] if part.firm else part.readings_mmol_per_l
        values = [_conductivity_with(water, [*others, reading]) for reading in readings]
        found = [value for value in values if np.isfinite(value)]
        below.append(max([share, *(computed - value for value in found)]))
        above.append(max([share, *(value - computed for value in found)]))
    return max(conductivity - sum(sorted(below)), 0.0), conductivity + sum(sorted(above))


def _conductivity_with(water: KnownWater, added: Sequence[FloatArray]) -> float:
    """Return the conductivity of a litre of water with these additions, NaN outside the range."""
    composition = np.zeros(COMPONENT_COUNT)
    prepared_litre(water.composition_mol_per_kg, _sum(added), REFERENCE_TEMPERATURE, composition)
    return _conductivity(composition, REFERENCE_TEMPERATURE)


def _saturation(mix: Speciated, temperature: float) -> dict[str, float]:
    """Return the saturation indices of the solids whose ions are all there."""
    constants, indices = np.zeros(SOLID_COUNT), np.zeros(SOLID_COUNT)
    fill_saturation_constants(temperature, constants)
    saturation_indices(mix.work, constants, indices)
    return {
        name: float(index)
        for name, index in zip(SOLID_NAMES, indices, strict=True)
        if np.isfinite(index)
    }


def _elements(total: FloatArray) -> dict[str, float]:
    """Return the elements of a composition per litre [mg/L]."""
    masses = (ELEMENT_MATRIX @ total).tolist()
    return dict(zip(ELEMENT_NAMES, masses, strict=True))


def pressure_of(choice: str | None, share: float | None, notes: Notes) -> float:
    """
    Return the pressure of carbon dioxide that a request means.

    Parameters
    ----------
    choice : str or None
        ``closed`` or ``open``.
    share : float or None
        Carbon dioxide in the air [ppm].
    notes : Notes
        Receives what is assumed.

    Returns
    -------
    float
        Partial pressure, or `CLOSED` [bar].
    """
    if choice is None:
        if share is None:
            notes.assume("carbon_dioxide_closed_assumed")
            return CLOSED
        notes.assume("carbon_dioxide_open_assumed")
    elif choice == "closed":
        return CLOSED
    if share is None:
        notes.assume("carbon_dioxide_share_assumed")
        return float(ATMOSPHERIC_CARBON_DIOXIDE)
    return float(carbon_dioxide_pressure(share))


def solution_fields(mix: Mixture, water: KnownWater, notes: Notes) -> dict[str, object]:
    """
    Return the flat results of a mix, and note what is to be known about it.

    Parameters
    ----------
    mix : Mixture
        The mix.
    water : KnownWater
        Its water.
    notes : Notes
        Receives cautions.

    Returns
    -------
    dict
        Fields of the answer.
    """
    known = water.alkalinity_known
    for solid, index in mix.saturation.items():
        if index > 0.0 and solid not in SLOW_SOLIDS:
            if solid in SOLIDS_IN_ANSWERS:
                notes.caution(f"{solid}_may_form", None, **{solid: index})
            else:
                notes.caution("solid_may_form", solid=solid.capitalize(), index=index)
    if known and mix.ph < BURNS_BELOW:
        notes.caution("mix_too_acid", ph=mix.ph)
    nitrogen = mix.elements_mg_per_l["nitrogen"]
    urea = float(ELEMENT_MATRIX[_NITROGEN, UREA]) * mix.ions_mmol_per_l.get("Urea", 0.0)
    if urea > UREA_SHARE_NAMED * nitrogen:
        share = 100.0 * urea / nitrogen
        notes.caution("urea_not_on_the_meter", "ec_ms_per_cm", urea_share=share)
    if mix.ec_low_ms_per_cm is not None:
        notes.caution("conductivity_from_label", "ec_ms_per_cm")
    return {
        "ph": mix.ph if known else None,
        "ec_ms_per_cm": mix.ec_ms_per_cm,
        "ec_low_ms_per_cm": mix.ec_low_ms_per_cm,
        "ec_high_ms_per_cm": mix.ec_high_ms_per_cm,
        "ec_at_temperature_ms_per_cm": mix.ec_at_temperature_ms_per_cm,
        **meter_readings(mix.ec_ms_per_cm),
        "ionic_strength_mol_per_kg": mix.ionic_strength_mol_per_kg,
        "density_kg_per_l": mix.density_kg_per_l,
        "alkalinity_mg_per_l_caco3": mix.alkalinity_mg_per_l_caco3 if known else None,
        "elements_mg_per_l": mix.elements_mg_per_l,
        "ions_mmol_per_l": mix.ions_mmol_per_l,
        "saturation": [{"solid": solid, "index": index} for solid, index in mix.saturation.items()],
        "water_charge_error_percent": water.charge_error_percent,
    }
