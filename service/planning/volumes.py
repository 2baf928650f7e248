"""
How much solution a bench takes, when only plants, pots and media are known.

A pot is a frustum about as high as it is wide; a watering takes a share of its volume that
depends on the medium. Both are common practice and meant for a first can, not for a measurement.
"""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.planning import rows
from service.planning.cautions import assumption_bit, problem_number
from service.planning.defaults import medium_of

POT_LITRES_PER_CUBIC_DECIMETRE: Final = 0.53
"""Volume of a pot over the cube of its upper diameter [L/dm3]; common practice."""

WATERING_SHARES: Final = np.array([0.30, 0.25, 0.30, 0.25, 0.25, 0.15])
"""Share of the pot's volume that one watering takes, in the order of `rows.MEDIA`."""

MOUNT_MILLILITRES: Final = 60.0
"""Solution that one mount takes, sprayed until it runs off [mL]; common practice."""

LEAST_FOR_A_PLANT: Final = 1.0
MOST_FOR_A_PLANT: Final = 50_000.0
"""Volumes outside which a plant takes none, so that another unit was probably meant [mL]; common
practice."""

MOUNT: Final = rows.SETUPS.index("mount")
VOLUME_FROM_POTS: Final = assumption_bit("volume_from_pots")
VOLUME_ASSUMED: Final = assumption_bit("volume_assumed")
UNIT_AS_NAMED: Final = assumption_bit("volume_unit_as_named")
VOLUME_UNKNOWN: Final = problem_number("volume_unknown")


@kernel
def pot_volume(diameter: float) -> float:
    """
    Return the volume of a pot of ordinary shape.

    Parameters
    ----------
    diameter : float
        Upper diameter [cm].

    Returns
    -------
    float
        Volume [L].
    """
    return POT_LITRES_PER_CUBIC_DECIMETRE * (diameter / 10.0) ** 3


@kernel
def fill_volume(row: np.void, result: np.void) -> int:
    """
    Fill in the volume of the can and the share of one plant.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        Receives `volume_l`, `volume_per_plant_ml` and the assumption bits.

    Returns
    -------
    int
        A problem number; 0 when the volume is known.
    """
    count = row["count"]
    per_plant = row["volume_per_plant_ml"]
    volume = row["volume_l"]
    if np.isnan(per_plant) and np.isnan(volume) and row["limited"] == 1:
        if row["setup"] == MOUNT:
            per_plant = MOUNT_MILLILITRES
        elif not np.isnan(row["pot_diameter_cm"]):
            share = WATERING_SHARES[medium_of(row, result)]
            per_plant = 1000.0 * share * pot_volume(row["pot_diameter_cm"])
        if np.isnan(per_plant) or np.isnan(count):
            return VOLUME_UNKNOWN
        result["assumptions"] = result["assumptions"] | VOLUME_FROM_POTS
    if np.isnan(volume):
        if not np.isnan(per_plant) and not np.isnan(count):
            volume = per_plant * count / 1000.0
        elif row["limited"] == 1:
            return VOLUME_UNKNOWN
        else:
            volume = 1.0
            result["assumptions"] = result["assumptions"] | VOLUME_ASSUMED
    elif np.isnan(per_plant) and not np.isnan(count) and count > 0.0:
        per_plant = 1000.0 * volume / count
    if not 0.0 < volume < np.inf:
        return VOLUME_UNKNOWN
    if per_plant < LEAST_FOR_A_PLANT or per_plant > MOST_FOR_A_PLANT:
        result["assumptions"] = result["assumptions"] | UNIT_AS_NAMED
    result["volume_l"] = volume
    result["volume_per_plant_ml"] = per_plant
    return 0
