"""
The working of a salt outlook: the pot from watering to watering, at the middle water use.

Salt is counted as conductivity times volume. The lowest and the highest line of every week come
from the same days with the low and the high water use; they are stated, not written out.
"""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from service.planning.drainage_reading import RISING_UP_TO
from service.planning.explain.flushes import shaping_diameter
from service.planning.explain.pots import LEACHING, pot_lines
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.flush import DEPLETED_SHARE
from service.planning.salt_outlook import LIMIT_OF_PLANT, Outlook
from service.planning.salt_outlook_card import SALT_MG_PER_L_PER_MS_PER_CM, outlook_fields
from service.planning.salt_weeks import (
    DRAINED,
    DRAINED_SALT,
    DRIEST,
    DRY_SHARE,
    MOIST,
    POURED,
    SALT,
)
from service.planning.water_use import (
    DAYS_WIDTH,
    ESTIMATE_HIGH,
    ESTIMATE_LOW,
    LARGEST_LOSS,
    MASS_WIDTH,
    ML_PER_DAY_PER_CM2_PER_KPA,
)
from service.planning.watering_schedule import FEEDS, Watering

DAYS_OF_A_WEEK: Final = 7
SALT_UNIT: Final = "mS/cm·L"
RUNS: Final = (("low", "low_l"), ("", "middle_l"), ("high", "high_l"))


def salt_outlook_working(outlook: Outlook, asked: Any) -> list[Line]:
    """
    Return the working of an outlook.

    Parameters
    ----------
    outlook : Outlook
        The outlook.
    asked : object
        The request, attributes of the contract.

    Returns
    -------
    list of Line
        The lines, the fields of the answer among them.
    """
    working = Working()
    fields = outlook_fields(outlook)
    pot_lines(working, outlook.container, shaping_diameter(asked))
    _use_lines(working, outlook, asked)
    working.part("start and limit")
    working.known(
        "plain_water_ms_per_cm",
        outlook.water.ec_ms_per_cm,
        "conductivity of the water: that of its ions, or the measured one where it is higher",
        "onsager-1927",
    )
    working.given("start_ms_per_cm", outlook.start_ec_ms_per_cm)
    working.given("uptake_share", outlook.uptake_share, NUMBER)
    _limit_line(working, outlook)
    _week_lines(working, outlook)
    _week_answers(working, outlook, fields)
    _whole_answers(working, outlook, fields)
    return working.lines


def _limit_line(working: Working, outlook: Outlook) -> None:
    """Add what the pot is not to pass: as sent, or from the feeds of the schedule and the plant."""
    limit = outlook.limit_ec_ms_per_cm
    if outlook.limit_origin == "stated":
        working.given("limit_ms_per_cm", limit, words="as sent")
        return
    feeds = [each.ec_ms_per_cm for each in outlook.waterings if each.kind in FEEDS]
    scheduled = working.given(
        "strongest_of_the_schedule_ms_per_cm",
        max(feeds, default=0.0),
        words="strongest feed of the schedule; 0 where none is given",
    )
    plant = "strongest_feed_ms_per_cm"
    doubled = f"max({RISING_UP_TO:g} * {scheduled}, {plant})"
    working.computed("limit_ms_per_cm", f"min({doubled}, {LIMIT_OF_PLANT:g} * {plant})", limit)


def _use_lines(working: Working, outlook: Outlook, asked: Any) -> None:
    """Add how fast the pot dries, and the water that it holds by that."""
    use = outlook.use
    working.part("water use")
    ends = (1.0 - DAYS_WIDTH, 1.0 + DAYS_WIDTH)
    held = "held_l"
    if use.basis == "weights":
        wet = working.given("pot_mass_wet_g", asked.pot_mass_wet_g)
        dry = working.given("pot_mass_dry_g", asked.pot_mass_dry_g)
        days = working.given("days_between_weighings", asked.days_between_weighings)
        working.computed("use_l_per_day", f"({wet} - {dry}) / 1000 / {days}", use.middle_l, "L/d")
        ends = (1.0 - MASS_WIDTH, 1.0 + MASS_WIDTH)
        held = f"max(held_l, ({wet} - {dry}) / 1000 / {LARGEST_LOSS:g})"
    elif use.basis == "days":
        days = working.given("days_between_waterings", asked.days_between_waterings)
        formula = f"{DEPLETED_SHARE:g} * held_l / {days}"
        working.computed("use_l_per_day", formula, use.middle_l, "L/d")
    else:
        working.known(
            "air_deficit_kpa",
            use.deficit_kpa,
            "vapour pressure deficit of the usual air, as `/v1/targets/explain` shows",
            "wagner-pruss-2002",
        )
        working.given("pot_diameter_cm", outlook.container.diameter_cm)
        working.computed(
            "use_l_per_day",
            f"{ML_PER_DAY_PER_CM2_PER_KPA:g} * 3.141592653589793 / 4 * pot_diameter_cm ** 2"
            " * air_deficit_kpa / 1000",
            use.middle_l,
            "L/d",
        )
        ends = (ESTIMATE_LOW, ESTIMATE_HIGH)
    for (name, value), end in zip((("low", use.low_l), ("high", use.high_l)), ends, strict=True):
        working.computed(f"use_{name}_l_per_day", f"{end!r} * use_l_per_day", value, "L/d")
    working.computed("full_l", held, use.held_l)
    working.answer("water_use_low_ml_per_day", "1000 * use_low_l_per_day", 3, "mL/d")
    working.answer("water_use_ml_per_day", "1000 * use_l_per_day", 3, "mL/d")
    working.answer("water_use_high_ml_per_day", "1000 * use_high_l_per_day", 3, "mL/d")
    working.answer("held_water_per_pot_l", "full_l", 3)


class _Pot:
    """The names of what is in the pot now, and what a week has gathered so far."""

    def __init__(self) -> None:
        self.water = "full_l"
        self.salt = "salt_at_the_start"
        self.moist: list[str] = []
        self.driest: list[str] = []
        self.poured: list[str] = []
        self.drained: list[str] = []
        self.drained_salt: list[str] = []

    def begin_week(self) -> None:
        """Forget what the week before has gathered."""
        self.moist, self.driest = [], []
        self.poured, self.drained, self.drained_salt = [], [], []


def _week_lines(working: Working, outlook: Outlook) -> None:
    """Add the pot from watering to watering, and what each week comes to."""
    working.part("start")
    working.computed("salt_at_the_start", "start_ms_per_cm * full_l", unit=SALT_UNIT)
    by_day: dict[int, list[Watering]] = {}
    for each in outlook.waterings:
        by_day.setdefault(each.day, []).append(each)
    pot = _Pot()
    for place, row in enumerate(outlook.middle):
        week = place + 1
        working.part(f"week {week}")
        pot.begin_week()
        first = DAYS_OF_A_WEEK * place + 1
        days = [day for day in range(first, first + DAYS_OF_A_WEEK) if day in by_day]
        # The days before the first watering of the week belong to what stood before it.
        starts = sorted({first, *days})
        for start, end in zip(starts, [*starts[1:], first + DAYS_OF_A_WEEK], strict=True):
            for number, watering in enumerate(by_day.get(start, ()), start=1):
                _pour(working, outlook, pot, watering, f"day_{start}_{number}")
            _dry(working, pot, end - start, f"day_{end - 1}")
        _sum_up(working, pot, week, row)


def _pour(working: Working, outlook: Outlook, pot: _Pot, watering: Watering, name: str) -> None:
    """Add one watering."""
    strength = working.given(f"{name}_ms_per_cm", watering.ec_ms_per_cm, words=watering.kind)
    poured = working.given(f"{name}_offered_l", watering.volume_l, words=watering.kind)
    filling = working.computed(f"{name}_filling_l", f"min({poured}, max(full_l - {pot.water}, 0))")
    drains = not (outlook.container.refill == "topped_up" and watering.kind != "flush")
    passing = f"({poured} - {filling})"
    full = working.computed(
        f"{name}_salt_when_filled", f"{pot.salt} + {strength} * {filling}", unit=SALT_UNIT
    )
    after = full
    if drains and working.value(poured) > working.value(filling):
        after = working.computed(
            f"{name}_salt_after",
            f"full_l * ({strength} + ({full} / full_l - {strength})"
            f" * exp(-efficiency * {passing} / full_l))",
            unit=SALT_UNIT,
            source=LEACHING,
        )
        pot.drained.append(passing)
        pot.drained_salt.append(f"({full} + {strength} * {passing} - {after})")
    pot.poured.append(poured if drains else filling)
    pot.water = working.computed(f"{name}_water_l", f"min({pot.water} + {filling}, full_l)")
    if watering.kind in FEEDS and outlook.uptake_share > 0.0:
        after = working.computed(
            f"{name}_salt_left",
            f"{after} - min(uptake_share * {strength} * {filling}, {after})",
            unit=SALT_UNIT,
        )
    pot.salt = after
    pot.moist.append(working.computed(f"{name}_moist_ms_per_cm", f"{pot.salt} / {pot.water}"))


def _dry(working: Working, pot: _Pot, days: int, name: str) -> None:
    """Add what plant and air take until the next watering or the end of the week."""
    pot.water = working.computed(
        f"{name}_water_left_l",
        f"max({pot.water} - {days} * use_l_per_day, {DRY_SHARE:g} * full_l)",
    )
    pot.driest.append(working.computed(f"{name}_driest_ms_per_cm", f"{pot.salt} / {pot.water}"))


def _sum_up(working: Working, pot: _Pot, week: int, row: Any) -> None:
    """Add what a week comes to."""
    moist = _largest(pot.moist) if pot.moist else f"{pot.salt} / full_l"
    working.computed(f"week_{week}_ms_per_cm", moist, float(row[MOIST]))
    working.computed(f"week_{week}_driest_ms_per_cm", _largest(pot.driest), float(row[DRIEST]))
    working.computed(f"week_{week}_salt", pot.salt, float(row[SALT]), SALT_UNIT)
    working.computed(f"week_{week}_poured_l", " + ".join(pot.poured) or "0", float(row[POURED]))
    working.computed(f"week_{week}_drained_l", " + ".join(pot.drained) or "0", float(row[DRAINED]))
    working.computed(
        f"week_{week}_drained_salt",
        " + ".join(pot.drained_salt) or "0",
        float(row[DRAINED_SALT]),
        SALT_UNIT,
    )


def _largest(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"max({', '.join(names)})"


def _week_answers(working: Working, outlook: Outlook, fields: dict[str, Any]) -> None:
    """Add the weeks as the answer lists them."""
    working.part("weeks of the answer")
    factor = f"{SALT_MG_PER_L_PER_MS_PER_CM:g}"
    for place, listed in enumerate(fields["weeks"]):
        week, at = f"week_{place + 1}", f"weeks.{place}"
        working.answer(f"{at}.ec_ms_per_cm", f"{week}_ms_per_cm", 3)
        working.answer(f"{at}.driest_ec_ms_per_cm", f"{week}_driest_ms_per_cm", 3)
        if listed["drainage_ec_ms_per_cm"] is not None:
            working.answer(
                f"{at}.drainage_ec_ms_per_cm", f"{week}_drained_salt / {week}_drained_l", 3
            )
        working.answer(f"{at}.salt_mg", f"{factor} * {week}_salt", 4)
        working.answer(f"{at}.poured_ml", f"1000 * {week}_poured_l", 4)
        working.answer(f"{at}.drained_ml", f"1000 * {week}_drained_l", 4)
        for end, line in (("low", outlook.low), ("high", outlook.high)):
            words = f"{end}est of the same week run with the low, the middle and the high water use"
            for field, column, digits in (
                (f"ec_{end}_ms_per_cm", MOIST, 3),
                (f"driest_ec_{end}_ms_per_cm", DRIEST, 3),
                (f"salt_{end}_mg", SALT, 4),
            ):
                name = f"{week}_{field}"
                value = float(line[place, column])
                unit = None
                if column == SALT:
                    value *= SALT_MG_PER_L_PER_MS_PER_CM
                    unit = "mg"
                working.solved(name, value, words, LEACHING, unit)
                working.answer(f"{at}.{field}", name, digits)


def _whole_answers(working: Working, outlook: Outlook, fields: dict[str, Any]) -> None:
    """Add what holds for all weeks together."""
    working.part("all weeks")
    weeks = range(1, len(outlook.middle) + 1)
    working.computed(
        "all_poured_l",
        " + ".join(f"week_{week}_poured_l" for week in weeks),
        float(np.sum(outlook.middle[:, POURED])),
    )
    working.computed(
        "all_drained_l",
        " + ".join(f"week_{week}_drained_l" for week in weeks),
        float(np.sum(outlook.middle[:, DRAINED])),
    )
    working.computed(
        "drained_share",
        "1 - min(max(all_poured_l - all_drained_l, 0), all_poured_l) / all_poured_l",
        fields["leaching_fraction"],
        NUMBER,
        "ali-irrigation-examples",
    )
    working.answer("leaching_fraction", "drained_share", 3)
    working.answer("water_ec_ms_per_cm", "plain_water_ms_per_cm", 3)
    working.answer("limit_ec_ms_per_cm", "limit_ms_per_cm", 3)
    for field in (
        "first_week_over_limit",
        "first_week_over_limit_low",
        "first_week_over_limit_high",
    ):
        if fields[field] is not None:
            name = working.known(
                f"number_of_the_{field}",
                fields[field],
                "first week whose conductivity, at that water use, is above `limit_ms_per_cm`",
                None,
                NUMBER,
            )
            working.answer(field, name, 12, NUMBER)
    for place, change in enumerate(outlook.changes):
        working.solved(
            f"highest_with_change_{place + 1}_ms_per_cm",
            change.highest_ec_ms_per_cm,
            "highest conductivity of the weeks run again with this change, at the high water use",
            LEACHING,
        )
        working.answer(
            f"what_keeps_it_under.{place}.highest_ec_ms_per_cm",
            f"highest_with_change_{place + 1}_ms_per_cm",
            3,
        )
