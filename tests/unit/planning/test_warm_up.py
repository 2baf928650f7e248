"""Everything is run once before the first caller asks."""

from pathlib import Path

import service.chemistry
from service.planning.warm_up import warm_up


def test_warming_up_runs_through_and_names_every_module_of_chemistry() -> None:
    folder = Path(service.chemistry.__path__[0])
    modules = sorted(each.stem for each in folder.glob("*.py") if each.stem != "__init__")
    assert warm_up() == [f"service.chemistry.{each}" for each in modules]
