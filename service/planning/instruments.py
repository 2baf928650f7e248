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

HANDY_VOLUME: Final = 200.0
"""Volume of pre-stock above which a stronger one is handier [mL]; common practice."""


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
def pre_stock_strength(exact: float, syringe_resolution: float, strongest: float) -> float:
    """
    Return the pre-stock of which the syringe can measure the amount, and no more than is handy.

    Parameters
    ----------
    exact : float
        Amount of product for the can, above 0 [g or mL].
    syringe_resolution : float
        Smallest step of the syringe [mL].
    strongest : float
        Strongest pre-stock that the product dissolves to [g/L or mL/L].

    Returns
    -------
    float
        Product per litre of pre-stock: the weakest of those that are measurable and not above
        `HANDY_VOLUME`, else the strongest measurable; 0 when even the weakest cannot be measured
        [g/L or mL/L].
    """
    chosen = 0.0
    for strength in PRE_STOCK_STRENGTHS:
        volume = 1000.0 * exact / strength
        if strength > strongest or volume < TRUSTED_STEPS * syringe_resolution:
            continue
        if chosen == 0.0 or volume <= HANDY_VOLUME:
            chosen = strength
    return chosen
