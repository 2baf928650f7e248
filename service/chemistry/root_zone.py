r"""
Salt in the water that a pot holds: one well-mixed store, rinsed with a stated efficiency.

A pot holds up to a volume of water, its container capacity. What is poured first fills the pot up;
the surplus passes through and takes salt along, but part of it runs past the water inside the
pieces of the medium. The efficiency is the share that mixes:

.. math:: dC = -\eta\,(C - C_w)\,dV / V_0

Salt is counted as conductivity times volume (mS/cm times litre); it is conserved exactly.
"""

import math

from service.chemistry.kernel import kernel


@kernel
def displaced(
    initial: float, entering: float, passed: float, held: float, efficiency: float
) -> float:
    r"""
    Return the conductivity of the water in a full pot after water has passed through.

    Parameters
    ----------
    initial : float
        Conductivity of the water in the pot before, at least 0 [mS/cm].
    entering : float
        Conductivity of the water that passes, at least 0 [mS/cm].
    passed : float
        Volume that passes, at least 0 [liter].
    held : float
        Volume that the pot holds, above 0 [liter].
    efficiency : float
        Share of the passing water that mixes with the held water, 0 to 1 [dimensionless].

    Returns
    -------
    float
        Conductivity after; NaN outside the ranges [mS/cm].

    Notes
    -----
    .. math:: C = C_w + (C_0 - C_w)\,\exp(-\eta V / V_0)

    Validity: a store that is mixed as a whole. Efficiencies of soils lie between 0.1 (dense clay)
    and 0.8 [1]_; those of media are in `service.reference.media`.

    References
    ----------
    .. [1] Leaching model (soil), encyclopedia article, section on the leaching efficiency.
       Source key: ``leaching-model-article``.
    """
    if not (0.0 <= passed < math.inf and 0.0 < held < math.inf and 0.0 <= efficiency <= 1.0):
        return math.nan
    if not (0.0 <= initial < math.inf and 0.0 <= entering < math.inf):
        return math.nan
    return entering + (initial - entering) * math.exp(-efficiency * passed / held)


@kernel
def displacing_volume(
    initial: float, entering: float, target: float, held: float, efficiency: float
) -> float:
    r"""
    Return the volume that has to pass a full pot to bring its water to a conductivity.

    Parameters
    ----------
    initial : float
        Conductivity of the water in the pot, at least 0 [mS/cm].
    entering : float
        Conductivity of the water that passes, at least 0 [mS/cm].
    target : float
        Conductivity wanted [mS/cm].
    held : float
        Volume that the pot holds, above 0 [liter].
    efficiency : float
        Share of the passing water that mixes with the held water, above 0 to 1 [dimensionless].

    Returns
    -------
    float
        Volume; 0 where the pot is at the target already, NaN where this water never brings it
        there and outside the ranges [liter].

    Notes
    -----
    .. math:: V = (V_0 / \eta) \ln\frac{C_0 - C_w}{C_t - C_w}

    The inverse of `displaced`.

    References
    ----------
    .. [1] Leaching model (soil), encyclopedia article, section on the leaching efficiency.
       Source key: ``leaching-model-article``.
    """
    if not (0.0 < held < math.inf and 0.0 < efficiency <= 1.0):
        return math.nan
    if not (0.0 <= initial < math.inf and 0.0 <= entering < math.inf and target < math.inf):
        return math.nan
    if initial <= target:
        return 0.0
    if not target > entering:
        return math.nan
    # Both differences are positive: initial > target > entering.
    return held / efficiency * math.log((initial - entering) / (target - entering))


@kernel
def salt_after_pouring(
    salt: float, water: float, held: float, poured: float, entering: float, efficiency: float
) -> float:
    """
    Return the salt in a pot after a watering.

    Parameters
    ----------
    salt : float
        Salt in the pot before, conductivity times volume, at least 0 [mS/cm*liter].
    water : float
        Water in the pot before, above 0 and at most `held` [liter].
    held : float
        Volume that the pot holds when full, above 0 [liter].
    poured : float
        Volume that is poured, at least 0 [liter].
    entering : float
        Conductivity of what is poured, at least 0 [mS/cm].
    efficiency : float
        Share of the passing water that mixes with the held water, 0 to 1 [dimensionless].

    Returns
    -------
    float
        Salt after; what left with the drainage is `salt + entering * poured` less this; NaN
        outside the ranges [mS/cm*liter].

    Notes
    -----
    The pot fills first and is mixed; what is poured beyond that displaces as in `displaced`.

    References
    ----------
    .. [1] Leaching model (soil), encyclopedia article, section on the leaching efficiency.
       Source key: ``leaching-model-article``.
    """
    if not (0.0 < water <= held and 0.0 <= poured < math.inf and 0.0 <= salt < math.inf):
        return math.nan
    filling = min(poured, held - water)
    full = salt + entering * filling
    passing = poured - filling
    if not passing > 0.0:
        return full
    return held * displaced(full / held, entering, passing, held, efficiency)
