"""From a validated request for a programme to the fields of its answer."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from service.api.assumptions import assumptions_of
from service.api.dosing import Planned, refusal
from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import invalid_request
from service.api.programme_inputs import (
    WEEKDAYS,
    bench_of,
    group_of,
    period_of,
    profile_key,
    shelf_of,
    site_of,
)
from service.api.provenance import versions
from service.api.schemas.product import LabelledProduct
from service.api.schemas.programmes import ProgrammeAnswer, ProgrammeRequest, ShelfProduct
from service.planning.catalogue import Catalogue
from service.planning.cautions import ASSUMPTIONS, CAUTIONS, Notice
from service.planning.doses import plan
from service.planning.evidence import models_of, sources_of
from service.planning.explain.programmes import PlannedEvent
from service.planning.feasibility import conflicts, nearest_feasible
from service.planning.feeding_calendar import Event, Group, Period, calendar_of
from service.planning.programme import RULES
from service.planning.programme_cans import (
    INFEASIBLE,
    PLAIN_WATER,
    Bench,
    Can,
    can_of,
    fill_cans,
)
from service.planning.programme_events import event_fields, monthly_summary, product_totals
from service.planning.programme_notices import (
    programme_assumptions,
    programme_cautions,
    rules_in_words,
)
from service.planning.seasons import SEASONS, Site, SiteAir
from service.planning.understood import understood
from service.planning.words import assumptions_in_words, cautions_in_words, problem_of

BENCH_NOTES: Final = ("pre_stock", "urea_not_on_the_meter")
"""Cautions of severity `info` that change what is done at the bench."""


@dataclass(frozen=True)
class Programme:
    """
    A programme, with what its answer says once and a reader of one event needs beside it.

    Attributes
    ----------
    answer : ProgrammeAnswer
        The answer.
    warnings : tuple of mapping of str to str
        For each event, the cautions of its own can in words by their codes, those that can be read
        at leisure left out.
    planned : tuple of PlannedEvent
        Each event with its can.
    fields : mapping
        `months`, `products` and `rules` before they were rounded.
    catalogue : Catalogue
        Knows the products.
    """

    answer: ProgrammeAnswer
    warnings: tuple[Mapping[str, str], ...]
    planned: tuple[PlannedEvent, ...]
    fields: Mapping[str, Any]
    catalogue: Catalogue


def programme(asked: ProgrammeRequest, base: Catalogue) -> Programme:
    """
    Return the calendar of one request.

    Parameters
    ----------
    asked : ProgrammeRequest
        The request.
    base : Catalogue
        The catalogue of the installation.

    Raises
    ------
    ProblemError
        422 when a product is unknown, its role unclear, or a can has no answer.
    """
    names = OpenCatalogue(base)
    products, roles, notes = shelf_of(asked, names)
    site, climate_assumed = site_of(asked, profile_key(asked, names))
    group = group_of(asked, roles)
    period = period_of(asked)
    events = calendar_of(site, group, period)
    cans = {event: can_of(event, group) for event in events if event.kind != "repot_check"}
    kinds = list(dict.fromkeys([PLAIN_WATER, *cans.values()]))
    planned = planned_cans(kinds, bench_of(asked, products), names)
    listed = [
        event_fields(event, *_row_of(cans.get(event), planned), names.closed(), RULES)
        for event in events
    ]
    spoken = {
        can: cautions_in_words(each.row, each.result, each.catalogue)
        for can, each in planned.items()
    }
    cautions = _cautions(spoken, {code for event in listed for code in event["cautions"]})
    answer = _answer(
        asked, site, climate_assumed, group, period, events, planned, listed, notes, cautions
    )
    warnings = tuple(
        _warnings(fields["cautions"], spoken.get(cans.get(event, PLAIN_WATER), []))
        for event, fields in zip(events, listed, strict=True)
    )
    events_planned = tuple(
        PlannedEvent(fields, *_row_of(cans.get(event), planned))
        for event, fields in zip(events, listed, strict=True)
    )
    per_plant = float(planned[PLAIN_WATER].result["volume_per_plant_ml"])
    fields = {
        "months": monthly_summary(listed, None if per_plant != per_plant else per_plant),
        "products": product_totals(listed),
        "rules": rules_in_words(),
    }
    return Programme(answer, warnings, events_planned, fields, names.closed())


def _cautions(
    spoken: Mapping[Can, Sequence[dict[str, Any]]], used: set[str]
) -> list[dict[str, Any]]:
    """Return each caution once; numbers that differ from can to can are left open."""
    messages: dict[str, dict[str, dict[str, Any]]] = {}
    for listed in spoken.values():
        for each in listed:
            if each["code"] in used:
                messages.setdefault(each["code"], {})[each["message"]] = each
    open_texts = {each.code: each.brief or each.message for each in CAUTIONS}
    return [
        next(iter(found.values()))
        if len(found) == 1
        else {**next(iter(found.values())), "message": open_texts[code]}
        for code, found in messages.items()
    ]


def _warnings(codes: Sequence[str], spoken: Sequence[dict[str, Any]]) -> dict[str, str]:
    """Return the cautions of one event that matter at the bench."""
    return {
        each["code"]: each["message"]
        for each in spoken
        if each["code"] in codes and (each["severity"] != "info" or each["code"] in BENCH_NOTES)
    }


def _row_of(can: Can | None, planned: Mapping[Can, Planned]) -> tuple[Can | None, Any, Any]:
    """Return a can with its planned row; a look at the bark has none."""
    if can is None:
        return None, None, None
    return can, planned[can].row, planned[can].result


def planned_cans(kinds: Sequence[Can], bench: Bench, names: OpenCatalogue) -> dict[Can, Planned]:
    """Plan every kind of can once; refuse the request if one has no answer."""
    try:
        requests, results = fill_cans(kinds, bench, names)
    except NamingError as error:
        raise invalid_request(error.fault) from None
    catalogue = names.closed()
    plan(requests, results, catalogue)
    for result in results:
        problem = problem_of(result)
        if problem is not None:
            raise refusal(problem)
    return {
        can: Planned(request, result, catalogue, (request, result))
        for can, request, result in zip(kinds, requests, results, strict=True)
    }


def _answer(
    asked: ProgrammeRequest,
    site: Site,
    climate_assumed: str | None,
    group: Group,
    period: Period,
    events: Sequence[Event],
    planned: Mapping[Can, Planned],
    listed: list[dict[str, Any]],
    notes: list[Notice],
    cautions: list[dict[str, Any]],
) -> ProgrammeAnswer:
    """Put the parts of the answer together."""
    basis = planned[PLAIN_WATER]
    cans = [each for can, each in planned.items() if can.shelf_place is not None]
    per_plant = float(basis.result["volume_per_plant_ml"])
    months = monthly_summary(listed, None if per_plant != per_plant else per_plant)
    days = [event.day for event in events]
    said = programme_assumptions(site, group, period, days, climate_assumed=climate_assumed) + notes
    if asked.interval_days is None and asked.weekdays is None:
        said.append(next(each for each in ASSUMPTIONS if each.code == "interval_assumed"))
    if asked.air is not None and (asked.site.climate is not None or asked.site.artificial):
        text = "The air of the site stands in place of `air`, where it says something."
        said.append(Notice("air_of_site", "info", "air", text))
    read = [
        {"code": note.code, "field": note.field, "message": note.message}
        for note in assumptions_of(asked)
    ]
    assumptions = read + [
        {"code": note.code, "field": note.field, "message": note.message} for note in said
    ]
    blocked = bool(cans) and all(each.result["status"] == INFEASIBLE for each in cans)
    # The can that needs the purest water: what suits it suits the others.
    tightest = sorted(cans, key=_water_share)[:1] if blocked else []
    about = [
        {
            "code": each.code,
            "severity": each.severity,
            "field": each.field,
            "message": each.message,
        }
        for each in programme_cautions(site, group, period, days, months)
    ]
    for each in cans or [basis]:
        assumptions += assumptions_in_words(each.row, each.result, each.catalogue)
    sources = dict.fromkeys(("common-practice",))
    for each in cans:
        sources |= dict.fromkeys(sources_of(each.row, each.catalogue))
    return ProgrammeAnswer(
        status="infeasible" if blocked else "ok",
        id=asked.id,
        first_date=asked.first_date.isoformat(),
        last_date=asked.last_date.isoformat(),
        events=listed,
        months=months,
        products=product_totals(listed),
        rules=rules_in_words(),
        conflicts=_once([one for each in tightest for one in conflicts(each.row, each.result)]),
        nearest=next(
            (nearest_feasible(each.row, each.result, each.catalogue) for each in tightest), None
        ),
        display={},
        inputs=_inputs(asked, site, group, period, basis),
        assumptions=_once(assumptions),
        cautions=about + cautions,
        models=models_of(basis.row),
        sources=list(sources),
        version=versions(),
    )


def _once(notes: Sequence[dict[str, Any]]) -> list[Any]:
    """Return notes without those that say the same again."""
    return list({tuple(note.values()): note for note in notes}.values())


def _water_share(can: Planned) -> float:
    """Return how much of this water a blend for the can may hold."""
    return float(can.result["feasible_water_share_percent"])


def _inputs(
    asked: ProgrammeRequest, site: Site, group: Group, period: Period, basis: Planned
) -> dict[str, Any]:
    """Return the request as it was understood."""
    known = understood(basis.row, basis.catalogue)
    inputs: dict[str, Any] = {
        "plants": {name: value for name, value in known["plants"].items() if name != "growth"},
        "site": asked.site.model_dump(mode="json", exclude_none=True),
        "first_date": asked.first_date.isoformat(),
        "last_date": asked.last_date.isoformat(),
        "shelf": [
            {
                "product": product if isinstance(product, str) else product.name,
                "role": role,
            }
            for product, role in zip(_products(asked), group.shelf, strict=True)
        ],
        "water": known["water"],
        "volume_l": basis.result["volume_l"].item(),
        "instruments": known["instruments"],
    }
    if site.growth is not None:
        inputs["plants"]["growth"] = site.growth
    if site.climate is not None:
        inputs["site"]["climate"] = {name: _spoken(site.climate[name]) for name in SEASONS}
    elif site.usual_air != SiteAir():
        inputs["air"] = _spoken(site.usual_air)
    if period.weekdays:
        inputs["weekdays"] = [WEEKDAYS[place] for place in sorted(period.weekdays)]
    else:
        inputs["interval_days"] = period.interval_days
    if period.last_applied:
        inputs["last_applied"] = {
            name: when.isoformat() for name, when in period.last_applied.items()
        }
    if period.repotted_on is not None:
        inputs["repotted_on"] = period.repotted_on.isoformat()
    if "volume_per_plant_ml" in known:
        inputs["volume_per_plant_ml"] = known["volume_per_plant_ml"]
    return inputs


def _products(asked: ProgrammeRequest) -> list[str | LabelledProduct]:
    return [item.product if isinstance(item, ShelfProduct) else item for item in asked.shelf]


def _spoken(air: SiteAir) -> dict[str, float]:
    return {name: value for name, value in asdict(air).items() if value is not None}
