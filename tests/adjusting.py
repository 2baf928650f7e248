"""Plan pH adjustments from requests written as the contract writes them."""

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from service.planning import ph_adjustment_card as card
from service.planning import rows
from service.planning.catalogue import Catalogue, catalogue
from service.planning.cautions import PROBLEMS
from service.planning.ph_adjustment import adjust
from service.planning.ph_adjustment_request import fill_ph_row
from service.planning.ph_adjustment_rows import empty_ph_requests, empty_ph_results
from service.planning.ph_adjustment_steps import ph_steps
from service.reference.components import ELEMENT_NAMES
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

FIELDS = (
    "water",
    "volume_l",
    "target_ph",
    "target_alkalinity_mg_per_l_caco3",
    "acid",
    "additions",
    "acid_goes",
    "carbon_dioxide",
    "reservoir",
    "limits",
    "plants",
    "instruments",
)
PARTS = {
    "acid": ("kind", "percent"),
    "limits": ("acid_phosphorus_mg_per_l",),
    "plants": ("profile",),
    "instruments": ("balance_resolution_g", "syringe_resolution_ml", "largest_can_l"),
}


@dataclass(frozen=True)
class Adjusted:
    """One planned adjustment, with the words that go with it."""

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
    def cautions(self) -> set[str]:
        return {each["code"] for each in card.ph_cautions(self.row, self.result, self.catalogue)}

    @property
    def assumptions(self) -> set[str]:
        said = card.ph_assumptions(self.row, self.result, self.catalogue)
        return {each["code"] for each in said}

    @property
    def words(self) -> list[str]:
        said = card.ph_cautions(self.row, self.result, self.catalogue)
        said += card.ph_assumptions(self.row, self.result, self.catalogue)
        return [each["message"] for each in said]

    @property
    def fields(self) -> dict[str, Any]:
        return card.ph_fields(self.row, self.result, self.catalogue)

    @property
    def steps(self) -> list[dict[str, Any]]:
        return ph_steps(self.row, self.result, self.catalogue)

    def __getitem__(self, name: str) -> float:
        return float(self.result[name])

    def added(self, element: str) -> float:
        return float(self.result["added_mg_per_l"][ELEMENT_NAMES.index(element)])


def _record(given: dict[str, Any] | None, fields: tuple[str, ...]) -> Any:
    if given is None:
        return None
    assert set(given) <= set(fields), given
    return SimpleNamespace(**{name: given.get(name) for name in fields})


def adjustment_request(**given: Any) -> Any:
    """Return a request with the attributes of the contract."""
    assert set(given) <= set(FIELDS), given
    request = {name: given.get(name) for name in FIELDS}
    for name, fields in PARTS.items():
        request[name] = _record(request[name], fields)
    if isinstance(request["water"], dict):
        request["water"] = _record(request["water"], rows.WATER_FIELDS)
    if request["additions"] is not None:
        request["additions"] = [
            SimpleNamespace(**{"g_per_l": None, "ml_per_l": None, **each})
            for each in request["additions"]
        ]
    return SimpleNamespace(**request)


def adjusted(known: Catalogue | None = None, **given: Any) -> Adjusted:
    """Plan one adjustment; `volume_l` is 10 and the water moderate unless given."""
    known = catalogue() if known is None else known
    requests, results = empty_ph_requests(1), empty_ph_results(1)
    request = adjustment_request(**{"water": "moderate_tap", "volume_l": 10, **given})
    fill_ph_row(requests[0], results[0], request, known)
    adjust(requests, results, known)
    return Adjusted(requests[0], results[0], known)


def acid(kind: str, percent: float | None = None) -> dict[str, Any]:
    """Return a bottle."""
    return {"kind": kind, "percent": percent}


def bicarbonate_water(meq_per_l: float, ph: float, **more: float) -> dict[str, float]:
    """Return an analysis of a sodium bicarbonate water without anything else."""
    return {
        "ph": ph,
        "alkalinity_mg_per_l_caco3": CALCIUM_CARBONATE_MG_PER_MEQ * meq_per_l,
        "sodium_mg_per_l": 22.98977 * meq_per_l,
        "calcium_mg_per_l": 0.0,
        "magnesium_mg_per_l": 0.0,
        "chloride_mg_per_l": 0.0,
        "sulfate_mg_per_l": 0.0,
        **more,
    }
