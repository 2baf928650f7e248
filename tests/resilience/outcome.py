"""What one part of the resilience run found, and the table that they are printed in."""

import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

KEPT_FAULTS: Final = 20
"""Faults that are written out; all are counted."""

SHOWN_EVERY: Final = 5_000


@dataclass
class Outcome:
    """
    Counts and faults of one part.

    A fault is written with the smallest request that shows it, so that it can be sent again.
    """

    part: str
    unit: str
    tried: int = 0
    fault_count: int = 0
    faults: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    started: float = field(default_factory=time.monotonic)
    seconds: float = 0.0

    def count(self, more: int = 1) -> None:
        """Count what was tried, and show now and then how far it has come."""
        before, self.tried = self.tried, self.tried + more
        if before // SHOWN_EVERY != self.tried // SHOWN_EVERY:
            print(
                f"{self.part}: {self.tried:,} {self.unit}, {self.fault_count} faults",
                file=sys.stderr,
                flush=True,
            )

    def fault(self, text: str) -> None:
        """Note one thing that must not happen."""
        self.fault_count += 1
        if len(self.faults) < KEPT_FAULTS:
            self.faults.append(text)

    def finished(self) -> "Outcome":
        """Stop the clock."""
        self.seconds = time.monotonic() - self.started
        return self


def spelled(seconds: float) -> str:
    """Return a time for people."""
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.1f} min"


def table(outcomes: Sequence[Outcome]) -> str:
    """Return the results as a table in Markdown."""
    lines = ["| part | tried | faults | time | remarks |", "| --- | --- | --- | --- | --- |"]
    lines += [
        f"| {each.part} | {each.tried:,} {each.unit} | {each.fault_count} |"
        f" {spelled(each.seconds)} | {'; '.join(each.remarks)} |"
        for each in outcomes
    ]
    return "\n".join(lines)
