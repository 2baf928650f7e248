"""Plan one can, or many, from requests written as the contract writes them."""

import copy
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np

from service.planning import rows, words
from service.planning.catalogue import Catalogue, catalogue
from service.planning.cautions import ASSUMPTIONS, CAUTIONS, PROBLEMS, notices
from service.planning.doses import plan
from service.planning.products import labelled_row
from service.planning.profiles import own_profile_row
from service.planning.requests import fill_row
from service.reference.components import ELEMENT_NAMES

PLANT_FIELDS = (
    "profile",
    "size",
    "setup",
    "growth",
    "refill",
    "medium",
    "count",
    "pot_diameter_cm",
    "days_since_flush",
)
AIR_FIELDS = (
    "humidity_percent",
    "temperature_celsius",
    "average_humidity_percent",
    "average_temperature_celsius",
)
INSTRUMENT_FIELDS = (
    "balance_resolution_g",
    "syringe_resolution_ml",
    "balance_minimum_g",
    "largest_can_l",
)


@dataclass(frozen=True)
class Can:
    """One planned row, with the words that go with it."""

    row: Any
    result: Any
    catalogue: Catalogue

    @property
    def status(self) -> str:
        return rows.STATUSES[self.result["status"]]

    @property
    def problem(self) -> str:
        return PROBLEMS[self.result["problem"]].code

    @property
    def binding(self) -> str:
        return rows.BINDING_LIMITS[self.result["binding_limit"]]

    @property
    def cautions(self) -> set[str]:
        return {each.code for each in notices(int(self.result["cautions"]), CAUTIONS)}

    @property
    def assumptions(self) -> set[str]:
        return {each.code for each in notices(int(self.result["assumptions"]), ASSUMPTIONS)}

    @property
    def words(self) -> list[str]:
        said = words.cautions_in_words(self.row, self.result, self.catalogue)
        said += words.assumptions_in_words(self.row, self.result, self.catalogue)
        return [each["message"] for each in said]

    def __getitem__(self, name: str) -> float:
        return float(self.result[name])

    def element(self, name: str) -> float:
        return float(self.result["elements_mg_per_l"][ELEMENT_NAMES.index(name)])

    def amount(self, slot: int = 0) -> float:
        return float(self.result["amount"][slot])

    def exact(self, slot: int = 0) -> float:
        return float(self.result["exact_amount"][slot])


def _record(given: dict[str, Any] | None, fields: tuple[str, ...]) -> Any:
    if given is None:
        return None
    assert set(given) <= set(fields), given
    return SimpleNamespace(**{name: given.get(name) for name in fields})


def _strength(given: dict[str, Any] | None) -> Any:
    if given is None:
        return None
    return SimpleNamespace(**{"counts": None, **given})


def _request(given: dict[str, Any]) -> Any:
    request = copy.copy(given)
    request["plants"] = _record(given.get("plants"), PLANT_FIELDS)
    request["air"] = _record(given.get("air"), AIR_FIELDS)
    request["instruments"] = _record(given.get("instruments"), INSTRUMENT_FIELDS)
    request["acid"] = _record(given.get("acid"), ("kind", "percent"))
    if isinstance(given.get("water"), dict):
        request["water"] = _record(given["water"], rows.WATER_FIELDS)
    if "products" in given:
        request["products"] = [
            SimpleNamespace(product=each["product"], strength=_strength(each.get("strength")))
            for each in given["products"]
        ]
    request["strength"] = _strength(given.get("strength"))
    return SimpleNamespace(**request)


def known_to(
    labels: dict[str, dict[str, Any]] | None = None,
    profiles: dict[str, dict[str, float]] | None = None,
) -> Catalogue:
    """Return the packaged catalogue with labels and own profiles of a test."""
    known = catalogue()
    added = [
        labelled_row(name, each["form"], each.get("density_kg_per_l"), each["label"])
        for name, each in (labels or {}).items()
    ]
    base = known.profile_table[known.default_profile]
    own = {name: own_profile_row(base, each) for name, each in (profiles or {}).items()}
    return known.with_products(added).with_profiles(own)


def filled(requests: list[dict[str, Any]], known: Catalogue, limited: bool) -> tuple[Any, Any]:
    """Return request and result rows, not yet planned."""
    asked, results = rows.empty_requests(len(requests)), rows.empty_results(len(requests))
    for place, given in enumerate(requests):
        request = _request(given)
        fill_row(asked[place], results[place], request, known, limited=limited)
    return asked, results


def mixed(
    requests: list[dict[str, Any]], known: Catalogue | None = None, *, limited: bool = True
) -> list[Can]:
    """Plan many cans in one batch."""
    known = catalogue() if known is None else known
    asked, results = filled(requests, known, limited)
    plan(asked, results, known)
    return [Can(*pair, known) for pair in zip(asked, results, strict=True)]


def dose(known: Catalogue | None = None, **request: Any) -> Can:
    """Plan one dose."""
    return mixed([request], known, limited=True)[0]


def dilution(known: Catalogue | None = None, **request: Any) -> Can:
    """Plan one dilution."""
    return mixed([request], known, limited=False)[0]


def by_element(element: str, mg_per_l: float, **more: Any) -> dict[str, Any]:
    """Return a strength by element."""
    return {"basis": "element", "element": element, "mg_per_l": mg_per_l, **more}


def plain_water(known: Catalogue | None = None, water: str = "reverse_osmosis") -> dict[str, float]:
    """Return a preset as an analysis."""
    values = (known or catalogue()).water_rows[water]
    return {
        name: float(value)
        for name, value in zip(rows.WATER_FIELDS, values, strict=True)
        if np.isfinite(value)
    }
