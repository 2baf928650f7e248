"""
What is thrown at the service, and whether it stands: ``python -m tests.resilience [part …]``.

Every part starts the real service and works on it over HTTP. Without a part all run. Sizes are
those of the long run; ``--slice`` runs all parts in two minutes, for every change. The exit status
tells whether anything was found that must not happen.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Final

from tests.resilience import catalogue_grid, fuzzed_batches, operations, soak, wire
from tests.resilience.installation import installation
from tests.resilience.outcome import Outcome, table


@dataclass(frozen=True)
class Sizes:
    """How much each part does."""

    cases: int
    rows: int
    connections: int
    seconds: int
    seed: int


SIZE_NAMES: Final = tuple(field.name for field in fields(Sizes))
LONG: Final = Sizes(cases=20_000, rows=1_000_000, connections=20_000, seconds=600, seed=1)
SLICE: Final = Sizes(cases=400, rows=20_000, connections=300, seconds=20, seed=1)


def operations_part(sizes: Sizes) -> Outcome:
    with installation() as running:
        return operations.run(running, sizes.cases, sizes.seed)


def rows_part(sizes: Sizes) -> Outcome:
    with installation() as running:
        return fuzzed_batches.run(running, sizes.rows, sizes.seed)


def grid_part(sizes: Sizes) -> Outcome:
    del sizes
    with installation() as running:
        return catalogue_grid.run(running)


def wire_part(sizes: Sizes) -> Outcome:
    with installation(**wire.SETTINGS) as running:
        return wire.run(running, sizes.connections, sizes.seed)


def soak_part(sizes: Sizes) -> Outcome:
    with installation() as running:
        return soak.run(running, sizes.seconds, sizes.seed)


PARTS: Final[dict[str, Callable[[Sizes], Outcome]]] = {
    "operations": operations_part,
    "rows": rows_part,
    "grid": grid_part,
    "wire": wire_part,
    "soak": soak_part,
}


def main(arguments: Sequence[str]) -> int:
    """Run parts, print their faults and the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.resilience")
    parser.add_argument("parts", nargs="*", choices=[[], *PARTS], metavar="part")
    parser.add_argument("--slice", action="store_true", help="two minutes of everything")
    parser.add_argument("--cases", type=int, help="requests to all operations")
    parser.add_argument("--rows", type=int, help="fuzzed rows")
    parser.add_argument("--connections", type=int, help="damaged requests over raw connections")
    parser.add_argument("--seconds", type=int, help="length of the soak")
    parser.add_argument("--seed", type=int, help="decides whatever is drawn")
    given = parser.parse_args(arguments)
    usual = SLICE if given.slice else LONG
    sizes = Sizes(**{name: getattr(given, name) or getattr(usual, name) for name in SIZE_NAMES})
    outcomes = []
    for name in given.parts or PARTS:
        outcome = PARTS[name](sizes)
        outcomes.append(outcome)
        for fault in outcome.faults:
            print(f"{outcome.part}: {fault}", flush=True)
    print(table(outcomes))
    return 1 if any(outcome.fault_count for outcome in outcomes) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
