"""The tanks of a stock plan poured back together, before the plan is given to anybody."""

from collections.abc import Sequence
from typing import Any, Final

from service.planning.forward_check import UnconfirmedError
from service.planning.tank_products import TankProduct

TANK_TOLERANCE: Final = 1e-6
"""Relative difference from the recipe, beside one step of the balance in each tank."""


def confirm_tanks(
    products: Sequence[TankProduct],
    tanks: Sequence[dict[str, Any]],
    litres: float,
    step_g: float,
) -> None:
    """
    Hold what is weighed into all tanks against the recipe.

    Parameters
    ----------
    products : sequence of TankProduct
        What a litre of the working solution shall hold.
    tanks : sequence of dict
        Fields of the tanks, with the additions of each.
    litres : float
        Working solution that the tanks make [L].
    step_g : float
        Step of the balance; 0 where nothing is rounded [g].

    Raises
    ------
    UnconfirmedError
        If the tanks together are not the recipe.
    """
    wanted: dict[str, float] = {}
    for product in products:
        wanted[product.key] = wanted.get(product.key, 0.0) + product.amount * litres
    held = dict.fromkeys(wanted, 0.0)
    allowed = {key: TANK_TOLERANCE * amount for key, amount in wanted.items()}
    for tank in tanks:
        for addition in tank["additions"]:
            key, volume = addition["product"], addition["volume_ml"]
            held[key] = held.get(key, 0.0) + (addition["mass_g"] if volume is None else volume)
            allowed[key] = allowed.get(key, 0.0) + (step_g if volume is None else 0.0)
    for key, amount in held.items():
        if not abs(amount - wanted.get(key, 0.0)) <= allowed[key]:
            raise UnconfirmedError(f"{key}: the tanks hold {amount}, not {wanted.get(key, 0.0)}")
