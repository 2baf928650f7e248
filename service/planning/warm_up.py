"""Compile every kernel before the first request needs it."""

import importlib
import pkgutil

import service.chemistry
from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan_targets
from service.planning.ph_adjustment import adjust
from service.planning.ph_adjustment_rows import empty_ph_requests, empty_ph_results
from service.planning.self_check import self_check


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
    adjustments = empty_ph_requests(1)
    adjustments["profile"] = catalogue().default_profile
    adjustments["water"] = catalogue().water_rows["moderate_tap"]
    adjustments["volume_l"] = 1.0
    adjust(adjustments, empty_ph_results(1), catalogue())
    return names
