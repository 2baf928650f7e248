"""Compile everything before the first request needs it."""

import importlib
import pkgutil

import service.chemistry


def warm_up() -> list[str]:
    """
    Import every module of the chemistry, whose kernels with declared types compile on import.

    Returns
    -------
    list of str
        Names of the modules that were imported, sorted.
    """
    found = pkgutil.walk_packages(service.chemistry.__path__, service.chemistry.__name__ + ".")
    names = sorted(module.name for module in found)
    for name in names:
        importlib.import_module(name)
    return names
