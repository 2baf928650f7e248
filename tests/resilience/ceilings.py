"""What the answer to a row may hold at most, from the catalogue and the targets of its plants."""

import random
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import httpx

from tests.resilience.drawn_values import USUAL

SLACK: Final = 0.002
"""Excess that the service's own check allows: the acid of rounded amounts differs a little."""

MOST_G_PER_L: Final = 10.0
MOST_ML_PER_L: Final = 20.0
"""No can holds more of a product."""

AS_ELEMENT: Final = {"b": "boron", "cu": "copper", "fe": "iron", "mn": "manganese", "zn": "zinc"}
AS_ELEMENT_TOO: Final = {"mo": "molybdenum"}
MICRONUTRIENTS: Final = {**AS_ELEMENT, **AS_ELEMENT_TOO}


@dataclass(frozen=True)
class Ceilings:
    """
    Bounds of a can, as the service states them; each a printed figure, so half a unit is added.

    Attributes
    ----------
    ec_ms_per_cm, nitrogen_mg_per_l, reduced_nitrogen_mg_per_l : float
        Of the whole can.
    micronutrients_mg_per_l : mapping of str to float
        By element.
    """

    ec_ms_per_cm: float
    nitrogen_mg_per_l: float
    reduced_nitrogen_mg_per_l: float
    micronutrients_mg_per_l: Mapping[str, float]


@dataclass(frozen=True)
class Circumstances:
    """Plants, air and application with the ceilings that follow from them."""

    fields: Mapping[str, Any]
    ceilings: Ceilings | None


def printed_bound(value: float, digits: int) -> float:
    """Return the largest number that is printed as this one with so many significant digits."""
    if value <= 0.0:
        return 0.0
    step = float(f"1e{f'{value:e}'.partition('e')[2]}") * 10.0 ** (1 - digits)
    return value + 0.5 * step


def profile_ceilings(plant: Mapping[str, Any]) -> Ceilings:
    """Return what a profile bears at most, whatever the air."""
    values = {name: each["value"] for name, each in plant["ceilings"].items()}
    nitrogen = values["nitrogen_ceiling_mg_per_l"]
    return Ceilings(
        values["ec_ceiling_ms_per_cm"],
        nitrogen,
        values["ammonium_and_urea_share_max"] * nitrogen,
        {each: values[f"{each}_ceiling_mg_per_l"] for each in MICRONUTRIENTS.values()},
    )


def drawn_circumstances(
    client: httpx.Client, plants: list[dict[str, Any]], count: int, seed: int
) -> list[Circumstances]:
    """Draw plants and air, and ask the service how strong their solutions may be."""
    rng = random.Random(seed)
    drawn = []
    for _ in range(count):
        plant = rng.choice(plants)
        fields: dict[str, Any] = {"plants.profile": plant["key"]}
        for name in ("plants.size", "plants.setup", "plants.growth", "interval_days"):
            fields[name] = USUAL[name](rng)
        for name in ("air.humidity_percent", "air.temperature_celsius"):
            fields[name] = USUAL[name](rng)
        if rng.random() < 0.5:
            fields["air.average_humidity_percent"] = USUAL["air.average_humidity_percent"](rng)
            fields["air.average_temperature_celsius"] = USUAL["air.average_temperature_celsius"](
                rng
            )
        if rng.random() < 0.5:
            fields["plants.refill"] = USUAL["plants.refill"](rng)
        fields["application"] = rng.choice(("feed", "feed", "feed", "supplement", "stimulant"))
        drawn.append(Circumstances(fields, _asked(client, fields, profile_ceilings(plant))))
    return drawn


def _asked(client: httpx.Client, fields: dict[str, Any], profile: Ceilings) -> Ceilings:
    nested: dict[str, Any] = {}
    for name, value in fields.items():
        group, dot, inner = name.partition(".")
        if dot:
            nested.setdefault(group, {})[inner] = value
        else:
            nested[group] = value
    answer = client.post("/v1/targets", json=nested)
    answer.raise_for_status()
    target = answer.json()
    return Ceilings(
        min(profile.ec_ms_per_cm, printed_bound(target["ec_ms_per_cm"], 3)),
        min(profile.nitrogen_mg_per_l, printed_bound(target["nitrogen_mg_per_l"], 3)),
        min(
            profile.reduced_nitrogen_mg_per_l,
            printed_bound(target["ammonium_and_urea_nitrogen_mg_per_l"], 3),
        ),
        profile.micronutrients_mg_per_l,
    )


def content_mg_per_unit(product: Mapping[str, Any]) -> dict[str, float]:
    """
    Return what a gram, or a millilitre, of a labelled product brings.

    Of micronutrients and of ammonium with urea nitrogen [mg]; salts state no label and are left
    to the nitrogen and the conductivity of the answer.
    """
    label = product["label"]
    if not label:
        return {}
    per_unit = 10.0
    if product["form"] == "liquid" and label.get("basis") == "mass":
        if product["density_kg_per_l"] is None:
            return {}
        per_unit *= product["density_kg_per_l"]
    found = {
        element: per_unit * label[f"{symbol}_percent"]
        for symbol, element in MICRONUTRIENTS.items()
        if f"{symbol}_percent" in label
    }
    reduced = label.get("ammonium_n_percent", 0.0) + label.get("urea_n_percent", 0.0)
    return {**found, "reduced_nitrogen": per_unit * reduced}
