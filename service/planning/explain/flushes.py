"""The working of a flush: the volume that displaces, and the share that has to drain."""

from typing import Any, Final

from service.planning.containers import Container
from service.planning.explain.pots import LEACHING, pot_lines
from service.planning.explain.readings import factor_line
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.flush import (
    BLEND_SHARE_OF_TARGET,
    DEPLETED_SHARE,
    FILL_SHARE,
    POT_VOLUMES_BY_CUSTOM,
    RINSES_OF_A_MOUNT,
    FlushPlan,
)
from service.planning.volumes import MOUNT_MILLILITRES

BALANCE: Final = "ali-irrigation-examples"
CUSTOM: Final = "uc-anr-soluble-salts"


def flush_working(plan: FlushPlan, asked: Any) -> list[Line]:
    """
    Return the working of a flush.

    Parameters
    ----------
    plan : FlushPlan
        The plan.
    asked : object
        The request, attributes of the contract.

    Returns
    -------
    list of Line
        The lines; the last are the fields of the answer.
    """
    working = Working()
    pot_lines(working, plan.container, shaping_diameter(asked))
    working.part("strengths")
    working.given("feed_ms_per_cm", plan.feed_ec_ms_per_cm)
    working.given("target_ms_per_cm", plan.target_ec_ms_per_cm)
    working.known(
        "flushing_water_ms_per_cm",
        plan.water.ec_ms_per_cm,
        "conductivity of the water: that of its ions, or the measured one where it is higher",
        "onsager-1927",
    )
    if plan.drainage_ec_ms_per_cm is not None:
        _reading_lines(working, plan, asked)
    working.part("volume of the flush")
    _volume_lines(working, plan)
    working.part("share that drains at every watering")
    _fraction_lines(working, plan)
    working.part("answer")
    _answers(working, plan)
    return working.lines


def shaping_diameter(asked: Any) -> float | None:
    """
    Return the diameter that a pot's volume follows from.

    Parameters
    ----------
    asked : object
        A request with `container` and `plants`.

    Returns
    -------
    float or None
        None where the volume is sent [cm].
    """
    if asked.container.volume_l is not None:
        return None
    diameter = asked.container.diameter_cm
    if diameter is None and asked.plants is not None:
        diameter = asked.plants.pot_diameter_cm
    return None if diameter is None else float(diameter)


def _reading_lines(working: Working, plan: FlushPlan, asked: Any) -> None:
    """Add the reading of the drainage at 25 °C."""
    reading = asked.reading
    if reading.ec_ms_per_cm is not None:
        shown = working.given("reading_ms_per_cm", reading.ec_ms_per_cm)
    else:
        ppm = working.given("reading_ppm", reading.ppm)
        scale = float(reading.scale or 500.0)
        shown = working.computed("reading_ms_per_cm", f"{ppm} / {scale:g}")
    drainage = float(plan.drainage_ec_ms_per_cm or 0.0)
    factor = 1.0
    if reading.compensated is False and working.value(shown) > 0.0:
        factor = drainage / working.value(shown)
    name = factor_line(working, reading.temperature_celsius, factor)
    working.computed("drainage_ms_per_cm", f"{shown} * {name}", drainage)


def _volume_lines(working: Working, plan: FlushPlan) -> None:
    """Add the volume for one pot."""
    pot, needed = plan.container, plan.needed_volume_l
    if needed == 0.0:
        words = "none: the drainage is at the target already"
        working.given("needed_volume_l", 0.0, words=words)
    elif needed != needed:
        return
    elif pot.is_mount:
        working.computed(
            "needed_volume_l", f"{RINSES_OF_A_MOUNT} * {MOUNT_MILLILITRES:g} / 1000", needed
        )
    elif plan.drainage_ec_ms_per_cm is None:
        working.computed(
            "needed_volume_l", f"{POT_VOLUMES_BY_CUSTOM:g} * pot_volume_l", needed, source=CUSTOM
        )
    else:
        working.computed(
            "needed_volume_l",
            "held_l / efficiency * log((drainage_ms_per_cm - flushing_water_ms_per_cm)"
            " / (target_ms_per_cm - flushing_water_ms_per_cm))",
            needed,
            source=LEACHING,
        )
    if plan.repeats:
        working.computed("pours", _pours(pot), plan.repeats, NUMBER)


def _pours(pot: Container) -> str:
    """Return the formula of the number of pours."""
    if pot.is_mount:
        return f"{RINSES_OF_A_MOUNT}"
    one = "pot_volume_l"
    if pot.setup == "semi_hydroponic_pot":
        one = f"({FILL_SHARE:g} * pot_volume_l)"
    return f"max(1, -floor(-(needed_volume_l / {one} - 1e-9)))"


def _fraction_lines(working: Working, plan: FlushPlan) -> None:
    """Add the leaching fraction, and an ordinary watering at it."""
    if plan.container.is_mount:
        words = "all that is poured over a mount runs off"
        working.given("drained_share", plan.leaching_fraction, NUMBER, words)
        return
    working.given("allowed_drainage_ms_per_cm", plan.allowed_ec_ms_per_cm)
    working.computed(
        "drained_share",
        "min(feed_ms_per_cm / allowed_drainage_ms_per_cm, 1)",
        plan.leaching_fraction,
        NUMBER,
        BALANCE,
    )
    if plan.watering_volume_l is not None:
        working.computed(
            "watering_l",
            f"{DEPLETED_SHARE:g} * held_l / (1 - drained_share)",
            plan.watering_volume_l,
            source=BALANCE,
        )


def _answers(working: Working, plan: FlushPlan) -> None:
    """Add the fields of the answer."""
    working.answer("feed_ec_ms_per_cm", "feed_ms_per_cm", 3)
    working.answer("target_ec_ms_per_cm", "target_ms_per_cm", 3)
    working.answer("water_ec_ms_per_cm", "flushing_water_ms_per_cm", 3)
    if working.knows("drainage_ms_per_cm"):
        working.answer("drainage_ec_ms_per_cm", "drainage_ms_per_cm", 4)
    if working.knows("held_l"):
        working.answer("held_water_per_pot_l", "held_l", 3)
    working.answer("leaching_fraction", "drained_share", 3)
    if working.knows("watering_l"):
        working.answer("watering_volume_per_pot_ml", "1000 * watering_l", 3)
    if plan.volume_l is None:
        working.computed(
            "share_of_this_water_percent",
            f"100 * min({BLEND_SHARE_OF_TARGET:g} * target_ms_per_cm"
            " / flushing_water_ms_per_cm, 1)",
            plan.largest_share_of_water_percent,
        )
        working.answer("largest_water_share_percent", "share_of_this_water_percent", 3)
        return
    if plan.repeats:
        working.answer("repeats", "pours", 12, NUMBER)
        working.answer("pour_volume_per_pot_l", "needed_volume_l / pours", 4)
    else:
        working.answer("repeats", "0", 12, NUMBER)
    working.answer("flush_volume_per_pot_l", "needed_volume_l", 4)
    working.answer("flush_volume_l", "needed_volume_l * plant_count", 4)
