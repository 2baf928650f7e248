"""The errors of one quantity, by how their values are known."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from tests.comparisons import Comparison
from tests.trust_report.quantities import PERCENT, Quantity

BASES = ("published", "computed", "informal", "memory")
ALL = "all"


@dataclass(frozen=True)
class Figures:
    """
    The errors of the checks of one basis.

    Attributes
    ----------
    basis : str
        `published`, `computed` by an engine, `informal`, `memory`, or `all` of the first two.
    count : int
        How many values were compared.
    origins : tuple of str
        Where they stand, each once.
    median, lowest, highest : float
        Size of the error in the middle, and the ends of all of them with their signs.
    worst_at : str
        The row of the largest.
    nearest : float or None
        The largest share of what its test allows, in per cent.
    """

    basis: str
    count: int
    origins: tuple[str, ...]
    median: float
    lowest: float
    highest: float
    worst_at: str
    nearest: float | None


def error(quantity: Quantity, each: Comparison) -> float | None:
    """Return the error of ours, with its sign; none in per cent of nothing."""
    difference = each.ours - each.expected
    if quantity.error != PERCENT:
        return difference
    return 100.0 * difference / abs(each.expected) if each.expected else None


def figures(quantity: Quantity, comparisons: Sequence[Comparison], basis: str) -> Figures | None:
    """Return the figures of one basis, or none where nothing was compared."""
    wanted = BASES[:2] if basis == ALL else (basis,)
    chosen = [each for each in comparisons if each.basis in wanted]
    errors = [(found, each) for each in chosen if (found := error(quantity, each)) is not None]
    if not errors:
        return None
    _, at = max(errors, key=lambda pair: abs(pair[0]))
    # Where the test asks for equality, a share of what is allowed says nothing.
    shares = [
        100.0 * abs(each.ours - each.expected) / each.allowed
        for each in chosen
        if each.allowed and each.allowed > 1e-5 * abs(each.expected)
    ]
    return Figures(
        basis=basis,
        count=len(chosen),
        origins=tuple(sorted({each.source for each in chosen})),
        median=statistics.median(abs(found) for found, _ in errors),
        lowest=min(found for found, _ in errors),
        highest=max(found for found, _ in errors),
        worst_at=at.identity,
        nearest=max(shares) if shares else None,
    )


def by_basis(quantity: Quantity, comparisons: Sequence[Comparison]) -> list[Figures]:
    """Return the figures of every basis that a quantity has, the firmest first."""
    found = (figures(quantity, comparisons, basis) for basis in BASES)
    return [each for each in found if each is not None]
