"""The working of a strength: from the air to the ceilings of a can."""

from typing import Any, Final

import numpy as np

from service.chemistry.vapour_pressure import (
    CRITICAL_PRESSURE,
    CRITICAL_TEMPERATURE,
    saturation_vapour_pressure,
)
from service.planning import profiles, rows
from service.planning.card import METER_SCALES
from service.planning.catalogue import Catalogue
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.targets import (
    COOL_MEAN,
    DAILY_NITROGEN,
    DAYS_BETWEEN_FLUSHES,
    DEFICIT_OFFSET,
    DEFICIT_STRENGTH,
    DOSING_SCALE,
    FREEZING_POINT,
    HUMID_DAY_GAIN,
    RESERVOIR_ALLOWANCE,
    STIMULANT_METER_PPM,
    SUPPLEMENT_METER_PPM,
    TOP_UP_SHARE,
    USUAL_TEMPERATURE,
    WARM_MEAN,
)
from service.reference.plants import Provenance, plants

STRENGTH_MODEL: Final = "velamen-strength-in-air"
WATER_VAPOUR: Final = "wagner-pruss-2002"
OWN_PROFILE: Final = "from the profile as sent"

_VAPOUR_FORMULA: Final = (
    (
        f"{CRITICAL_PRESSURE:g} * exp((-7.85951783 * {{tau}} + 1.84408259 * {{tau}} ** 1.5"
        " - 11.7866497 * {tau} ** 3 + 22.6807411 * {tau} ** 3.5 - 15.9618719 * {tau} ** 4"
        " + 1.80122502 * {tau} ** 7.5) / (1 - {tau}))"
    )
    .replace("{{", "{")
    .replace("}}", "}")
)


def profile_sources(row: Any, catalogue: Catalogue) -> dict[str, str | None]:
    """
    Return the source of each limit of a row's profile.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Names the profile.
    catalogue : Catalogue
        Knows it.

    Returns
    -------
    dict of str to (str or None)
        `size`, `nitrogen`, `ammonium`, `cool_ammonium`, `ec` and the micronutrients; None for
        common practice and for a profile that was sent.
    """
    profile = plants().get(catalogue.profile_names[row["profile"]])
    if profile is None:
        return {}

    def key(provenance: Provenance) -> str | None:
        return provenance.source or None

    return {
        "size": key(profile.meter_ceilings_ppm[rows.SIZES[row["size"]]].provenance)
        if row["size"] >= 0
        else None,
        "nitrogen": key(profile.nitrogen_ceiling_mg_per_l.provenance),
        "ammonium": key(profile.ammonium_and_urea_share_max.provenance),
        "cool_ammonium": key(profile.ammonium_and_urea_share_max_cool.provenance),
        "ec": key(profile.ec_ceiling_ms_per_cm.provenance),
        **{
            name: key(limit.provenance)
            for name, limit in profile.micronutrient_maxima_mg_per_l.items()
        },
    }


def _deficit(working: Working, name: str, humidity: str, temperature: str) -> str:
    """Add a vapour pressure deficit with the pressure of saturated air."""
    tau = working.computed(
        f"{name}_reduced_temperature",
        f"1 - ({temperature} + {FREEZING_POINT:g}) / {CRITICAL_TEMPERATURE:g}",
        unit=NUMBER,
        source=WATER_VAPOUR,
    )
    pressure = working.computed(
        f"{name}_saturation_pressure_kpa",
        _VAPOUR_FORMULA.format(tau=tau),
        saturation_vapour_pressure(working.value(temperature) + FREEZING_POINT),
        source=WATER_VAPOUR,
    )
    return working.computed(
        f"{name}_deficit_kpa", f"{pressure} * (1 - {humidity} / 100)", source="fao-56-1998"
    )


def _limiting(working: Working, name: str, humidity: str, temperature: str) -> str:
    """Add the deficit that limits a strength: that of the air or of 22 °C, the larger."""
    own = _deficit(working, name, humidity, temperature)
    if working.value(temperature) >= USUAL_TEMPERATURE:
        # Warmer air has the larger deficit at the same humidity.
        return working.computed(f"{name}_limiting_deficit_kpa", own)
    at_22 = working.known(
        f"{name}_usual_celsius",
        USUAL_TEMPERATURE,
        "air in which practice was gathered: cooler air earns no stronger feed",
        STRENGTH_MODEL,
        "°C",
    )
    usual = _deficit(working, f"{name}_at_22", humidity, at_22)
    return working.computed(f"{name}_limiting_deficit_kpa", f"max({own}, {usual})")


def strength_lines(working: Working, row: Any, result: Any, catalogue: Catalogue) -> None:
    """
    Add the ceilings of a row: from the air to conductivity and nitrogen.

    Parameters
    ----------
    working : Working
        Receives the lines; `meter_ppm_ceiling`, `ec_ceiling_ms_per_cm`,
        `nitrogen_ceiling_mg_per_l` and `ammonium_ceiling_mg_per_l` are the last.
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        A row whose targets are filled in.
    catalogue : Catalogue
        Tables that the row refers to.
    """
    working.part("air")
    sources = profile_sources(row, catalogue)
    profile = catalogue.profile_table[row["profile"]]
    humidity = working.given("humidity_percent", row["humidity_percent"])
    temperature = working.given("temperature_celsius", row["temperature_celsius"])
    today = _limiting(working, "air", humidity, temperature)
    formula = f"{DEFICIT_STRENGTH:g} / (max({{0}}, 0) + {DEFICIT_OFFSET:g})"
    air = working.computed("strength_in_this_air_ppm", formula.format(today), source=STRENGTH_MODEL)
    average = np.isfinite(row["average_humidity_percent"])
    usual_temperature = temperature
    if average:
        usual_humidity = working.given("average_humidity_percent", row["average_humidity_percent"])
        if np.isfinite(row["average_temperature_celsius"]):
            usual_temperature = working.given(
                "average_temperature_celsius", row["average_temperature_celsius"]
            )
        usual = _limiting(working, "average", usual_humidity, usual_temperature)
        in_usual = working.computed(
            "strength_in_usual_air_ppm", formula.format(usual), source=STRENGTH_MODEL
        )
        air = working.computed(
            "strength_of_the_day_ppm", f"min({air}, {HUMID_DAY_GAIN:g} * {in_usual})"
        )
    elif np.isfinite(row["average_temperature_celsius"]):
        usual_temperature = working.given(
            "average_temperature_celsius", row["average_temperature_celsius"]
        )
    working.part("plant")
    largest = working.known(
        "largest_plant_ppm",
        profile[profiles.SIZE_METER_PPM],
        "ceiling of a large plant of this profile",
        sources.get("size"),
    )
    size = working.known(
        "plant_size_ppm", result["size_meter_ppm"], "ceiling of this size", sources.get("size")
    )
    if rows.SETUPS[row["setup"]] == "semi_hydroponic_pot":
        air = working.computed("air_ppm", largest, result["air_meter_ppm"])
    else:
        air = working.computed(
            "air_ppm",
            f"{air} * {largest} / {profiles.REFERENCE_METER_PPM:g}",
            result["air_meter_ppm"],
        )
    growth = working.known(
        "growth_factor",
        result["growth_factor"],
        f"share for growth `{rows.GROWTHS[row['growth']]}`",
        None,
        NUMBER,
    )
    ceiling = f"min({air}, {size}) * {growth}"
    topped_up = (
        rows.SETUPS[row["setup"]] == "semi_hydroponic_pot"
        and row["refill"] >= 0
        and rows.REFILLS[row["refill"]] == "topped_up"
    )
    interval = working.given("interval_days", row["interval_days"])
    nitrogen = working.known(
        "profile_nitrogen_ceiling_mg_per_l",
        profile[profiles.NITROGEN_CEILING],
        "nitrogen ceiling of this profile",
        sources.get("nitrogen"),
    )
    if rows.SETUPS[row["setup"]] == "mount":
        # A mount is fed often: what counts is the day, not the can.
        of_the_day = f"largest_plant_ppm * {DAILY_NITROGEN:g} * {interval} / {nitrogen}"
        ceiling = f"min({ceiling}, {of_the_day})"
    if topped_up:
        thicker = working.computed(
            "reservoir_concentration",
            f"1 + {TOP_UP_SHARE:g} * {DAYS_BETWEEN_FLUSHES:g} / (2 * {interval})",
            unit=NUMBER,
        )
        ceiling = f"min({ceiling}, {RESERVOIR_ALLOWANCE:g} * {size} * {growth} / {thicker})"
    meter = working.computed("feed_ceiling_ppm", ceiling)
    if topped_up:
        working.computed(
            "projected_ec_ms_per_cm",
            f"{meter} * reservoir_concentration / {DOSING_SCALE:g}",
            result["projected_ec_ms_per_cm"],
        )
    profile_ec = working.known(
        "profile_ec_ceiling_ms_per_cm",
        profile[profiles.EC_CEILING],
        "conductivity ceiling of this profile",
        sources.get("ec"),
    )
    working.computed("feed_ec_ceiling_ms_per_cm", f"min({meter} / {DOSING_SCALE:g}, {profile_ec})")
    _nitrogen_lines(working, row, profile, sources, usual_temperature)


def _nitrogen_lines(
    working: Working,
    row: Any,
    profile: Any,
    sources: dict[str, str | None],
    mean_temperature: str,
) -> None:
    """Add the ceilings of nitrogen, and of ammonium with urea."""
    formula = "profile_nitrogen_ceiling_mg_per_l * feed_ceiling_ppm / largest_plant_ppm"
    if rows.SETUPS[row["setup"]] == "mount":
        formula = f"min({formula}, {DAILY_NITROGEN:g} * interval_days)"
    working.computed("feed_nitrogen_ceiling_mg_per_l", formula)
    warm = working.known(
        "warm_ammonium_share",
        profile[profiles.AMMONIUM_SHARE],
        "share of ammonium and urea in warmth",
        sources.get("ammonium"),
        NUMBER,
    )
    cool = working.known(
        "cool_ammonium_share",
        profile[profiles.COOL_AMMONIUM_SHARE],
        "the same in the cool",
        sources.get("cool_ammonium"),
        NUMBER,
    )
    warmth = working.computed(
        "warmth",
        f"min(max(({mean_temperature} - {COOL_MEAN:g}) / ({WARM_MEAN:g} - {COOL_MEAN:g}), 0), 1)",
        unit=NUMBER,
    )
    working.computed(
        "feed_ammonium_ceiling_mg_per_l",
        f"({cool} + {warmth} * ({warm} - {cool})) * feed_nitrogen_ceiling_mg_per_l",
    )


def application_ceiling(working: Working, row: Any, result: Any) -> str:
    """
    Add the conductivity that a target of this application has.

    Parameters
    ----------
    working : Working
        Holds the ceilings of a feed; receives the lines.
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        The finished target.

    Returns
    -------
    str
        Name of the meter reading; `target_ec_ms_per_cm` stands in the working too.
    """
    application = rows.APPLICATIONS[row["application"]]
    if application == "flush":
        meter = working.computed("target_ppm", "0", result["meter_ppm"])
        working.computed("target_ec_ms_per_cm", "0", result["ec_ceiling_ms_per_cm"])
        return meter
    if application in ("supplement", "stimulant"):
        usual = STIMULANT_METER_PPM if application == "stimulant" else SUPPLEMENT_METER_PPM
        meter = working.computed(
            "target_ppm", f"min(air_ppm, largest_plant_ppm, {usual:g})", result["meter_ppm"]
        )
    else:
        meter = working.computed("target_ppm", "feed_ceiling_ppm", result["meter_ppm"])
    working.computed(
        "target_ec_ms_per_cm",
        f"min({meter} / {DOSING_SCALE:g}, profile_ec_ceiling_ms_per_cm)",
        result["ec_ceiling_ms_per_cm"],
    )
    return meter


def target_working(row: Any, result: Any, catalogue: Catalogue) -> list[Line]:
    """
    Return the working of a target.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        The finished target.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of Line
        The lines; the last are the fields of the answer.
    """
    working = Working()
    strength_lines(working, row, result, catalogue)
    meter = application_ceiling(working, row, result)
    flush = rows.APPLICATIONS[row["application"]] == "flush"
    working.part("answer")
    working.answer("vapour_pressure_deficit_kpa", "air_deficit_kpa", 3)
    working.answer("meter_ppm", meter, 3)
    working.answer("ec_ms_per_cm", "target_ec_ms_per_cm", 3)
    for scale in METER_SCALES:
        working.answer(f"meter_ppm_{scale}", f"target_ec_ms_per_cm * {scale}", 3)
    if working.knows("projected_ec_ms_per_cm"):
        working.answer("projected_ec_ms_per_cm", "projected_ec_ms_per_cm", 3)
    nitrogen = "0" if flush else "feed_nitrogen_ceiling_mg_per_l"
    ammonium = "0" if flush else "feed_ammonium_ceiling_mg_per_l"
    working.answer("nitrogen_mg_per_l", nitrogen, 3)
    working.answer("ammonium_and_urea_nitrogen_mg_per_l", ammonium, 3)
    return working.lines
