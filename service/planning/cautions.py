"""
Cautions, assumptions and problems of a planned row: codes, severities and plain words.

Kernels set bits; the words of `cautions.toml` are filled in from the row's own numbers.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np


@dataclass(frozen=True)
class Notice:
    """
    One kind of caution, assumption or problem.

    Attributes
    ----------
    code : str
        Stable word for programs.
    severity : str
        `info`, `warning` or `danger`; assumptions are `info`, problems `danger`.
    field : str or None
        Field of the request or the answer that it is about.
    message : str
        Sentence for people; names in braces are filled in from the row.
    brief : str
        The same without numbers, for many rows at once.
    """

    code: str
    severity: str
    field: str | None
    message: str
    brief: str = ""

    def words(self, numbers: Mapping[str, object]) -> str:
        """
        Return the sentence with the row's numbers in it.

        Parameters
        ----------
        numbers : mapping
            Values of the names in braces.

        Returns
        -------
        str
            The sentence.
        """
        return self.message.format_map(numbers) if "{" in self.message else self.message


_ASIDE: Final = re.compile(r" \([^()]*\{[^{}]*\}[^()]*\)")


def read_notices(path: Path) -> dict[str, tuple[Notice, ...]]:
    """
    Return the lists of a packaged file of notices.

    Parameters
    ----------
    path : Path
        TOML file with lists `caution`, `assumption` and `problem`, each optional.

    Returns
    -------
    dict of str to tuple of Notice
        The lists by their names.
    """
    document = tomllib.loads(path.read_text(encoding="utf-8"))
    usual = {"caution": "", "assumption": "info", "problem": "danger"}
    return {
        name: tuple(
            Notice(
                code=entry["code"],
                severity=entry.get("severity", severity),
                field=entry.get("field"),
                message=entry["message"],
                brief=entry.get("brief") or _ASIDE.sub("", entry["message"]),
            )
            for entry in document.get(name, ())
        )
        for name, severity in usual.items()
    }


_LISTS: Final = read_notices(Path(__file__).with_suffix(".toml"))
CAUTIONS: Final = _LISTS["caution"]
ASSUMPTIONS: Final = _LISTS["assumption"]
PROBLEMS: Final = (Notice("none", "info", None, ""), *_LISTS["problem"])
"""Problems by their number; 0 is none."""

_CAUTION_POSITION: Final = {notice.code: position for position, notice in enumerate(CAUTIONS)}
_ASSUMPTION_POSITION: Final = {notice.code: place for place, notice in enumerate(ASSUMPTIONS)}
_PROBLEM_POSITION: Final = {notice.code: position for position, notice in enumerate(PROBLEMS)}


def caution_bit(code: str) -> np.uint64:
    """
    Return the bit that kernels set for a caution.

    Parameters
    ----------
    code : str
        Code of a notice in `CAUTIONS`.

    Returns
    -------
    uint64
        One bit.
    """
    return np.uint64(1 << _CAUTION_POSITION[code])


def assumption_bit(code: str) -> np.uint64:
    """
    Return the bit that kernels set for an assumption.

    Parameters
    ----------
    code : str
        Code of a notice in `ASSUMPTIONS`.

    Returns
    -------
    uint64
        One bit.
    """
    return np.uint64(1 << _ASSUMPTION_POSITION[code])


def problem_number(code: str) -> int:
    """
    Return the number that kernels return for a problem.

    Parameters
    ----------
    code : str
        Code of a notice in `PROBLEMS`.

    Returns
    -------
    int
        Position in `PROBLEMS`; 0 means none.
    """
    return _PROBLEM_POSITION[code]


def notices(bits: int, table: tuple[Notice, ...]) -> list[Notice]:
    """
    Return the notices whose bits are set.

    Parameters
    ----------
    bits : int
        Bits that a kernel set.
    table : tuple of Notice
        `CAUTIONS` or `ASSUMPTIONS`.

    Returns
    -------
    list of Notice
        In the order of the table.
    """
    found = []
    while bits:
        lowest = bits & -bits
        position = lowest.bit_length() - 1
        if position < len(table):
            found.append(table[position])
        bits ^= lowest
    return found
