"""
Change the code one operator at a time and see whether a test notices.

    python -m tests.mutants --count 400 --seed 1 --folder mutants

Needs cosmic-ray and coverage on the path, which the tests themselves do not; see DEVELOPERS.md,
"Mutants". Works on clones of the last commit, never on the working copy. Every changed program is
judged without compiling, by the tests that pass over the changed line.
"""

import argparse
from pathlib import Path

from tests.mutants import covering, report, sample, trial


def main() -> None:
    """Find which tests pass over which lines, draw changes, try each, and print what survived."""
    options = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    options.add_argument("--count", type=int, default=400, help="changes tried in each layer")
    options.add_argument("--seed", type=int, default=1, help="start of the random choice")
    options.add_argument("--workers", type=int, default=2, help="clones that work side by side")
    options.add_argument("--folder", type=Path, required=True, help="where clones and results go")
    options.add_argument(
        "--layer", choices=sample.LAYERS, action="append", help="a layer alone; default: each"
    )
    chosen = options.parse_args()
    folder = chosen.folder.resolve()
    folder.mkdir(parents=True, exist_ok=True)
    passed_over = covering.lines_of_tests(folder, chosen.workers)
    for layer in chosen.layer or sample.LAYERS:
        changes = sample.draw(layer, chosen.count, chosen.seed, folder)
        trial.run(changes, passed_over, layer, chosen.workers, folder)
        report.show(layer, folder)


if __name__ == "__main__":
    main()
