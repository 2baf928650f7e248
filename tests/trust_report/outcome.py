"""One run of the tests: what they compared, and which of them passed."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import pytest

from tests.comparisons import Comparison, noting
from tests.trust_report.quantities import TESTS

FOLDERS = ("tests/published", "tests/reference_engines")


@dataclass(eq=False)
class Outcome:
    """
    What a run found.

    Attributes
    ----------
    comparisons : list of Comparison
        In the order of the tests.
    passed, failed : set of str
        Tests as `file::name`, without their parameters; one that failed anywhere has failed.
    count : int
        How many tests passed, each set of parameters as one.
    """

    comparisons: list[Comparison] = field(default_factory=list)
    passed: set[str] = field(default_factory=set)
    failed: set[str] = field(default_factory=set)
    count: int = 0

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note how a test ended."""
        name = report.nodeid.partition("[")[0]
        if report.failed or report.skipped:
            self.failed.add(name)
        elif report.when == "call":
            self.passed.add(name)
            self.count += 1


def run(also: Sequence[str] = ()) -> Outcome:
    """
    Run the published and the engine tests, and others by name.

    Parameters
    ----------
    also : sequence of str
        Tests as `file::name`, relative to the top level.
    """
    outcome = Outcome()
    others = [name for name in also if not name.startswith(FOLDERS)]
    with noting() as noted:
        status = pytest.main(
            ["-q", "-p", "no:cacheprovider", f"--rootdir={TESTS.parent}", *FOLDERS, *others],
            plugins=[outcome],
        )
    outcome.comparisons = noted
    if status != pytest.ExitCode.OK and not outcome.failed:
        outcome.failed.add(f"pytest ended with {status}")
    return outcome
