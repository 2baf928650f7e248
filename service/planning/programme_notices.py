"""What a calendar takes to be so, and what to know before following it."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from typing import Any, Final

from service.planning.cautions import Notice
from service.planning.feeding_calendar import Group, Period, watering_days
from service.planning.programme import RULES, ProgrammeRules
from service.planning.seasons import Day, Site
from service.planning.targets import HIGHEST_TEMPERATURE, LOWEST_TEMPERATURE

BASIS: Final = "common practice, no published source"

RULE_TEXTS: Final[Mapping[str, tuple[str, str]]] = {
    "supplement_days": ("d", "between supplements while the plants grow"),
    "cool_supplement_days": ("d", "between supplements in autumn and winter"),
    "stimulant_days": ("d", "between seaweed cans, from spring to autumn"),
    "stimulant_slot_days": ("d", "longest gap between cans at which one can be seaweed"),
    "flush_days": ("d", "between flushes of a pot"),
    "dry_air_flush_days": ("d", "between flushes of a pot in dry air"),
    "dry_air_percent": ("%", "humidity under which air is dry"),
    "frequent_days": ("d", "gap at or under which feed and supplement take turns on a mount"),
    "first_check_months": ("months", "age of bark at which it is looked at"),
    "last_check_months": ("months", "age of bark at which it is renewed"),
    "flush_can_count": ("1", "cans of plain water that a flush takes"),
}


def rules_in_words(rules: ProgrammeRules = RULES) -> list[dict[str, Any]]:
    """
    Return the numbers of the rhythm.

    Parameters
    ----------
    rules : ProgrammeRules
        The numbers.

    Returns
    -------
    list of dict
        Objects with `rule`, `value`, `unit`, `meaning` and `basis`.
    """
    values = asdict(rules)
    return [
        {
            "rule": each.name,
            "value": float(values[each.name]),
            "unit": RULE_TEXTS[each.name][0],
            "meaning": RULE_TEXTS[each.name][1],
            "basis": BASIS,
        }
        for each in fields(rules)
    ]


def programme_assumptions(
    site: Site, group: Group, period: Period, days: Sequence[Day], *, climate_assumed: str | None
) -> list[Notice]:
    """
    Return what a calendar takes to be so.

    Parameters
    ----------
    site : Site
        Where the plants stand.
    group : Group
        What they stand in.
    period : Period
        The dates.
    days : sequence of Day
        The days that have events.
    climate_assumed : str or None
        Word of the climate that was taken because none was given.

    Returns
    -------
    list of Notice
        Notices of severity `info`.
    """
    found: list[tuple[str, str | None, str]] = [
        (
            "practice_rhythm",
            None,
            f"Dates and rhythm are {BASIS}: `rules` lists the numbers.",
        )
    ]
    if climate_assumed is not None:
        found.append(
            (
                "climate_assumed",
                "site.climate",
                f"The climate of the site was not given: `{climate_assumed}` is taken; `inputs` "
                "has its numbers.",
            )
        )
    if any(day.growth_basis == "season" for day in days):
        found.append(
            (
                "growth_by_season",
                "site.phases",
                "Growth follows the seasons: active in spring and summer, spikes where autumn "
                "nights are cool, then bloom (moth orchids) or rest. Dated phases say it better.",
            )
        )
    if site.phases and any(day.growth_basis == "even" for day in days):
        found.append(
            ("growth_between_phases", "site.phases", "Days that no phase covers count as active.")
        )
    if group.setup != "mount" and "flush" not in period.last_applied:
        found.append(
            (
                "flush_date_unknown",
                "last_applied.flush",
                "It is not known when the pots were last flushed: the first can is preceded by it.",
            )
        )
    return [Notice(code, "info", place, message) for code, place, message in found]


def programme_cautions(
    site: Site, group: Group, period: Period, days: Sequence[Day], summary: Sequence[Any]
) -> list[Notice]:
    """
    Return what to know before following a calendar.

    Parameters
    ----------
    site : Site
        Where the plants stand.
    group : Group
        What they stand in, and the roles of what is on the shelf.
    period : Period
        The dates.
    days : sequence of Day
        The days that have events.
    summary : sequence of mapping
        What each month takes.

    Returns
    -------
    list of Notice
        Notices, the gravest first.
    """
    found: list[tuple[str, str, str, str]] = []
    if not days:
        found.append(
            (
                "no_events",
                "warning",
                "last_date",
                "No watering day falls between the two dates.",
            )
        )
    if "feed" not in group.shelf:
        found.append(
            (
                "shelf_without_feed",
                "warning",
                "shelf",
                "There is no feed on the shelf: those days get plain water.",
            )
        )
    if site.hemisphere == "equator" and any(day.growth_basis == "even" for day in days):
        found.append(
            (
                "no_seasons",
                "warning",
                "site.phases",
                "Near the equator no season tells what the plants are doing: they are fed evenly, "
                "as if always growing. Send dated phases.",
            )
        )
    outside = sum(
        day.air.day_temperature_celsius is not None
        and not LOWEST_TEMPERATURE <= day.air.day_temperature_celsius <= HIGHEST_TEMPERATURE
        for day in days
    )
    if outside:
        found.append(
            (
                "days_without_feeding",
                "warning",
                "site.climate",
                f"On {outside} days the air lies outside {LOWEST_TEMPERATURE:.0f} to "
                f"{HIGHEST_TEMPERATURE:.0f} °C, where no strength is known: plain water.",
            )
        )
    if "supplement" not in group.shelf:
        found.append(
            (
                "shelf_without_supplement",
                "info",
                "shelf",
                "There is no calcium or magnesium supplement on the shelf; soft water brings "
                "little of either.",
            )
        )
    elif any(month["supplement_count"] == 0 and month["feed_count"] > 1 for month in summary[1:-1]):
        found.append(
            (
                "months_without_supplement",
                "info",
                "shelf",
                "Some months have no supplement: the plants rest in them, or cans are too rare.",
            )
        )
    gaps = [(following - today).days for today, following in watering_days(period)]
    if "stimulant" in group.shelf and gaps and min(gaps) > RULES.stimulant_slot_days:
        found.append(
            (
                "stimulant_left_out",
                "info",
                "interval_days",
                f"With more than {RULES.stimulant_slot_days} days between cans none is spared for "
                "the seaweed.",
            )
        )
    return [Notice(*each) for each in found]
