"""How near the tanks of a stock plan are to clouding, at every temperature they may meet."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.planning.tank_chemistry import TankWater, tank_limit
from service.planning.tank_products import TankProduct

STEP_CELSIUS: Final = 5.0
BESIDE_CELSIUS: Final = 10.0
"""How far beyond the temperatures of a plan it is followed."""

LOWEST_CELSIUS: Final = 0.0
HIGHEST_CELSIUS: Final = 40.0
"""Range of the solubilities."""


@dataclass(frozen=True)
class TankPoint:
    """
    A tank at one temperature.

    Attributes
    ----------
    celsius : float
        Temperature.
    percent : float
        The planned strength in percent of the strength at which it clouds, the margin of the
        model taken off; above 100 it is cloudy.
    solid : str or None
        What comes out first.
    """

    celsius: float
    percent: float
    solid: str | None


def saturation_temperatures(coldest: float, warmest: float) -> tuple[float, ...]:
    """
    Return the temperatures at which tanks are followed.

    Parameters
    ----------
    coldest, warmest : float
        Ends of the range that a plan keeps clear [degC].

    Returns
    -------
    tuple of float
        Both ends, and steps that reach beyond them where solubilities are known [degC].
    """
    low = max(LOWEST_CELSIUS, min(coldest, coldest - BESIDE_CELSIUS))
    high = min(HIGHEST_CELSIUS, warmest + BESIDE_CELSIUS)
    grid = [LOWEST_CELSIUS + STEP_CELSIUS * step for step in range(9)]
    ends = [each for each in (coldest, warmest) if LOWEST_CELSIUS <= each <= HIGHEST_CELSIUS]
    return tuple(sorted({*(each for each in grid if low <= each <= high), *ends}))


def tank_saturation(
    products: Sequence[TankProduct], water: TankWater, factor: float
) -> tuple[TankPoint, ...]:
    """
    Return how near a tank is to clouding.

    Parameters
    ----------
    products : sequence of TankProduct
        Its contents, for a litre of the working solution.
    water : TankWater
        Its water, and the temperatures of the plan.
    factor : float
        Concentration factor of the plan.

    Returns
    -------
    tuple of TankPoint
        The coldest first; a temperature at which the model gives no limit is left out.
    """
    kept = water.temperatures_celsius
    points = []
    for celsius in saturation_temperatures(kept[0], kept[-1]):
        limit = tank_limit(products, TankWater(water.composition_mol_per_kg, (celsius,)))
        if limit.highest_factor > 0.0:
            points.append(TankPoint(celsius, 100.0 * factor / limit.highest_factor, limit.solid))
    return tuple(points)
