"""
Conductivity of a solution from its dissolved ions.

The ions are those of the speciation, after ion pairing: a magnesium ion that is paired with sulfate
carries no current. Urea and other molecules carry none at all.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.activity import (
    debye_hueckel_b,
    relative_permittivity_bradley_pitzer_1979,
)
from service.chemistry.equilibrium import (
    CLOSED,
    INVALID_INPUT,
    NOT_CONVERGED,
    speciate,
)
from service.chemistry.equilibrium_constants import TEMPERATURE
from service.chemistry.kernel import kernel
from service.chemistry.solution_density import dissolved_mass, solution_density
from service.chemistry.species import SPECIES_COUNT, SPECIES_NAMES
from service.chemistry.validity import range_status
from service.chemistry.workspace import IONIC_STRENGTH, MOLALITY
from service.reference.components import AMMONIUM, COMPONENT_COUNT, NITRATE, UREA
from service.reference.solution_properties import ionic_conductivity_coefficients

FloatArray = npt.NDArray[np.float64]

COEFFICIENTS: Final = ionic_conductivity_coefficients(SPECIES_NAMES)
"""Conductivity coefficients in the order of the species of the speciation."""

REFERENCE_TEMPERATURE: Final = 298.15
"""Temperature to which conductivities are referred [K]."""

LOWEST_TEMPERATURE: Final = 273.15
HIGHEST_TEMPERATURE: Final = 323.15

NITROGEN_MOLAR_MASS: Final = 14.007
_CHARGE: Final = 0
LIMITING: Final = 1
_SLOPE: Final = 2
_CURVATURE: Final = 3
_CUBIC: Final = 4
SIZE: Final = 5
DIVALENT_SIZE: Final = 6
_VISCOSITY: Final = 7
ION_SIZE_GROWTH: Final = 0.133
"""Growth of the ion sizes with ionic strength [kg/mol], from the KCl standard of 1 mol/kg."""

ELEMENTARY_CHARGE: Final = 1.602176634e-19
BOLTZMANN: Final = 1.380649e-23
AVOGADRO: Final = 6.02214076e23
VACUUM_PERMITTIVITY: Final = 8.8541878128e-12
_PER_ANGSTROM: Final = 1e10
_SQUARE_CENTIMETRES: Final = 1e4


@kernel
def water_viscosity(temperature: float) -> float:
    r"""
    Return the viscosity of water at one atmosphere.

    Parameters
    ----------
    temperature : float
        Temperature, 253 to 383 [K].

    Returns
    -------
    float
        Dynamic viscosity; NaN outside the range [mPa s].

    Notes
    -----
    .. math:: \eta = \sum_{i=1}^{4} a_i (T / 300)^{b_i}

    Validity: stated within 1 % of the full formulation, at 25 degC 0.8900.

    References
    ----------
    .. [1] M. L. Huber et al., New International Formulation for the Viscosity of H2O, J. Phys.
       Chem. Ref. Data 38:101-125, 2009, eq. 37. Source key: ``huber-2009``.
    """
    if range_status(temperature, 253.15, 383.15) != 0:
        return math.nan
    logarithm = math.log(temperature / 300.0)
    return 0.001 * (
        280.68 * math.exp(-1.9 * logarithm)
        + 511.45 * math.exp(-7.7 * logarithm)
        + 61.131 * math.exp(-19.6 * logarithm)
        + 0.45903 * math.exp(-40.0 * logarithm)
    )


@kernel
def limiting_conductivity(species: int, temperature: float, coefficients: FloatArray) -> float:
    r"""
    Return the conductivity of an ion at infinite dilution.

    Parameters
    ----------
    species : int
        Row of `coefficients` [dimensionless].
    temperature : float
        Temperature [K].
    coefficients : ndarray, shape (n_species, 8)
        Table of `service.reference.solution_properties.ionic_conductivity_coefficients`
        [dimensionless].

    Returns
    -------
    float
        Conductivity per equivalent [S cm^2/mol].

    Notes
    -----
    .. math:: \lambda = \lambda_{25}(1 + a x + b x^2 + c x^3), \quad x = T - 298.15

    The four coefficients of H+, Na+, K+ and Cl- are printed in [1]_; those of the other ions
    restate the quadratics of [2]_ about 25 degC.

    References
    ----------
    .. [1] H. S. Harned, B. B. Owen, *The Physical Chemistry of Electrolytic Solutions*, 3rd ed.,
       Reinhold, New York, 1958, table 6-8-1 (from memory; checked with the KCl standards).
       Source key: ``harned-owen-1958``.
    .. [2] R. B. McCleskey et al., Geochim. Cosmochim. Acta 77:369-382, 2012, table 1.
       Source key: ``mccleskey-2012``.
    """
    row = coefficients[species]
    x = temperature - REFERENCE_TEMPERATURE
    relative: float = 1.0 + x * (row[_SLOPE] + x * (row[_CURVATURE] + x * row[_CUBIC]))
    at_25: float = row[LIMITING]
    return at_25 * relative


@kernel
def conductivity(
    molality: FloatArray,
    ionic_strength: float,
    temperature: float,
    water_content: float,
    coefficients: FloatArray,
) -> float:
    r"""
    Return the conductivity of a solution at its own temperature from its free ions.

    Parameters
    ----------
    molality : ndarray, shape (n_species,)
        Molality of each species after ion pairing [mol/kg].
    ionic_strength : float
        Molal ionic strength [mol/kg].
    temperature : float
        Temperature, 273.15 to 323.15 [K].
    water_content : float
        Mass of water in a volume of solution, density over one plus `dissolved_mass` [kg/L].
    coefficients : ndarray, shape (n_species, 8)
        Table of `service.reference.solution_properties.ionic_conductivity_coefficients`
        [dimensionless].

    Returns
    -------
    float
        Conductivity; 0 without ions, NaN outside the ranges [mS/cm].

    Notes
    -----
    Kohlrausch's sum over ions, each slowed by the electrophoretic and the relaxation effect [1]_
    in the form that Falkenhagen gave them for ions of finite size [2]_:

    .. math:: \kappa = w \sum_i |z_i| m_i
       \left(\lambda_i - \frac{B_2 |z_i| \sqrt I}{1 + \kappa a_i}\right)
       \left(1 - \frac{B_1 \sqrt I}{(1 + \kappa a_i)^2}\right)

    with the water content :math:`w`, :math:`\kappa a_i = B a_i \sqrt I (1 + 0.133 I)`,
    :math:`B_2 = e^2 N_A B / (6\pi\eta)` and
    :math:`B_1 = e^2 B z_+ z_- q / (12\pi\varepsilon k T (1 + \sqrt q))`. Mean charges
    and the mobilities of all cations and all anions give
    :math:`q = 1 / ((z_+ + z_-)(t_+/z_+ + t_-/z_-))`, as PHREEQC does it [3]_; unlike PHREEQC the
    ions are weighted by equivalents, which keeps Kohlrausch's law in mixtures at high dilution.
    Ion sizes are fitted to the equivalent conductivities of single salts to 0.1 mol/L at 25 degC
    [4]_, growing as the KCl standard of 1 mol/kg asks; that standard also gave the last factor,
    :math:`1 - \sum h_i m_i (T - 298.15)`, for the ions that thin water most when it is cold.

    Validity: 0 to 40 degC and ionic strength to 0.5 mol/kg, KCl to 50 degC and 1 mol/kg. KCl
    within 0.5 %, single salts within 3 %. At 1.5 mol/kg magnesium chloride is 19 % too high.

    References
    ----------
    .. [1] L. Onsager, Phys. Z. 28:277-298, 1927. Source key: ``onsager-1927``.
    .. [2] H. Falkenhagen, *Theorie der Elektrolyte*, Hirzel, Leipzig, 1971, p. 90, as cited in
       [3]_. Source key: ``falkenhagen-1971``.
    .. [3] D. L. Parkhurst, C. A. J. Appelo, IPhreeqc 3.8.6, U.S. Geological Survey, function
       calc_SC of basicsubs.cpp. Source key: ``iphreeqc-3-8-6``.
    .. [4] R. A. Robinson, R. H. Stokes, *Electrolyte Solutions*, 2nd ed., Butterworths, London,
       1959, appendix 6.3 (from memory). Source key: ``robinson-stokes-1959``.
    """
    if (
        range_status(temperature, LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE) != 0
        or not 0.0 <= ionic_strength < math.inf
        or not 0.0 < water_content < math.inf
    ):
        return math.nan
    cations = 0.0
    anions = 0.0
    cation_equivalents = 0.0
    anion_equivalents = 0.0
    cation_conductance = 0.0
    anion_conductance = 0.0
    thinning = 0.0
    x = temperature - REFERENCE_TEMPERATURE
    for species in range(molality.shape[0]):
        charge = coefficients[species, _CHARGE]
        amount = molality[species]
        if charge == 0.0 or amount == 0.0:
            continue
        if not 0.0 < amount < math.inf:
            return math.nan
        limiting = limiting_conductivity(species, temperature, coefficients)
        thinning += coefficients[species, _VISCOSITY] * amount
        if charge > 0.0:
            cations += amount
            cation_equivalents += amount * charge
            cation_conductance += amount * limiting
        else:
            anions += amount
            anion_equivalents -= amount * charge
            anion_conductance += amount * limiting
    if cations == 0.0 and anions == 0.0:
        return 0.0
    if cations == 0.0 or anions == 0.0:
        return math.nan
    cation_charge = cation_equivalents / cations
    anion_charge = anion_equivalents / anions
    cation_share = cation_conductance / cations
    cation_share /= cation_share + anion_conductance / anions
    q = 1.0 / (
        (cation_share / cation_charge + (1.0 - cation_share) / anion_charge)
        * (cation_charge + anion_charge)
    )
    debye = debye_hueckel_b(temperature)
    root = math.sqrt(ionic_strength)
    scale = ELEMENTARY_CHARGE * ELEMENTARY_CHARGE / (6.0 * math.pi) * debye * _PER_ANGSTROM
    permittivity = VACUUM_PERMITTIVITY * relative_permittivity_bradley_pitzer_1979(temperature)
    relaxation = scale * cation_charge * anion_charge * q / (1.0 + math.sqrt(q))
    relaxation *= root / (2.0 * permittivity * BOLTZMANN * temperature)
    viscosity = 0.001 * water_viscosity(temperature)
    electrophoresis = scale * AVOGADRO * _SQUARE_CENTIMETRES * root / viscosity
    inverse_length = debye * root * (1.0 + ION_SIZE_GROWTH * ionic_strength)
    total = 0.0
    for species in range(molality.shape[0]):
        charge = coefficients[species, _CHARGE]
        amount = molality[species]
        if charge == 0.0 or amount == 0.0:
            continue
        opposite = anion_charge if charge > 0.0 else cation_charge
        size = coefficients[species, SIZE]
        size += coefficients[species, DIVALENT_SIZE] * max(0.0, opposite - 1.0)
        number = abs(charge)
        shield = 1.0 + inverse_length * size
        limiting = limiting_conductivity(species, temperature, coefficients)
        slowed = limiting - electrophoresis * number / shield
        slowed *= 1.0 - relaxation / (shield * shield)
        total += amount * number * max(slowed, 0.0)
    return water_content * total * max(0.0, 1.0 - thinning * x)


@kernel
def solution_conductivity(
    composition: FloatArray,
    constants: FloatArray,
    carbon_dioxide_pressure: float,
    workspace: FloatArray,
) -> float:
    """
    Return the conductivity of a composition, speciated at the temperature of the constants.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amount of each conserved component [mol/kg].
    constants : ndarray, shape (n_constants,)
        Constants from `service.chemistry.equilibrium_constants.fill_constants` [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide, negative for a closed solution [bar].
    workspace : ndarray, shape (n_workspace,)
        Workspace of `service.chemistry.workspace`, receives the speciation [dimensionless].

    Returns
    -------
    float
        Conductivity; NaN where the composition cannot be speciated [mS/cm].

    Notes
    -----
    Constants at 298.15 K give the conductivity at the reference temperature directly.

    References
    ----------
    .. [1] The models of `conductivity`, `solution_density` and `speciate`.
       Source key: ``parkhurst-appelo-2013``.
    """
    status = speciate(composition, constants, carbon_dioxide_pressure, math.nan, False, workspace)
    if status in (NOT_CONVERGED, INVALID_INPUT):
        return math.nan
    temperature = constants[TEMPERATURE]
    water_content = solution_density(composition, temperature) / (1.0 + dissolved_mass(composition))
    return conductivity(
        workspace[MOLALITY : MOLALITY + SPECIES_COUNT],
        workspace[IONIC_STRENGTH],
        temperature,
        water_content,
        COEFFICIENTS,
    )


@kernel
def label_conductivity(
    product: FloatArray,
    nitrogen: float,
    constants: FloatArray,
    composition: FloatArray,
    workspace: FloatArray,
) -> float:
    """
    Return the conductivity that a product adds to pure water at a nitrogen concentration.

    Parameters
    ----------
    product : ndarray, shape (n_components,)
        Amount of each conserved component in the product [mmol/g].
    nitrogen : float
        Nitrogen of all forms in the solution [mg/L].
    constants : ndarray, shape (n_constants,)
        Constants from `service.chemistry.equilibrium_constants.fill_constants` [dimensionless].
    composition : ndarray, shape (n_components,)
        Scratch, receives the composition of the solution [mol/kg].
    workspace : ndarray, shape (n_workspace,)
        Workspace of `service.chemistry.workspace`, receives the speciation [dimensionless].

    Returns
    -------
    float
        Conductivity; NaN for a product without nitrogen [mS/cm].

    Notes
    -----
    Nitrate, ammonium and both atoms of urea count as nitrogen, as labels count them. A litre of
    so dilute a solution is taken to hold the water of a litre at that temperature.

    References
    ----------
    .. [1] T. Prohaska et al., Standard atomic weights of the elements 2021, Pure Appl. Chem.
       94:573-600, 2022. Source key: ``prohaska-2022``.
    """
    content = NITROGEN_MOLAR_MASS * (product[NITRATE] + product[AMMONIUM] + 2.0 * product[UREA])
    if not content > 0.0 or not 0.0 <= nitrogen < math.inf:
        return math.nan
    composition[:] = 0.0
    water = solution_density(composition, constants[TEMPERATURE])
    for component in range(COMPONENT_COUNT):
        composition[component] = 0.001 * product[component] * nitrogen / (content * water)
    return solution_conductivity(composition, constants, CLOSED, workspace)
