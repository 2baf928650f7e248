"""
What a balance and a syringe can resolve, and the pre-stock that helps where they cannot.

An amount of fewer than twenty steps of the instrument carries more than 2.5 % of reading error;
then a pre-stock is weighed or measured once, and a volume of it is dosed.
"""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel

TRUSTED_STEPS: Final = 20.0
"""Steps of an instrument under which an amount is not measured directly."""

PRE_STOCK_STRENGTHS: Final = np.array([50.0, 10.0, 1.0, 0.1, 0.01, 0.001])
"""Strengths tried: g (or mL) of product per litre of pre-stock."""

USUAL_PRE_STOCK: Final = 50.0
"""Strongest pre-stock of a product, acid or base that dissolves well [g/L]; common practice."""

HANDY_VOLUME: Final = 200.0
"""Volume of pre-stock above which a stronger one is handier [mL]; common practice."""

HANDY_SHARE: Final = 0.1
"""Share of the can above which the pure water of a pre-stock would thin the can's own water."""


@kernel
def rounded_amount(exact: float, resolution: float, downwards: bool) -> float:
    """
    Return an amount as the instrument can show it.

    Parameters
    ----------
    exact : float
        Amount, at least 0 [g or mL].
    resolution : float
        Smallest step of the instrument, above 0 [g or mL].
    downwards : bool
        Never exceed the exact amount, because a ceiling stands there.

    Returns
    -------
    float
        Whole number of steps [g or mL].
    """
    steps = exact / resolution
    # A hair of tolerance keeps 2.4 g from becoming 2.3 g through binary fractions.
    whole = np.floor(steps + 1e-9) if downwards else np.floor(steps + 0.5)
    return float(whole * resolution)


@kernel
def pre_stock_strength(
    exact: float, resolution: float, syringe_resolution: float, strongest: float, can: float
) -> float:
    """
    Return the pre-stock of which the syringe can measure the amount, and no more than is handy.

    A litre of it is made, so it must hold enough product to be weighed or measured itself.

    Parameters
    ----------
    exact : float
        Amount of product for the can, above 0 [g or mL].
    resolution : float
        Smallest step of the instrument that measures the product itself [g or mL].
    syringe_resolution : float
        Smallest step of the syringe [mL].
    strongest : float
        Strongest pre-stock that the product dissolves to [g/L or mL/L].
    can : float
        Volume of the can [L].

    Returns
    -------
    float
        Product per litre of pre-stock: the weakest of those that are measurable and not above
        `HANDY_VOLUME` or `HANDY_SHARE` of the can, else the strongest measurable, else the weakest
        of which at least one step can be taken; 0 when there is none [g/L or mL/L].
    """
    chosen = 0.0
    last_resort = 0.0
    handy = min(HANDY_VOLUME, 1000.0 * HANDY_SHARE * can)
    for strength in PRE_STOCK_STRENGTHS:
        if strength > strongest or strength < TRUSTED_STEPS * resolution * (1.0 - 1e-9):
            continue
        volume = 1000.0 * exact / strength
        if volume < TRUSTED_STEPS * syringe_resolution:
            if volume >= syringe_resolution:
                last_resort = strength
            continue
        if chosen == 0.0 or volume <= handy:
            chosen = strength
    return chosen if chosen > 0.0 else last_resort


@kernel
def pre_solution_strength(
    mass: float, resolution: float, syringe_resolution: float, can: float
) -> float:
    """
    Return the solution in which crystals of an acid or a base are measured, where they are few.

    Parameters
    ----------
    mass : float
        Crystals for the can, at least 0 [g].
    resolution : float
        Smallest step of the balance [g].
    syringe_resolution : float
        Smallest step of the syringe [mL].
    can : float
        Volume of the can [L].

    Returns
    -------
    float
        Crystals per litre of it; 0 where they are weighed, or where no solution can be measured
        that does not thin the can [g/L].
    """
    if not 0.0 < mass < TRUSTED_STEPS * resolution * (1.0 - 1e-9):
        return 0.0
    strength = pre_stock_strength(mass, resolution, syringe_resolution, USUAL_PRE_STOCK, can)
    return strength if mass <= strength * HANDY_SHARE * can else 0.0
