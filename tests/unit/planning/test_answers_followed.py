"""
Small answers of every calculation, recomputed from the numbers that stand beside their formulas.

Each working is followed with the evaluator of the tests and must end in the plain answer, so that
a number that leaves its formula on the way to the answer is noticed wherever that happens.
"""

import re
from typing import Any

import pytest

from service.api.schemas.dilutions import DILUTION_EXAMPLES
from service.api.schemas.doses import DOSE_EXAMPLES
from service.api.schemas.flushes import FLUSH_EXAMPLES
from service.api.schemas.ph_adjustments import PH_ADJUSTMENT_EXAMPLES
from service.api.schemas.programmes import PROGRAMME_EXAMPLES
from service.api.schemas.readings import READING_EXAMPLES
from service.api.schemas.recipes import RECIPE_EXAMPLES
from service.api.schemas.reservoir_answers import RESERVOIR_EXAMPLES
from service.api.schemas.salt_outlooks import SALT_OUTLOOK_EXAMPLES
from service.api.schemas.solubilities import SOLUBILITY_EXAMPLES
from service.api.schemas.solutions import SOLUTION_EXAMPLES
from service.api.schemas.targets import TARGET_EXAMPLES
from service.api.schemas.water_blends import WATER_BLEND_EXAMPLES
from tests.explanations import explained
from tests.following import faults_of, fields_of, numbers_of

NOT_EXPLAINED = re.compile(
    r".*\.order$|.*_count$|.*\.shelf_place$|.*meter_scale$|weeks\.\d+\.week$"
    r"|what_keeps_it_under\.\d+\.(every_weeks|feed_number|weaker_percent)$"
    r"|flush\.within_days$|split\.steps\..*|(published_ranges|range|alternative|dry_air_alternative)\..*"
)
"""Places, counts and choices, and plans of their own that are to be asked for."""


def followed(name: str, body: dict[str, Any]) -> dict[str, Any]:
    """Return a plain answer after its working has been followed to each of its numbers."""
    plain, working = explained(name, body)
    assert faults_of(working) == []
    told, fields = dict(numbers_of(plain)), fields_of(working)
    assert {field: told.get(field) for field in fields} == fields
    assert [each for each in told if each not in fields and not NOT_EXPLAINED.match(each)] == []
    return plain


def all_followed(name: str, examples: dict[str, tuple[str, dict[str, Any]]]) -> None:
    for _, body in examples.values():
        followed(name, dict(body))


PLANTS = {"profile": "moth_orchid", "size": "mini", "setup": "mount", "count": 12}
DAILY = {"plants": PLANTS, "interval_days": 1, "air": {"humidity_percent": 80,
         "temperature_celsius": 24}}  # fmt: skip


def test_doses() -> None:
    all_followed("doses", DOSE_EXAMPLES)


def test_dilutions() -> None:
    all_followed("dilutions", DILUTION_EXAMPLES)


def test_ph_adjustments() -> None:
    all_followed("ph-adjustments", PH_ADJUSTMENT_EXAMPLES)


@pytest.mark.parametrize("setup", ["wet_dry_pot", "semi_hydroponic_pot", "mount"])
@pytest.mark.parametrize("interval_days", [1, 2, 7, 14])
@pytest.mark.parametrize("application", ["feed", "supplement", "stimulant"])
def test_targets(setup: str, interval_days: int, application: str) -> None:
    refill = {"refill": "topped_up"} if setup == "semi_hydroponic_pot" else {}
    plants = {**PLANTS, "setup": setup, "growth": "in_bloom", "size": "large", **refill}
    followed(
        "targets",
        {**DAILY, "plants": plants, "interval_days": interval_days, "application": application},
    )


def test_targets_of_the_contract() -> None:
    all_followed("targets", TARGET_EXAMPLES)


def test_a_mount_that_is_fed_daily_gets_what_the_day_bears() -> None:
    # 50 mg/L of nitrogen a day of the 200 that 800 meter ppm stand for: 800 x 50 / 200 = 200.
    plain = followed("targets", DAILY)
    assert plain["meter_ppm"] == 200.0
    assert plain["ec_ms_per_cm"] == pytest.approx(200.0 / 700.0, abs=5e-4)
    assert plain["nitrogen_mg_per_l"] == 50.0
    followed("doses", {**DAILY, "product": "feed_15_5_15_ca_mg", "water": "rain", "volume_l": 4})


def test_solutions() -> None:
    all_followed("solutions", SOLUTION_EXAMPLES)


def test_water_blends() -> None:
    all_followed("water-blends", WATER_BLEND_EXAMPLES)


def test_readings() -> None:
    all_followed("readings", READING_EXAMPLES)


def test_flushes() -> None:
    all_followed("flushes", FLUSH_EXAMPLES)


def test_salt_outlooks() -> None:
    all_followed("salt-outlooks", SALT_OUTLOOK_EXAMPLES)


def test_programmes() -> None:
    all_followed("programmes", PROGRAMME_EXAMPLES)


def test_recipes() -> None:
    all_followed("recipes", RECIPE_EXAMPLES)


def test_reservoir_corrections() -> None:
    all_followed("reservoir-corrections", RESERVOIR_EXAMPLES)


def test_solubilities() -> None:
    all_followed("solubilities", SOLUBILITY_EXAMPLES)
