"""A computation whose result is known, run before the service calls itself ready."""

from service.reference.loader import acids, products, sources, waters


def self_check() -> bool:
    """
    Tell whether the service can compute.

    Returns
    -------
    bool
        True when every table of the reference data loads and none is empty.
    """
    return all(len(table()) > 0 for table in (sources, products, acids, waters))
