"""
Leaching: the share of the water that has to drain so that salt leaves as fast as it comes.

In a pot the balance is the plain one: what comes in with the water leaves with the drainage. The
formula of field soils counts the paste of a soil with roots through its whole depth; it stands
here to be checked against print, and no pot is planned with it.
"""

import math
from typing import Final

from service.chemistry.kernel import kernel

PASTE_FACTOR: Final = 5.0
"""Weight of the saturated paste in the field formula, ali-irrigation-examples, Example 8.6."""


@kernel
def steady_leaching_fraction(inflow: float, drainage: float) -> float:
    r"""
    Return the share of the water that drains when salt neither gathers nor goes.

    Parameters
    ----------
    inflow : float
        Conductivity of the water or feed that is poured, at least 0 [mS/cm].
    drainage : float
        Conductivity of the drainage, above 0 [mS/cm].

    Returns
    -------
    float
        Drained volume over poured volume; above 1 where the drainage is thinner than what is
        poured, NaN outside the ranges [dimensionless].

    Notes
    -----
    .. math:: f = \kappa_{in} / \kappa_{out}

    Validity: no salt is taken up, dissolved or precipitated, and conductivity stands for salt.
    Plants take some up, so the share is on the safe side.

    References
    ----------
    .. [1] M. H. Ali, *Practices of Irrigation and On-farm Water Management*, Example 8.5.
       Source key: ``ali-irrigation-examples``.
    """
    if not (0.0 <= inflow < math.inf and 0.0 < drainage < math.inf):
        return math.nan
    return inflow / drainage


@kernel
def steady_drainage(inflow: float, leaching_fraction: float) -> float:
    r"""
    Return the conductivity that the drainage comes to at a leaching fraction.

    Parameters
    ----------
    inflow : float
        Conductivity of the water or feed that is poured, at least 0 [mS/cm].
    leaching_fraction : float
        Drained volume over poured volume, above 0 and at most 1 [dimensionless].

    Returns
    -------
    float
        Conductivity of the drainage; NaN outside the ranges [mS/cm].

    Notes
    -----
    .. math:: \kappa_{out} = \kappa_{in} / f

    The same ratio gives the soil water at a depth that a share f of the water passes.

    References
    ----------
    .. [1] M. H. Ali, *Practices of Irrigation and On-farm Water Management*, Example 8.5.
       Source key: ``ali-irrigation-examples``.
    """
    if not (0.0 <= inflow < math.inf and 0.0 < leaching_fraction <= 1.0):
        return math.nan
    return inflow / leaching_fraction


@kernel
def leaching_fraction(used: float, poured: float) -> float:
    r"""
    Return the share of the poured water that drains.

    Parameters
    ----------
    used : float
        Water that plant and air take, 0 to `poured`, in the unit of `poured` [liter].
    poured : float
        Water that is poured, above 0 [liter].

    Returns
    -------
    float
        Leaching fraction; NaN outside the ranges [dimensionless].

    Notes
    -----
    .. math:: f = 1 - V_{used} / V_{poured}

    References
    ----------
    .. [1] M. H. Ali, *Practices of Irrigation and On-farm Water Management*, Example 8.5.
       Source key: ``ali-irrigation-examples``.
    """
    if not (0.0 < poured < math.inf and 0.0 <= used <= poured):
        return math.nan
    return 1.0 - used / poured


@kernel
def water_with_leaching(used: float, fraction: float) -> float:
    r"""
    Return how much to pour so that a share of it drains.

    Parameters
    ----------
    used : float
        Water that plant and air took and the pot takes up again, at least 0 [liter].
    fraction : float
        Leaching fraction, 0 to below 1 [dimensionless].

    Returns
    -------
    float
        Water to pour; NaN outside the ranges [liter].

    Notes
    -----
    .. math:: V_{poured} = V_{used} / (1 - f)

    References
    ----------
    .. [1] M. H. Ali, *Practices of Irrigation and On-farm Water Management*, Example 8.6 (a).
       Source key: ``ali-irrigation-examples``.
    """
    if not (0.0 <= used < math.inf and 0.0 <= fraction < 1.0):
        return math.nan
    return used / (1.0 - fraction)


@kernel
def field_leaching_requirement(inflow: float, tolerated: float) -> float:
    r"""
    Return the leaching requirement of a field soil; not used for pots.

    Parameters
    ----------
    inflow : float
        Conductivity of the irrigation water, at least 0 [mS/cm].
    tolerated : float
        Conductivity of the saturated paste that the crop bears, above a fifth of `inflow` [mS/cm].

    Returns
    -------
    float
        Share of the water that has to drain; NaN outside the ranges [dimensionless].

    Notes
    -----
    .. math:: f = \kappa_w / (5 \kappa_e - \kappa_w)

    Validity: surface-irrigated fields and the extract of a saturated soil paste. A pot of bark has
    no paste and lets far more water through; `steady_leaching_fraction` is the balance of a pot.

    References
    ----------
    .. [1] M. H. Ali, *Practices of Irrigation and On-farm Water Management*, Example 8.6.
       Source key: ``ali-irrigation-examples``.
    """
    if not (0.0 <= inflow < math.inf and tolerated < math.inf):
        return math.nan
    divisor = PASTE_FACTOR * tolerated - inflow
    if not divisor > 0.0:
        return math.nan
    return inflow / divisor
