"""Everything is run once before the first caller asks."""

from pathlib import Path

import pytest

import service.chemistry
from service.planning.warm_up import warm_up

pytestmark = pytest.mark.filterwarnings("ignore:overflow encountered:RuntimeWarning")
"""Digests of kinds wrap around; without compiling numpy says so."""


def test_warming_up_runs_through_and_names_every_module_of_chemistry() -> None:
    folder = Path(service.chemistry.__path__[0])
    modules = sorted(each.stem for each in folder.glob("*.py") if each.stem != "__init__")
    assert warm_up() == [f"service.chemistry.{each}" for each in modules]
