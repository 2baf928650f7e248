"""Rows of doses from a seed: as growers send them, at the edges of ranges, and hostile."""

import copy
import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from tests.resilience.ceilings import Ceilings, Circumstances
from tests.resilience.drawn_values import EDGES, HOSTILE, USUAL

VALID_SHARE: Final = 0.6
EDGE_SHARE: Final = 0.25
KNOWN_CIRCUMSTANCES: Final = 0.8
"""Share of rows whose plants and air are among those whose ceilings were asked for."""

PRESETS: Final = (
    "reverse_osmosis",
    "rain",
    "soft_tap",
    "moderate_tap",
    "hard_tap",
    "softened_tap",
)
ANALYSIS: Final = tuple(name for name in USUAL if name.startswith("water."))
UNKNOWN_FIELDS: Final = (
    "volum_l",
    "plant.size",
    "plants.siez",
    "water.calcium",
    "strength.ppm_scale",
    "__class__",
    "constructor.prototype",
    "a b",
    "é",
    "x" * 150,
    "air.humidity_percent.value",
    "products.0.product",
)
OWN_LABELS: Final = (
    {"name": "own", "form": "solid", "label": {"total_n_percent": 20}},
    {"name": "own", "form": "liquid", "density_kg_per_l": 1.1, "label": {"nitrate_n_percent": 3}},
    {"name": "own", "form": "solid", "label": {"p2o5_percent": 50, "k2o_percent": 34}},
    {"name": "own", "form": "solid", "label": {"b_percent": 17}},
    {"name": "own", "form": "solid", "label": {"mo_percent": 0.001, "fe_percent": 0.001}},
    {"name": "own", "form": "solid", "label": {"total_n_percent": 100, "urea_n_percent": 1}},
    {"name": "own", "form": "solid", "label": {}},
    {"name": "own", "form": "gas", "label": {"total_n_percent": 5}},
)
OWN_PROFILES: Final = (
    {"ec_ceiling_ms_per_cm": 0.01},
    {"ec_ceiling_ms_per_cm": 5, "nitrogen_ceiling_mg_per_l": 1000},
    {"nitrogen_ceiling_mg_per_l": 1},
    {"ammonium_share_ceiling_percent": 0.001},
    {"micronutrient_ceilings_mg_per_l": {"boron": 0.001}},
    {"based_on": "disa"},
    {"based_on": "nothing known"},
    {},
)


@dataclass
class DoseRow:
    """
    One row as it is sent, and what its answer may hold at most.

    Attributes
    ----------
    fields : dict
        Dotted names to values.
    ceilings : Ceilings or None
        None where the row says nothing by which they are known.
    """

    fields: dict[str, Any]
    ceilings: Ceilings | None = field(default=None)

    def nested(self) -> dict[str, Any]:
        """Return the row as an object of JSON."""
        row: dict[str, Any] = {}
        for name, value in self.fields.items():
            *parents, last = name.split(".")
            place = row
            for parent in parents:
                inner = place.get(parent)
                if not isinstance(inner, dict):
                    inner = place[parent] = {}
                place = inner
            place[last] = value
        return row


class RowMaker:
    """
    Make rows, the same from the same seed.

    Parameters
    ----------
    seed : int
        Decides everything.
    products : sequence of str
        Keys of the catalogue.
    circumstances : sequence of Circumstances
        Plants and air whose ceilings are known.
    """

    def __init__(
        self, seed: int, products: Sequence[str], circumstances: Sequence[Circumstances]
    ) -> None:
        self.rng = random.Random(seed)
        self.products = products
        self.circumstances = circumstances

    def row(self, number: int) -> DoseRow:
        """Return a further row."""
        row = self._valid(number)
        kind = self.rng.random()
        if kind < VALID_SHARE:
            return row
        hostile = kind >= VALID_SHARE + EDGE_SHARE
        for _ in range(self.rng.choice((1, 1, 1, 2, 3))):
            self._spoil(row, hostile)
        return row

    def _valid(self, number: int) -> DoseRow:
        rng = self.rng
        row = DoseRow({"id": f"r{number}"})
        if rng.random() < KNOWN_CIRCUMSTANCES:
            known = rng.choice(self.circumstances)
            row.fields |= known.fields
            row.ceilings = known.ceilings
        else:
            names = [name for name in USUAL if name.startswith(("plants.", "air."))]
            for name in rng.sample(names, rng.randint(0, 6)):
                row.fields[name] = USUAL[name](rng)
            if any(name.startswith("air.") for name in row.fields):
                row.fields["air.humidity_percent"] = USUAL["air.humidity_percent"](rng)
            row.fields["application"] = USUAL["application"](rng)
        if rng.random() < 0.9:
            row.fields["product"] = rng.choice(self.products)
            if rng.random() < 0.5:
                row.fields |= self._strength()
        else:
            several = rng.sample(self.products, rng.randint(1, min(4, len(self.products))))
            row.fields["products"] = [
                {"product": each, "strength": nested_strength(self._strength())} for each in several
            ]
        self._water(row)
        if rng.random() < 0.95:
            row.fields["volume_l"] = USUAL["volume_l"](rng)
        else:
            row.fields["plants.count"] = USUAL["plants.count"](rng)
            row.fields["volume_per_plant_ml"] = USUAL["volume_per_plant_ml"](rng)
        if rng.random() < 0.4:
            row.fields["target_ph"] = USUAL["target_ph"](rng)
            row.fields["acid.kind"] = USUAL["acid.kind"](rng)
            if rng.random() < 0.5:
                row.fields["acid.percent"] = USUAL["acid.percent"](rng)
        for name in ("instruments.balance_resolution_g", "instruments.syringe_resolution_ml"):
            if rng.random() < 0.2:
                row.fields[name] = USUAL[name](rng)
        return row

    def _water(self, row: DoseRow) -> None:
        if self.rng.random() < 0.5:
            row.fields["water"] = self.rng.choice(PRESETS)
            return
        names = self.rng.sample(ANALYSIS, self.rng.randint(1, len(ANALYSIS)))
        if self.rng.random() < 0.9:
            # Mostly what a laboratory sends: the alkalinity, and once.
            names = [name for name in names if name != "water.bicarbonate_mg_per_l"]
            names.append("water.alkalinity_mg_per_l_caco3")
        for name in names:
            row.fields[name] = USUAL[name](self.rng)

    def _strength(self) -> dict[str, Any]:
        rng = self.rng
        basis = rng.choice(("element", "element", "product", "conductivity", "meter_ppm"))
        strength: dict[str, Any] = {"strength.basis": basis}
        if basis == "element":
            strength["strength.element"] = rng.choice(
                (*("nitrogen",) * 8, "N", "P", "potassium", "calcium", "magnesium", "iron", "B")
            )
            strength["strength.mg_per_l"] = round(10 ** rng.uniform(-2, 3), 4)
        elif basis == "product":
            amount = rng.choice((*("g_per_l",) * 9, "ml_per_l"))
            strength[f"strength.{amount}"] = round(10 ** rng.uniform(-4, 1.5), 6)
        elif basis == "conductivity":
            strength["strength.ec_ms_per_cm"] = round(10 ** rng.uniform(-2, 0.7), 4)
        else:
            strength["strength.ppm"] = round(10 ** rng.uniform(1, 3.5), 1)
            if rng.random() < 0.6:
                strength["strength.scale"] = rng.choice((500, 640, 700))
        if rng.random() < 0.3:
            strength["strength.counts"] = rng.choice(("added", "whole_can"))
        return strength

    def _spoil(self, row: DoseRow, hostile: bool) -> None:
        """Replace or add one value; what its ceilings were is then no longer known for sure."""
        rng = self.rng
        if not hostile:
            name = rng.choice(tuple(EDGES))
            value = rng.choice(EDGES[name])
        elif rng.random() < 0.1:
            name, value = rng.choice(UNKNOWN_FIELDS), rng.choice(HOSTILE)
        elif rng.random() < 0.15:
            name = rng.choice(("product", "plants.profile"))
            value = rng.choice(OWN_LABELS if name == "product" else OWN_PROFILES)
        else:
            name = rng.choice((*row.fields, *USUAL, "plants", "air", "water", "strength", "acid"))
            value = rng.choice(HOSTILE)
        if name.startswith("water."):
            row.fields.pop("water", None)
        if name.startswith(("plants", "air", "application", "interval")):
            row.ceilings = None
        # A copy: rows are nested in place, and the next one must not find what this one was given.
        row.fields[name] = copy.deepcopy(value)


def nested_strength(strength: dict[str, Any]) -> dict[str, Any]:
    """Return a strength as an object of its own."""
    return {name.removeprefix("strength."): value for name, value in strength.items()}
