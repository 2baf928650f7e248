"""Serve rows of a test from few cans."""

from typing import Any

import numpy as np

from service.planning.catalogue import Catalogue, catalogue
from service.planning.doses import plan
from service.planning.mix_grouping import MixWishes
from service.planning.mixes import Mixes, plan_mixes
from tests.mixing import filled


class Shared:
    """Planned rows and their mixes."""

    def __init__(self, requests: list[dict[str, Any]], known: Catalogue | None = None) -> None:
        self.catalogue = catalogue() if known is None else known
        self.requests, self.results = filled(requests, self.catalogue, True)
        plan(self.requests, self.results, self.catalogue)

    @property
    def own(self) -> np.ndarray:
        """What each row bears of its first product [g/L or mL/L]."""
        return self.results["exact_amount"][:, 0] / self.results["volume_l"]

    def mixes(
        self,
        max_count: int | None = None,
        tolerance_percent: float | None = None,
        reserve_percent: float = 0.0,
        can_volumes_l: tuple[float, ...] = (),
    ) -> Mixes:
        wishes = MixWishes(max_count, tolerance_percent, reserve_percent, can_volumes_l)
        return plan_mixes(self.requests, self.results, self.catalogue, wishes)

    def members(self, mixes: Mixes) -> list[list[int]]:
        """Rows of each mix, ascending."""
        return [sorted(mix.rows.tolist()) for mix in mixes.mixes]


def bench(g_per_l: float | None = None, volume_l: float = 10.0, **more: Any) -> dict[str, Any]:
    """A bench of large plants in good air that asks for so much of a feed, and bears it all."""
    request: dict[str, Any] = {
        "plants": {"size": "large", "setup": "wet_dry_pot", "growth": "active"},
        "air": {"humidity_percent": 70, "temperature_celsius": 22},
        "product": "feed_13_3_15_ca_mg",
        "water": "rain",
        "volume_l": volume_l,
        "instruments": {"balance_resolution_g": 0.1, "syringe_resolution_ml": 0.1},
    }
    if g_per_l is not None:
        request["strength"] = {"basis": "product", "g_per_l": g_per_l}
    return {**request, **more}
