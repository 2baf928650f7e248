"""Which products may share a concentrate: classes, pairs, ranges of pH, order of dissolving."""

import functools
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from service.reference.components import COMPONENT_NAMES
from service.reference.sources import require_source
from service.reference.tables import ReferenceDataError, number, read_table

VERDICTS: Final = ("forbidden", "apart", "flagged")
"""`forbidden`: never in one tank; `apart`: apart where tanks allow; `flagged`: said."""

GIVEN_BY: Final = (
    "component",
    "trace_metals",
    "alkalinity",
    "alkalinity_beyond_phosphate",
    "acidity",
    "kind",
    "product",
    "oxidiser",
)
OTHERS: Final = "others"
"""Second class of a pair that means every product that is not alkaline."""

CHELATE_LIMITS: Final = ("upper_ph", "lower_ph")


@dataclass(frozen=True, slots=True)
class ClassRule:
    """
    What makes a product a member of a class.

    Parameters
    ----------
    name : str
        The class.
    given_by : str
        One of `GIVEN_BY`.
    subject : str
        Component, kind or key of the product that it goes by; empty where none is needed.
    least_mmol_per_g : float
        Amount from which it counts.
    source : str
        Source key.
    """

    name: str
    given_by: str
    subject: str
    least_mmol_per_g: float
    source: str


@dataclass(frozen=True, slots=True)
class PairRule:
    """
    What two classes do in one concentrate.

    Parameters
    ----------
    first, second : str
        The classes; the second may be `OTHERS`.
    verdict : str
        One of `VERDICTS`.
    reason : str
        What happens, in words.
    source : str
        Source key.
    """

    first: str
    second: str
    verdict: str
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class ChelateLimits:
    """
    Range of pH in which a strong stock of a chelate keeps.

    Parameters
    ----------
    lower_ph, upper_ph : float
        Ends of the range.
    sources : tuple of str
        Source keys.
    """

    lower_ph: float
    upper_ph: float
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DissolvingRank:
    """
    Place of a kind of product in the order of dissolving.

    Parameters
    ----------
    rank : int
        Low goes first.
    group : str
        A class, or ``product``, ``salt``, ``feed`` or ``liquid``.
    subject : str
        Key of the product for ``product``.
    reason : str
        Why it stands there.
    """

    rank: int
    group: str
    subject: str
    reason: str


@functools.cache
def class_rules() -> tuple[ClassRule, ...]:
    """
    Return what makes a product a member of a class.

    Returns
    -------
    tuple of ClassRule
        In the order of the table.

    Raises
    ------
    ReferenceDataError
        If the packaged table is wrong.
    """
    found = []
    for row in read_table(
        "compatibility_classes", ("class", "given_by", "name", "least_mmol_per_g", "source")
    ):
        require_source(row["source"], row["row"])
        if row["given_by"] not in GIVEN_BY:
            raise ReferenceDataError(row["row"], f"unknown given_by {row['given_by']!r}")
        if row["given_by"] == "component" and row["name"] not in COMPONENT_NAMES:
            raise ReferenceDataError(row["row"], f"unknown component {row['name']!r}")
        least = number(row, "least_mmol_per_g")
        found.append(ClassRule(row["class"], row["given_by"], row["name"], least, row["source"]))
    return tuple(found)


@functools.cache
def pair_rules() -> tuple[PairRule, ...]:
    """
    Return what pairs of classes do in one concentrate.

    Returns
    -------
    tuple of PairRule
        In the order of the table.

    Raises
    ------
    ReferenceDataError
        If the packaged table is wrong.
    """
    known = {rule.name for rule in class_rules()} | {OTHERS}
    found = []
    for row in read_table(
        "compatibility_pairs", ("first", "second", "verdict", "reason", "source")
    ):
        require_source(row["source"], row["row"])
        if row["verdict"] not in VERDICTS:
            raise ReferenceDataError(row["row"], f"unknown verdict {row['verdict']!r}")
        if not {row["first"], row["second"]} <= known:
            raise ReferenceDataError(row["row"], "names an unknown class")
        found.append(
            PairRule(row["first"], row["second"], row["verdict"], row["reason"], row["source"])
        )
    return tuple(found)


@functools.cache
def chelate_limits() -> Mapping[str, ChelateLimits]:
    """
    Return the range of pH of the iron chelates.

    Returns
    -------
    mapping of str to ChelateLimits
        By key of the product.

    Raises
    ------
    ReferenceDataError
        If the packaged table is wrong.
    """
    values: dict[str, dict[str, float]] = defaultdict(dict)
    keys: dict[str, dict[str, None]] = defaultdict(dict)
    for row in read_table("chelate_ph_limits", ("chelate", "quantity", "value", "source")):
        require_source(row["source"], row["row"])
        if row["quantity"] not in CHELATE_LIMITS:
            raise ReferenceDataError(row["row"], f"unknown quantity {row['quantity']!r}")
        values[row["chelate"]][row["quantity"]] = number(row)
        keys[row["chelate"]][row["source"]] = None
    return MappingProxyType(
        {
            chelate: ChelateLimits(found["lower_ph"], found["upper_ph"], tuple(keys[chelate]))
            for chelate, found in values.items()
        }
    )


@functools.cache
def dissolving_ranks() -> tuple[DissolvingRank, ...]:
    """
    Return the order in which kinds of products are dissolved.

    Returns
    -------
    tuple of DissolvingRank
        Low ranks first.

    Raises
    ------
    ReferenceDataError
        If the packaged table is wrong.
    """
    found = []
    for row in read_table("dissolving_order", ("rank", "class", "name", "reason", "source")):
        require_source(row["source"], row["row"])
        place = round(number(row, "rank"))
        found.append(DissolvingRank(place, row["class"], row["name"], row["reason"]))
    return tuple(sorted(found, key=lambda each: each.rank))
