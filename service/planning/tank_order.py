"""The order in which the contents of a tank are dissolved, and why."""

from collections.abc import Sequence

from service.planning.tank_products import TankProduct
from service.reference.compatibility import DissolvingRank, dissolving_ranks


def _stands_for(rank: DissolvingRank, product: TankProduct) -> bool:
    """Tell whether a rank is about a product."""
    if rank.group == "product":
        return product.key == rank.subject
    if rank.group == "liquid":
        return product.liquid
    if rank.group == "feed":
        return product.labelled
    if rank.group == "salt":
        return not product.labelled and not product.liquid
    # A complete feed is no acid or base for the order, whatever it leaves in the water.
    return rank.group in product.classes and not (
        product.labelled and rank.group in ("acid", "caustic") and not product.liquid
    )


def _rank(product: TankProduct) -> DissolvingRank:
    """Return the rank of a product; its own key and its classes come before its form."""
    fitting = [rank for rank in dissolving_ranks() if _stands_for(rank, product)]
    by_form = ("liquid", "feed", "salt")
    named = [rank for rank in fitting if rank.group == "product"]
    classed = [rank for rank in fitting if rank.group not in ("product", *by_form)]
    return (named or classed or fitting)[0]


def dissolving_order(products: Sequence[TankProduct]) -> list[tuple[TankProduct, str]]:
    """
    Return the contents of a tank in the order in which they are dissolved.

    Parameters
    ----------
    products : sequence of TankProduct
        Contents of the tank.

    Returns
    -------
    list of (TankProduct, str)
        Each with the reason for its place.
    """
    ranked = [(_rank(product), product) for product in products]
    ranked.sort(key=lambda each: (each[0].rank, -each[1].mass_g_per_l, each[1].key))
    return [(product, rank.reason) for rank, product in ranked]
