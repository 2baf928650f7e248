"""
What a capability that plans no rows has to say beside its numbers.

Rows of doses carry bits, which kernels set. Capabilities that answer one request at a time note
cautions and assumptions by their codes, with the words of `cautions.toml` and `notes.toml`.
"""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from service.planning.cautions import ASSUMPTIONS, CAUTIONS, PROBLEMS, Notice, read_notices

_OWN: Final = read_notices(Path(__file__).with_suffix(".toml"))
NOTED_CAUTIONS: Final = (*CAUTIONS, *_OWN["caution"])
NOTED_ASSUMPTIONS: Final = (*ASSUMPTIONS, *_OWN["assumption"])
_CAUTIONS: Final = {notice.code: notice for notice in NOTED_CAUTIONS}
_ASSUMPTIONS: Final = {notice.code: notice for notice in NOTED_ASSUMPTIONS}
NOTED_PROBLEMS: Final = (*PROBLEMS, *_OWN["problem"])
_PROBLEMS: Final = {notice.code: notice for notice in NOTED_PROBLEMS}
the same cautions and assumptions by their codes, with the words of `cautions.toml`.
"""

from collections.abc import Iterable, Mapping
from typing import Any, Final

from service.planning.cautions import ASSUMPTIONS, CAUTIONS, PROBLEMS, Notice

_CAUTIONS: Final = {notice.code: notice for notice in CAUTIONS}
_ASSUMPTIONS: Final = {notice.code: notice for notice in ASSUMPTIONS}
_PROBLEMS: Final = {notice.code: notice for notice in PROBLEMS}


class RefusalError(Exception):
    """
    A request that has no answer.

    Parameters
    ----------
    code : str
        Code of a problem in `cautions.toml`.
    field : str or None
        Dotted name of the field at fault; the problem's own when None.
    **numbers : object
        Values of the names in braces of its sentence.
    """

    def __init__(self, code: str, field: str | None = None, **numbers: object) -> None:
        notice = _PROBLEMS[code]
        message = notice.words(numbers)
        super().__init__(message)
        self.notice = Notice(code, notice.severity, field or notice.field, message)


class Notes:
    """
    Cautions and assumptions of one answer, in the order in which they were found.

    Attributes
    ----------
    cautions : list of dict
        Objects with `code`, `severity`, `field` and `message`.
    assumptions : list of dict
        Objects with `code`, `field` and `message`.
    """

    def __init__(self) -> None:
        self.cautions: list[dict[str, Any]] = []
        self.assumptions: list[dict[str, Any]] = []

    def caution(self, code: str, field: str | None = None, **numbers: object) -> None:
        """
        Note a caution.

        Parameters
        ----------
        code : str
            Its code in `cautions.toml`.
        field : str or None
            Dotted name of the field; the caution's own when None.
        **numbers : object
            Values of the names in braces of its sentence.
        """
        notice = _CAUTIONS[code]
        self.cautions.append(
            {
                "code": code,
                "severity": notice.severity,
                "field": field or notice.field,
                "message": notice.words(numbers),
            }
        )

    def assume(self, code: str, field: str | None = None, **numbers: object) -> None:
        """
        Note an assumption.

        Parameters
        ----------
        code : str
            Its code in `cautions.toml`.
        field : str or None
            Dotted name of the field; the assumption's own when None.
        **numbers : object
            Values of the names in braces of its sentence.
        """
        notice = _ASSUMPTIONS[code]
        self.assumptions.append(
            {"code": code, "field": field or notice.field, "message": notice.words(numbers)}
        )

    def take(
        self, cautions: Iterable[Mapping[str, Any]], assumptions: Iterable[Mapping[str, Any]]
    ) -> None:
        """
        Add notes that were put in words elsewhere.

        Parameters
        ----------
        cautions : iterable of mapping
            Objects like those of `cautions`.
        assumptions : iterable of mapping
            Objects like those of `assumptions`.
        """
        self.cautions += [dict(each) for each in cautions]
        self.assumptions += [dict(each) for each in assumptions]
