"""Compile every kernel before the first request needs it."""

import importlib
import pkgutil

import service.chemistry
from service.chemistry.equilibrium import CLOSED
from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan_targets
from service.planning.known_water import REFERENCE_CELSIUS, known_water
from service.planning.notes import Notes
from service.planning.self_check import self_check
from service.planning.solution import mixture


def warm_up() -> list[str]:
    """
    Run each capability once on a known input, so that its kernels are compiled and kept.

    Returns
    -------
    list of str
        Names of the chemistry modules that were imported, sorted.

    Raises
    ------
    RuntimeError
        If the known dose does not come out as known.
    """
    found = pkgutil.walk_packages(service.chemistry.__path__, service.chemistry.__name__ + ".")
    names = sorted(module.name for module in found)
    for name in names:
        importlib.import_module(name)
    if not self_check():
        raise RuntimeError("the known dose does not come out as known")
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    requests["limited"] = 1
    requests["profile"] = catalogue().default_profile
    plan_targets(requests, results, catalogue())
    mixture(known_water("hard_tap", catalogue(), Notes()), [], None, REFERENCE_CELSIUS, CLOSED)
    return names
