"""
A printed or computed number beside ours: asserted in the tests, and noted when a report is made.

The tests call `compared`; `tests.trust_report` runs them inside `noting` and reads what they noted.
"""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass


@dataclass(frozen=True)
class Comparison:
    """
    One check.

    Attributes
    ----------
    quantity : str
        Key of `tests/trust_report/quantities.toml`.
    identity, basis, source, locator : str
        The row that it checks: `published`, `informal`, `memory` or `computed`, and its place.
    expected, ours : float
        Theirs and ours, in the same unit.
    allowed : float or None
        Largest difference that the test allows; None where it bounds all rows together.
    """

    quantity: str
    identity: str
    basis: str
    source: str
    locator: str
    expected: float
    ours: float
    allowed: float | None


_noted: list[Comparison] | None = None


@contextmanager
def noting() -> Iterator[list[Comparison]]:
    """Note every comparison that is made inside."""
    global _noted
    _noted = noted = []
    try:
        yield noted
    finally:
        _noted = None


def note(
    quantity: str,
    row: Mapping[str, str],
    expected: float,
    ours: float,
    allowed: float | None = None,
) -> None:
    """Note a comparison that the test bounds in its own way."""
    if _noted is not None:
        where = (row["id"], row["basis"], row["source"], row["locator"])
        _noted.append(
            Comparison(
                quantity,
                *where,
                float(expected),
                float(ours),
                None if allowed is None else float(allowed),
            )
        )


def compared(
    quantity: str, row: Mapping[str, str], expected: float, ours: float, allowed: float
) -> None:
    """Assert that ours is theirs within what is allowed."""
    note(quantity, row, expected, ours, allowed)
    assert abs(ours - expected) <= allowed + 1e-12 * (1.0 + abs(expected)), (
        f"{row['id']} ({row['source']}): theirs {expected:.6g}, ours {ours:.6g},"
        f" allowed {allowed:.3g}"
    )


def compared_with_range(
    quantity: str, row: Mapping[str, str], low: float, high: float, ours: float
) -> None:
    """Assert that ours lies in a printed range, whose nearest value it is compared with."""
    nearest = min(max(ours, low), high)
    compared(quantity, row, nearest, ours, 0.0)


def all_compared(
    quantity: str,
    row: Mapping[str, str],
    expected: Iterable[float],
    ours: Iterable[float],
    allowed: float,
) -> None:
    """Assert that many values of one origin agree, each within what is allowed."""
    for number, (theirs, own) in enumerate(zip(expected, ours, strict=True), start=1):
        compared(quantity, {**row, "id": f"{row['id']}-{number}"}, theirs, own, allowed)


def computed_by(engine: str, identity: str, locator: str) -> dict[str, str]:
    """Return the row of a comparison with a program."""
    return {"id": identity, "basis": "computed", "source": engine, "locator": locator}


PHREEQC = "PHREEQC 3.7.3 with vitens.dat, as phreeqpython 1.6.2 ships it"
IPHREEQC = "IPhreeqc 3.8.6"
