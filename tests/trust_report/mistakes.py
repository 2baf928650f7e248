"""Slips of the trade, read from `mistakes.toml`, and whether their tests passed."""

import tomllib
from collections.abc import Sequence

from service.api.schemas.trust import Mistake
from tests.trust_report.outcome import Outcome
from tests.trust_report.quantities import FOLDER

ANSWER_WORDS = {
    "impossible": "impossible",
    "caught": "caught",
    "cautioned": "cautioned",
    "not_met": "not met",
}


def mistakes() -> list[Mistake]:
    """Return every slip in the order of the file."""
    entries = tomllib.loads((FOLDER / "mistakes.toml").read_text(encoding="utf-8"))
    return [Mistake.model_validate(entry) for entry in entries["mistake"]]


def named_tests(listed: Sequence[Mistake]) -> list[str]:
    """Return the tests that the slips name, each once."""
    return list(dict.fromkeys(name for each in listed for name in each.tests))


def unproven(listed: Sequence[Mistake], outcome: Outcome) -> list[str]:
    """Return the tests that do not exist or did not pass."""
    passed = outcome.passed - outcome.failed
    return [name for name in named_tests(listed) if name not in passed]
