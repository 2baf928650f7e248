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

PRE_STOCK_STRENGTHS: Final = np.array([10.0, 1.0, 0.1, 0.01, 0.001])
"""Strengths tried, strongest first: g (or mL) of product per litre of pre-stock."""




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
def pre_stock_strength(exact: float, syringe_resolution: float) -> float:
    """
    Return the strongest pre-stock of which the syringe can measure the amount.

    Parameters
    ----------
    exact : float
        Amount of product for the can, above 0 [g or mL].
    syringe_resolution : float
        Smallest step of the syringe [mL].

    Returns
    -------
    float
        Product per litre of pre-stock; 0 when even the weakest cannot be measured [g/L or mL/L].
    """
    for strength in PRE_STOCK_STRENGTHS:
        if exact / strength * 1000.0 >= TRUSTED_STEPS * syringe_resolution:
            return float(strength)
    return 0.0
