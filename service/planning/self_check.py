"""A dose whose result is known, computed before the service calls itself ready."""

from typing import Final

import numpy as np

from service.chemistry.solution import workspace
from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan_rows
from service.planning.strength import BY_ELEMENT, NITROGEN

KNOWN_PRODUCT: Final = "potassium_nitrate"
KNOWN_NITROGEN: Final = 100.0
"""Strength of the known dilution [mg/L]."""

KNOWN_MASS: Final = 7.2
"""Potassium nitrate for 10 L at 100 mg/L nitrogen: 7.218 g by the abridged atomic weights [g]."""

KNOWN_CONDUCTIVITY: Final = 0.985
"""Conductivity of that can, by the KCl standards' model within 1 % [mS/cm]."""


def self_check() -> bool:
    """
    Tell whether the service computes what it should.

    Returns
    -------
    bool
        True when a dilution of a pure salt gives its known mass and conductivity.
    """
    known = catalogue()
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    row = requests[0]
    row["limited"] = 0
    row["profile"] = known.default_profile
    row["product_count"] = 1
    row["product"][0] = known.product_positions[KNOWN_PRODUCT]
    row["strength_basis"][0] = BY_ELEMENT
    row["strength_element"][0] = NITROGEN
    row["strength_value"][0] = KNOWN_NITROGEN
    row["water"] = known.water_rows["reverse_osmosis"]
    row["volume_l"] = 10.0
    # Not `plan`: what nobody asked for is not counted among the rows.
    tables = known.product_table, known.profile_table
    plan_rows(requests, np.zeros(1, dtype=bool), True, *tables, results, workspace())
    result = results[0]
    mass = float(result["amount"][0])
    conductivity = float(result["predicted_ec_ms_per_cm"])
    return (
        result["status"] == rows.STATUSES.index("ok")
        and abs(mass - KNOWN_MASS) < 0.05
        and abs(conductivity / KNOWN_CONDUCTIVITY - 1.0) < 0.02
    )
