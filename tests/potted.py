"""Plan a flush or an outlook from a request written as the contract writes it."""

from dataclasses import dataclass
from typing import Any

from service.api.naming import OpenCatalogue
from service.api.schemas.flushes import FlushRequest
from service.api.schemas.salt_outlooks import SaltOutlookRequest
from service.planning.catalogue import catalogue
from service.planning.containers import named_profile
from service.planning.flush import FlushPlan, plan_flush
from service.planning.notes import Notes
from service.planning.salt_outlook import Outlook, plan_outlook


@dataclass(frozen=True)
class Planned:
    """A plan with what was said beside it."""

    plan: Any
    cautions: set[str]
    assumptions: set[str]


def _planned(asked: Any, planner: Any) -> Planned:
    notes, names = Notes(), OpenCatalogue(catalogue())
    profile = named_profile(asked.plants, names, notes)
    plan = planner(asked, profile, names.closed(), notes)
    return Planned(
        plan,
        {each["code"] for each in notes.cautions},
        {each["code"] for each in notes.assumptions},
    )


def flush(**fields: Any) -> Planned:
    body = {"container": {"diameter_cm": 12}, "water": "rain", **fields}
    planned = _planned(FlushRequest.model_validate(body), plan_flush)
    assert isinstance(planned.plan, FlushPlan)
    return planned


def outlook(**fields: Any) -> Planned:
    body = {
        "container": {"diameter_cm": 12, "medium": "bark", "setup": "wet_dry_pot"},
        "plants": {"size": "large"},
        "water": "rain",
        "schedule": [{"kind": "feed", "ec_ms_per_cm": 0.8, "every_days": 7}],
        "days_between_waterings": 7,
        **fields,
    }
    planned = _planned(SaltOutlookRequest.model_validate(body), plan_outlook)
    assert isinstance(planned.plan, Outlook)
    return planned
