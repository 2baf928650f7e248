"""
How strong today's solution may be: the ceilings set by plant, setup, growth and air.

In a pot that dries between waterings the solution thickens at the root's surface, faster the
drier the air, so the safe strength falls with the vapour pressure deficit. In a pot whose roots
stay moist it follows the plant. Strengths are judged in meter ppm, the growers' own measure, and
turned into conductivity on the 700 scale, the one that gives the weaker solution.
"""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.chemistry.vapour_pressure import vapour_pressure_deficit
from service.planning import profiles, rows

FREEZING_POINT: Final = 273.15
"""Kelvin at 0 degC."""

USUAL_TEMPERATURE: Final = 22.0
"""Air in which the practice values were gathered [degC]; common practice."""

DEFICIT_STRENGTH: Final = 678.0
"""Meter ppm times kilopascal; fits practice at 80, 60 and 30 % humidity and 22 degC."""

DEFICIT_OFFSET: Final = 0.264
"""Deficit that is added before dividing [kPa]; from the same fit."""

HUMID_DAY_GAIN: Final = 1.10
"""Most by which a day more humid than usual may raise the strength; common practice."""

PLAIN_WATER_BELOW: Final = 150.0
"""
Strength under which plain water, or a feed that is flushed out, is better for a large moth orchid;
less in the measure in which a profile stands less [meter ppm].
"""

DOSING_SCALE: Final = 700.0
"""Meter scale of a ceiling whose scale is not known: the one that gives the weaker can."""

LOWEST_TEMPERATURE: Final = 10.0
HIGHEST_TEMPERATURE: Final = 38.0
"""Air in which a moth orchid's strength is still judged [degC]; common practice."""

COOL_MEAN: Final = 18.0
WARM_MEAN: Final = 20.0
"""
Mean temperatures under which less ammonium and urea is used, and from which the full share is
[degC]; common practice. In between the share rises evenly, so that no degree makes a jump.
"""

GROWTH_FACTORS: Final = (1.0, 0.75, 0.5, 0.25)
"""Share of the ceiling in the order of `rows.GROWTHS`; common practice."""

DAILY_NITROGEN: Final = 50.0
"""Nitrogen of a mount that is fed every day [mg/L]; common practice, 25 to 50."""

TOP_UP_SHARE: Final = 0.5
"""Share of a reservoir that is topped up at each watering; common practice."""

DAYS_BETWEEN_FLUSHES: Final = 28.0
"""Days from one flush of a reservoir or pot to the next; common practice."""

RESERVOIR_ALLOWANCE: Final = 2.0
"""How far above the plant's ceiling a topped-up reservoir may rise before its flush."""

SEMI_HYDROPONIC: Final = rows.SETUPS.index("semi_hydroponic_pot")
MOUNT: Final = rows.SETUPS.index("mount")
TOPPED_UP: Final = rows.REFILLS.index("topped_up")

SUPPLEMENT_METER_PPM: Final = 300.0
STIMULANT_METER_PPM: Final = 200.0
"""Strength of calcium nitrate or calcium–magnesium, and of seaweed [meter ppm]; common practice."""

FULL_STRENGTH_MINUTES: Final = 15.0
"""Minutes that a full-strength feed stays in dry air before it is flushed out; common practice."""

SUPPLEMENT: Final = rows.APPLICATIONS.index("supplement")
STIMULANT: Final = rows.APPLICATIONS.index("stimulant")
FLUSH: Final = rows.APPLICATIONS.index("flush")
TARGET_OK: Final = 0
TARGET_OUT_OF_AIR_RANGE: Final = 1

_GROWTH_FACTORS: Final = np.array(GROWTH_FACTORS)


@kernel
def strength_in_air(deficit: float) -> float:
    """
    Return the strength that roots in drying bark stand at a vapour pressure deficit.

    Parameters
    ----------
    deficit : float
        Vapour pressure deficit, at least 0 [kPa].

    Returns
    -------
    float
        Strength before the plant's own ceiling [meter ppm].
    """
    return DEFICIT_STRENGTH / (max(deficit, 0.0) + DEFICIT_OFFSET)


@kernel
def limiting_deficit(humidity: float, temperature: float) -> float:
    """
    Return the deficit that limits the strength: today's or that of 22 degC, the larger.

    Cool air holds less water, so its deficit is small at any humidity; a root does not dry the
    less for it. Taking the larger keeps cool air from earning a stronger feed.

    Parameters
    ----------
    humidity : float
        Relative humidity [percent].
    temperature : float
        Air temperature [degC].

    Returns
    -------
    float
        Vapour pressure deficit, NaN outside the range of the vapour pressure equation [kPa].
    """
    return max(
        vapour_pressure_deficit(temperature + FREEZING_POINT, humidity),
        vapour_pressure_deficit(USUAL_TEMPERATURE + FREEZING_POINT, humidity),
    )


@kernel
def humidity_is_a_fraction(row: np.void) -> bool:
    """
    Tell whether a humidity was written as a fraction, 0.6 for 60 %.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request.

    Returns
    -------
    bool
        True above 0 and up to 1 percent, today or usually.
    """
    today, usual = row["humidity_percent"], row["average_humidity_percent"]
    return bool(0.0 < today <= 1.0 or 0.0 < usual <= 1.0)


@kernel
def reservoir_concentration(interval: float) -> float:
    """
    Return how many times its feed a topped-up reservoir holds at the next flush.

    Feed and plain water take turns; the water evaporates and its salt stays.

    Parameters
    ----------
    interval : float
        Days from one watering to the next, above 0 [day].

    Returns
    -------
    float
        Factor, at least 1 [dimensionless].
    """
    feeds = DAYS_BETWEEN_FLUSHES / (2.0 * interval)
    return 1.0 + TOP_UP_SHARE * feeds


@kernel
def target_row(row: np.void, plant_profiles: np.ndarray, result: np.void) -> int:
    """
    Fill in the ceilings of one row.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The plants and the air, defaults filled in.
    plant_profiles : ndarray, shape (n_profiles, n_profile_columns)
        Table of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Receives deficits, strengths and ceilings.

    Returns
    -------
    int
        `TARGET_OK`, or `TARGET_OUT_OF_AIR_RANGE` outside 10 to 38 degC and for a humidity that
        is none.
    """
    humidity = row["humidity_percent"]
    temperature = row["temperature_celsius"]
    if not (LOWEST_TEMPERATURE <= temperature <= HIGHEST_TEMPERATURE):
        return TARGET_OUT_OF_AIR_RANGE
    profile = plant_profiles[row["profile"]]
    result["vapour_pressure_deficit_kpa"] = vapour_pressure_deficit(
        temperature + FREEZING_POINT, humidity
    )
    today = limiting_deficit(humidity, temperature)
    if not np.isfinite(today):
        return TARGET_OUT_OF_AIR_RANGE
    result["limiting_deficit_kpa"] = today
    strength = strength_in_air(today)
    average_humidity = row["average_humidity_percent"]
    if not np.isnan(average_humidity):
        average_temperature = row["average_temperature_celsius"]
        if np.isnan(average_temperature):
            average_temperature = temperature
        usual = limiting_deficit(average_humidity, average_temperature)
        if not np.isfinite(usual):
            return TARGET_OUT_OF_AIR_RANGE
        result["average_deficit_kpa"] = usual
        strength = min(strength, HUMID_DAY_GAIN * strength_in_air(usual))
    size_ceiling = profile[profiles.SIZE_METER_PPM + row["size"]]
    largest_ceiling = profile[profiles.SIZE_METER_PPM]
    result["size_meter_ppm"] = size_ceiling
    # Air that is calm for a large moth orchid is calm in the same measure for a weaker plant.
    strength *= largest_ceiling / profiles.REFERENCE_METER_PPM
    if row["setup"] == SEMI_HYDROPONIC:
        strength = largest_ceiling
    result["air_meter_ppm"] = strength
    factor = _GROWTH_FACTORS[row["growth"]]
    result["growth_factor"] = factor
    ceiling = min(strength, size_ceiling) * factor
    daily_nitrogen = DAILY_NITROGEN * row["interval_days"]
    if row["setup"] == MOUNT:
        # A mount is fed often: what counts is the day, not the can.
        ceiling = min(
            ceiling, largest_ceiling * daily_nitrogen / profile[profiles.NITROGEN_CEILING]
        )
    if row["setup"] == SEMI_HYDROPONIC and row["refill"] == TOPPED_UP:
        # Salt of every feed stays until the next flush; it may come to twice the ceiling by then.
        growth = reservoir_concentration(row["interval_days"])
        ceiling = min(ceiling, RESERVOIR_ALLOWANCE * size_ceiling * factor / growth)
        result["projected_ec_ms_per_cm"] = ceiling * growth / DOSING_SCALE
    result["meter_ppm"] = ceiling
    result["ec_ceiling_ms_per_cm"] = min(ceiling / DOSING_SCALE, profile[profiles.EC_CEILING])
    share = ceiling / largest_ceiling
    nitrogen = profile[profiles.NITROGEN_CEILING] * share
    if row["setup"] == MOUNT:
        nitrogen = min(nitrogen, daily_nitrogen)
    result["nitrogen_ceiling_mg_per_l"] = nitrogen
    mean_temperature = row["average_temperature_celsius"]
    if np.isnan(mean_temperature):
        mean_temperature = temperature
    warmth = min(max((mean_temperature - COOL_MEAN) / (WARM_MEAN - COOL_MEAN), 0.0), 1.0)
    cool_share = profile[profiles.COOL_AMMONIUM_SHARE]
    ammonium_share = cool_share + warmth * (profile[profiles.AMMONIUM_SHARE] - cool_share)
    result["ammonium_ceiling_mg_per_l"] = ammonium_share * nitrogen
    return TARGET_OK


@kernel
def apply_application(row: np.void, plant_profiles: np.ndarray, result: np.void) -> None:
    """
    Turn the ceiling of a feed into that of a supplement, a stimulant or a flush.

    A supplement follows the air and the setup, not the size of the plant; a flush is plain water.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The plants and the air, defaults filled in.
    plant_profiles : ndarray, shape (n_profiles, n_profile_columns)
        Table of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Targets of `target_row`; its strength is replaced.
    """
    application = row["application"]
    if application == FLUSH:
        result["meter_ppm"] = 0.0
        result["ec_ceiling_ms_per_cm"] = 0.0
        result["nitrogen_ceiling_mg_per_l"] = 0.0
        result["ammonium_ceiling_mg_per_l"] = 0.0
        return
    if application not in (SUPPLEMENT, STIMULANT):
        return
    profile = plant_profiles[row["profile"]]
    usual = STIMULANT_METER_PPM if application == STIMULANT else SUPPLEMENT_METER_PPM
    strength = min(result["air_meter_ppm"], profile[profiles.SIZE_METER_PPM], usual)
    result["meter_ppm"] = strength
    result["ec_ceiling_ms_per_cm"] = min(strength / DOSING_SCALE, profile[profiles.EC_CEILING])


@kernel
def plain_water_below(profile: np.ndarray) -> float:
    """
    Return the strength under which plain water does as well as a feed.

    Parameters
    ----------
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.

    Returns
    -------
    float
        Strength [meter ppm].
    """
    largest = profile[profiles.SIZE_METER_PPM]
    return float(PLAIN_WATER_BELOW * largest / profiles.REFERENCE_METER_PPM)


@kernel
def air_leaves_little(row: np.void, profile: np.ndarray, result: np.void) -> bool:
    """
    Tell whether the air alone leaves too weak a feed to be worth mixing.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The plants and the air, defaults filled in.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Targets of `target_row`.

    Returns
    -------
    bool
        False where the size of the plant, its rest or a reservoir sets the strength.
    """
    if row["setup"] == SEMI_HYDROPONIC:
        return False
    return bool(result["air_meter_ppm"] < plain_water_below(profile))


@kernel
def plain_water_will_do(row: np.void, profile: np.ndarray, result: np.void) -> bool:
    """
    Tell whether a plant that hardly grows takes so little that plain water does as well.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The plants and the air, defaults filled in.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Targets of `target_row`.

    Returns
    -------
    bool
        False for what is no feed, and where the air alone leaves as little.
    """
    if row["application"] in (SUPPLEMENT, STIMULANT, FLUSH) or result["growth_factor"] >= 1.0:
        return False
    weak = result["meter_ppm"] < plain_water_below(profile)
    return bool(weak and not air_leaves_little(row, profile, result))
