"""
The set of ceilings that a can must keep, and the largest share of a request that keeps them all.

Conductivity, total nitrogen, ammonium with urea nitrogen and each micronutrient are ceilings of
the whole can, water included; a stimulant also has its label rate. The smallest amount wins.
"""

from typing import Final

import numpy as np

from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.kernel import kernel
from service.chemistry.solution import conductivity_of_total
from service.planning import products, profiles, rows
from service.planning.can import CONDUCTIVITY_TOLERANCE, scale_for_conductivity
from service.planning.strength import element_mass
from service.planning.targets import DOSING_SCALE, STIMULANT_METER_PPM
from service.reference.components import AMMONIUM, COMPONENT_COUNT, ELEMENT_NAMES, UREA
from service.reference.elements import ELEMENT_MATRIX

NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")
MICRONUTRIENTS: Final = ("boron", "copper", "zinc", "manganese", "iron", "molybdenum")
MICRONUTRIENT_ELEMENTS: Final = np.array([ELEMENT_NAMES.index(name) for name in MICRONUTRIENTS])

BY_REQUEST: Final = rows.BINDING_LIMITS.index("requested_strength")
BY_NOTHING: Final = rows.BINDING_LIMITS.index("none")
BY_CONDUCTIVITY: Final = rows.BINDING_LIMITS.index("conductivity")
BY_NITROGEN: Final = rows.BINDING_LIMITS.index("total_nitrogen")
BY_AMMONIUM: Final = rows.BINDING_LIMITS.index("ammonium_and_urea_nitrogen")
BY_FIRST_MICRONUTRIENT: Final = rows.BINDING_LIMITS.index("boron")
BY_RATE: Final = rows.BINDING_LIMITS.index("product_rate")

FEED: Final = rows.APPLICATIONS.index("feed")
SUPPLEMENT: Final = rows.APPLICATIONS.index("supplement")
STIMULANT: Final = rows.APPLICATIONS.index("stimulant")

WATER_SHARE_OF_CEILING: Final = 0.5
"""Share of a ceiling that a proposed blend of waters may take, so that room is left for feed."""

FROM_BASE: Final = 0.3
FROM_ACID: Final = 0.06
FROM_FREE_ACID: Final = 0.45
"""
Most that a milliequivalent of potassium and hydroxide, of a strong anion in place of bicarbonate
and of free strong acid add to a conductivity [mS/cm per mmol(eq)/L]: the sums and differences of
the limiting conductivities of `service.chemistry.conductivity`, rounded up.
"""

FROM_WEAK_ACID: Final = 0.02
"""Most that the hydrogen ions of water with alkalinity left add [mS/cm]."""

BLEND_STEPS: Final = 50
BLEND_TOLERANCE: Final = 1e-9


@kernel
def reduced_nitrogen_mass(composition: np.ndarray) -> float:
    """
    Return the mass of nitrogen that is ammonium or urea.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amounts of the components [mmol/L, or mmol per gram or millilitre].

    Returns
    -------
    float
        Mass of nitrogen [mg/L, or mg per gram or millilitre].
    """
    return float(
        ELEMENT_MATRIX[NITROGEN, AMMONIUM] * composition[AMMONIUM]
        + ELEMENT_MATRIX[NITROGEN, UREA] * composition[UREA]
    )


@kernel
def conductivity_ceiling(
    row: np.void, product_table: np.ndarray, profile: np.ndarray, result: np.void
) -> float:
    """
    Return the conductivity that the can may have.

    A supplement or a stimulant has its own ceiling, which follows the air and the setup but not
    the size of the plant; several of them keep the lowest. It stays within the profile.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Holds the ceilings of `service.planning.targets`.

    Returns
    -------
    float
        Conductivity at 25 degC [mS/cm].
    """
    application = row["application"]
    if application not in (SUPPLEMENT, STIMULANT):
        return float(result["ec_ceiling_ms_per_cm"])
    strength = min(result["air_meter_ppm"], profile[profiles.SIZE_METER_PPM])
    if application == STIMULANT:
        strength = min(strength, STIMULANT_METER_PPM)
    for slot in range(row["product_count"]):
        product = product_table[row["product"][slot]]
        strength = min(strength, product[products.SUPPLEMENT_METER_PPM])
    return float(min(strength / DOSING_SCALE, profile[profiles.EC_CEILING]))


@kernel
def _linear_limit(ceiling: float, water: float, content: float) -> float:
    """Largest factor under one ceiling; infinite when the products bring nothing."""
    if content <= 0.0:
        return np.inf
    if not ceiling > water:
        return 0.0
    return (ceiling - water) / content


@kernel
def share_within_ceilings(
    row: np.void,
    product_table: np.ndarray,
    profile: np.ndarray,
    result: np.void,
    first: float,
    scratch: np.ndarray,
    work: np.ndarray,
) -> float:
    """
    Return the factor on the requested amounts that keeps every ceiling, and name what binds.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Holds water, targets and requested amounts; receives `binding_limit`.
    first : float
        Share that is about right, that of the round before; NaN in the first round, which has no
        acid in the water yet.
    scratch : ndarray, shape (6, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    float
        At most 1 for requested amounts, or the amount itself of a single product without a
        strength; 0 when the water with its acid is alone above a ceiling, whether or not the
        products add to it; NaN when it cannot be solved, or with `product_rate` as the limit when
        the label says too little to name an amount.
    """
    water = result["base_composition_mmol_per_l"]
    requested = result["requested_g_per_l"]
    count = row["product_count"]
    open_amount = count == 1 and np.isnan(requested[0])
    if open_amount:
        requested[0] = 1.0
    total = scratch[2]
    for component in range(COMPONENT_COUNT):
        total[component] = 0.0
        for slot in range(count):
            product = product_table[row["product"][slot]]
            total[component] += product[component] * requested[slot]
    factor = np.inf if open_amount else 1.0
    binding = BY_NOTHING if open_amount else BY_REQUEST
    passed = BY_NOTHING

    ceiling = result["nitrogen_ceiling_mg_per_l"]
    held = element_mass(water, NITROGEN)
    if not held <= ceiling:
        passed = BY_NITROGEN
    limit = _linear_limit(ceiling, held, element_mass(total, NITROGEN))
    if limit < factor:
        factor, binding = limit, BY_NITROGEN
    ceiling = result["ammonium_ceiling_mg_per_l"]
    held = reduced_nitrogen_mass(water)
    if not held <= ceiling and passed == BY_NOTHING:
        passed = BY_AMMONIUM
    limit = _linear_limit(ceiling, held, reduced_nitrogen_mass(total))
    if limit < factor:
        factor, binding = limit, BY_AMMONIUM
    for position in range(MICRONUTRIENT_ELEMENTS.size):
        element = MICRONUTRIENT_ELEMENTS[position]
        ceiling = profile[profiles.FIRST_MICRONUTRIENT_MAXIMUM + position]
        held = element_mass(water, element)
        if not held <= ceiling and passed == BY_NOTHING:
            passed = BY_FIRST_MICRONUTRIENT + position
        limit = _linear_limit(ceiling, held, element_mass(total, element))
        if limit < factor:
            factor, binding = limit, BY_FIRST_MICRONUTRIENT + position
    for slot in range(count):
        rate = product_table[row["product"][slot]][products.RATE_CAP]
        if rate > 0.0 and requested[slot] > 0.0 and rate / requested[slot] < factor:
            factor, binding = rate / requested[slot], BY_RATE

    ceiling = conductivity_ceiling(row, product_table, profile, result)
    if not result["water_ec_ms_per_cm"] <= ceiling:
        passed = BY_CONDUCTIVITY
    if passed != BY_NOTHING:
        result["binding_limit"] = passed
        return 0.0
    if factor > 0.0:
        highest = factor
        start = result["water_ec_ms_per_cm"]
        aim = (1.0 - CONDUCTIVITY_TOLERANCE) * ceiling
        if not np.isnan(first):
            start += _most_from_acid(result["water_composition_mmol_per_l"], water)
            # Unless that is surely below the ceiling, it has to be computed.
            start = start if first > 0.0 and start < aim else np.nan
        # The search may end a little above its aim, and a ceiling is not to be passed.
        limit = scale_for_conductivity(
            aim,
            highest,
            water,
            result["unexplained_ec_ms_per_cm"],
            start,
            first,
            row["product"][:count],
            product_table,
            requested[:count],
            scratch,
            work,
        )
        if np.isnan(limit):
            return np.nan
        if limit < highest:
            factor, binding = limit, BY_CONDUCTIVITY
    result["binding_limit"] = binding
    stimulant = product_table[row["product"][0]][products.IS_STIMULANT] == 1.0
    if open_amount and binding == BY_RATE and not stimulant:
        # Only the bound on any product was met: its label does not say how strong it is.
        return np.nan
    return float(factor)


@kernel
def _most_from_acid(water: np.ndarray, acidified: np.ndarray) -> float:
    """Bound on the conductivity that acid or base adds to a water [mS/cm]."""
    left = alkalinity_of_composition(acidified)
    change = left - alkalinity_of_composition(water)
    if change > 0.0:
        return float(FROM_BASE * change)
    return float(FROM_ACID * -change + FROM_FREE_ACID * max(-left, 0.0) + FROM_WEAK_ACID)


@kernel
def _blend_part(ceiling: float, held: float) -> float:
    """Share of a water that takes its part of one ceiling; all of it when it is below."""
    if held <= ceiling or held <= 0.0:
        return 1.0
    return WATER_SHARE_OF_CEILING * ceiling / held


@kernel
def feasible_water_share(
    profile: np.ndarray,
    row: np.void,
    product_table: np.ndarray,
    result: np.void,
    scratch: np.ndarray,
    work: np.ndarray,
) -> float:
    """
    Return how much of the water a blend with pure water may hold to leave room for the feed.

    Parameters
    ----------
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    result : record of `rows.DOSE_RESULT`
        Holds water and targets.
    scratch : ndarray, shape (6, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    float
        Share of this water at which it takes half of every ceiling that it passes [percent].
    """
    water = result["base_composition_mmol_per_l"]
    share = _blend_part(result["nitrogen_ceiling_mg_per_l"], element_mass(water, NITROGEN))
    part = _blend_part(result["ammonium_ceiling_mg_per_l"], reduced_nitrogen_mass(water))
    share = min(share, part)
    for position in range(MICRONUTRIENT_ELEMENTS.size):
        maximum = profile[profiles.FIRST_MICRONUTRIENT_MAXIMUM + position]
        part = _blend_part(maximum, element_mass(water, MICRONUTRIENT_ELEMENTS[position]))
        share = min(share, part)
    ceiling = conductivity_ceiling(row, product_table, profile, result)
    unexplained = result["unexplained_ec_ms_per_cm"]
    highest = (1.0 - CONDUCTIVITY_TOLERANCE) * ceiling
    if conductivity_of_total(water, False, work) + unexplained < highest:
        return float(100.0 * share)
    goal = WATER_SHARE_OF_CEILING * ceiling
    part = 1.0
    for _ in range(BLEND_STEPS):
        for component in range(COMPONENT_COUNT):
            scratch[0, component] = part * water[component]
        conductivity = part * unexplained + conductivity_of_total(scratch[0], True, work)
        if not abs(conductivity - goal) > BLEND_TOLERANCE * goal:
            break
        # Conductivity is nearly in proportion to the share, so this closes in fast.
        part = min(part * goal / conductivity, 1.0)
    return float(100.0 * min(share, part))
