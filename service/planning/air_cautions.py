"""What must be said about the air and about how plants take a strength in it."""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.planning import rows
from service.planning.cautions import caution_bit
from service.planning.targets import (
    FLUSH,
    SEMI_HYDROPONIC,
    STIMULANT,
    TOPPED_UP,
    air_leaves_little,
    plain_water_will_do,
)

FAR: Final = 2.0
"""Ratio of today's deficit to the usual one from which the reading is questioned."""

LOW_END: Final = 2.0
HIGH_END: Final = 99.5
"""Humidity under and over which a sensor is at the end of its scale [percent]; common practice."""

AT_END_OF_SCALE: Final = caution_bit("humidity_at_end_of_scale")
DRY_AIR: Final = caution_bit("dry_air")
GATHERS: Final = caution_bit("salt_gathers_in_reservoir")
PLAIN_WATER_WILL_DO: Final = caution_bit("plain_water_will_do")
STIMULANT_WHILE_SPIKING: Final = caution_bit("stimulant_while_spikes_set")
SPIKE_INITIATION: Final = rows.GROWTHS.index("spike_initiation")
READING_FAR: Final = caution_bit("reading_far_from_usual")
NOTHING: Final = np.uint64(0)


@kernel
def air_cautions(row: np.void, profile: np.ndarray, result: np.void) -> np.uint64:
    """
    Return the cautions that follow from air, setup and growth, whatever is in the can.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The plants and the air, defaults filled in.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Targets of `service.planning.targets.target_row`.

    Returns
    -------
    uint64
        Caution bits.
    """
    bits = NOTHING
    humidity = row["humidity_percent"]
    if humidity < LOW_END or humidity > HIGH_END:
        bits |= AT_END_OF_SCALE
    if row["application"] != FLUSH:
        if air_leaves_little(row, profile, result):
            bits |= DRY_AIR
        if plain_water_will_do(row, profile, result):
            bits |= PLAIN_WATER_WILL_DO
    if row["setup"] == SEMI_HYDROPONIC and row["refill"] == TOPPED_UP:
        bits |= GATHERS
    if row["application"] == STIMULANT and row["growth"] == SPIKE_INITIATION:
        bits |= STIMULANT_WHILE_SPIKING
    usual = result["average_deficit_kpa"]
    today = result["limiting_deficit_kpa"]
    if not np.isnan(usual) and (today > FAR * usual or usual > FAR * today):
        bits |= READING_FAR
    return bits
