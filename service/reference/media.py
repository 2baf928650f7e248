"""Media: how much water a pot of them holds, and how well it is rinsed."""

import functools
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from service.reference.sources import require_source
from service.reference.tables import ReferenceDataError, number, read_table

QUANTITIES: Final = ("held_share", "leaching_efficiency")


@dataclass(frozen=True, slots=True)
class GrowingMedium:
    """
    What a pot of one medium does with water.

    Parameters
    ----------
    key : str
        Name of the medium in the contract.
    held_share : float
        Water held after draining, over the volume of the pot.
    leaching_efficiency : float
        Share of the water passing through that mixes with the held water.
    sources : tuple of str
        Source keys.
    """

    key: str
    held_share: float
    leaching_efficiency: float
    sources: tuple[str, ...]


@functools.cache
def media() -> Mapping[str, GrowingMedium]:
    """
    Return the media.

    Returns
    -------
    mapping of str to GrowingMedium
        By key.

    Raises
    ------
    ReferenceDataError
        If the packaged table is wrong.
    """
    values: dict[str, dict[str, float]] = defaultdict(dict)
    keys: dict[str, list[str]] = defaultdict(list)
    for row in read_table("media", ("medium", "quantity", "value", "unit", "basis", "source")):
        if row["quantity"] not in QUANTITIES or row["unit"] != "1":
            raise ReferenceDataError(row["row"], f"unknown quantity {row['quantity']!r}")
        value = number(row)
        if not 0.0 < value <= 1.0:
            raise ReferenceDataError(row["row"], f"must be a share up to 1, got {value:g}")
        values[row["medium"]][row["quantity"]] = value
        keys[row["medium"]].append(require_source(row["source"], row["row"]))
    result = {}
    for key, each in values.items():
        missing = set(QUANTITIES) - set(each)
        if missing:
            raise ReferenceDataError(f"media.{key}", f"lacks {', '.join(sorted(missing))}")
        result[key] = GrowingMedium(
            key, each["held_share"], each["leaching_efficiency"], tuple(dict.fromkeys(keys[key]))
        )
    return MappingProxyType(result)
