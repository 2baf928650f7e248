"""The strength of a target over all humidities, for a chart with today's point on it."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.doses import plan_targets

HUMIDITIES: Final = np.linspace(20.0, 98.0, 40)
"""Relative humidities of the curve [percent]."""


def strength_curve(asked: Any, catalogue: Catalogue) -> tuple[NDArray[np.float64], ...]:
    """
    Return the conductivity that these plants bear at every humidity, at today's temperature.

    Parameters
    ----------
    asked : record of `rows.DOSE_REQUEST`
        A target, defaults filled in; its humidity is replaced, today's and the usual one alike.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    humidity : ndarray, shape (n,)
        Relative humidity [percent].
    conductivity : ndarray, shape (n,)
        Ceiling of the can [mS/cm].
    """
    requests = rows.empty_requests(HUMIDITIES.size)
    results = rows.empty_results(HUMIDITIES.size)
    requests[:] = asked
    requests["humidity_percent"] = HUMIDITIES
    requests["average_humidity_percent"] = np.nan
    requests["average_temperature_celsius"] = np.nan
    plan_targets(requests, results, catalogue)
    found = results["problem"] == 0
    return HUMIDITIES[found], results["ec_ceiling_ms_per_cm"][found]
