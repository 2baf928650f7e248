"""What stands on a tank: a label to write or print, so that nobody guesses what is in it."""

from collections.abc import Sequence
from typing import Final

from service.planning.tank_products import TankProduct

DATE_LINE: Final = "Made on: ____________  Use up by: ____________"
CHILDREN: Final = "Not for drinking. Keep locked away from children and animals, closed and dark."
CORROSIVE: Final = "Holds acid or base: goggles and gloves."
OXIDISER: Final = "Holds nitrates: wipe up spills, they feed a fire when dry."
ORGANIC: Final = "Holds organic matter: use it up within a few days."


def tank_label(
    name: str,
    contents: Sequence[tuple[str, float, str]],
    products: Sequence[TankProduct],
    *,
    factor: float,
    volume_l: float,
    others: Sequence[str],
    coldest_celsius: float,
) -> list[str]:
    """
    Return the lines of a label.

    Parameters
    ----------
    name : str
        Name of the tank.
    contents : sequence of (str, float, str)
        Name, amount and unit of what is in the tank.
    products : sequence of TankProduct
        The same, for what they are.
    factor : float
        Concentration factor.
    volume_l : float
        Volume of the finished concentrate.
    others : sequence of str
        Names of the other tanks.
    coldest_celsius : float
        Temperature below which it may not stand.

    Returns
    -------
    list of str
        One line each.
    """
    lines = [f"TANK {name}: stock solution, {factor:g} times strength"]
    lines.append(f"In {volume_l:g} L of finished concentrate:")
    lines += [f"  {what}: {amount:.4g} {unit}" for what, amount, unit in contents]
    use = f"Use {1000.0 / factor:.3g} mL in a litre of finished feed"
    if others:
        listed = " and ".join(others)
        use += f", with as much of tank {listed}. Never pour concentrates together"
    lines.append(f"{use}.")
    lines.append(f"Keep at {coldest_celsius:g} °C or warmer.")
    classes = {each for product in products for each in product.classes}
    if classes & {"acid", "caustic"}:
        lines.append(CORROSIVE)
    if any(product.oxidiser for product in products):
        lines.append(OXIDISER)
    if "seaweed" in classes:
        lines.append(ORGANIC)
    lines += [CHILDREN, DATE_LINE]
    return lines
