"""
What was assumed while a request was read, carried to its answer.

A text such as `"5 gal"` can be read in more than one way; the way it was read belongs into the
answer's `assumptions`. The field types know, deep inside validation, and cannot hand anything
back but the number. So they note it in a collector that the route installs for the duration of
one request, or that a batch installs for one row:

    with collected_assumptions() as noted:
        request = Model.model_validate(row)
    assumptions = noted.of(request)
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

from pydantic import BaseModel


@dataclass(frozen=True)
class NotedAssumption:
    """One reading that could have been another."""

    code: str
    field: str
    message: str


@dataclass
class Collector:
    """The readings noted so far in one request or one row."""

    notes: list[tuple[str, float, str, str]] = field(default_factory=list)

    def of(self, request: BaseModel | None = None) -> list[NotedAssumption]:
        """
        Return what was noted, each with the dotted name of its field.

        Parameters
        ----------
        request : BaseModel, optional
            The validated request. Validation knows the last part of the name only; the rest is
            found by looking for the field of that name and value.
        """
        found: list[NotedAssumption] = []
        for name, value, code, message in self.notes:
            paths = [] if request is None else list(_paths(request, name, value))
            taken = {(note.code, note.field) for note in found}
            free = [path for path in paths if (code, path) not in taken]
            found.append(NotedAssumption(code, free[0] if free else name, message))
        return found


_COLLECTOR: ContextVar[Collector | None] = ContextVar("assumptions", default=None)


@contextmanager
def collected_assumptions() -> Iterator[Collector]:
    """Collect what is assumed inside the block, apart from any block around it."""
    collector = Collector()
    token = _COLLECTOR.set(collector)
    try:
        yield collector
    finally:
        _COLLECTOR.reset(token)


def assumptions_of(request: BaseModel) -> list[NotedAssumption]:
    """Return what was assumed while this request was read, for the route that answers it."""
    collector = _COLLECTOR.get()
    return collector.of(request) if collector is not None and collector.notes else []


def note_assumption(name: str, value: float, code: str, message: str) -> None:
    """Note how the text of a field was read; without a collector it is not kept."""
    collector = _COLLECTOR.get()
    if collector is not None:
        collector.notes.append((name, value, code, message))


def _paths(node: object, name: str, value: float, prefix: str = "") -> Iterator[str]:
    """Yield the dotted name of every field of that name and value."""
    if isinstance(node, BaseModel):
        for key in type(node).model_fields:
            inner = getattr(node, key)
            path = f"{prefix}{key}"
            if key == name and isinstance(inner, float) and inner == value:
                yield path
            else:
                yield from _paths(inner, name, value, path + ".")
    elif isinstance(node, dict):
        for key, inner in node.items():
            path = f"{prefix}{key}"
            if inner == value and prefix.rstrip(".").endswith(name):
                yield path
            else:
                yield from _paths(inner, name, value, path + ".")
    elif isinstance(node, list | tuple):
        for position, inner in enumerate(node):
            path = f"{prefix}{position}"
            if isinstance(inner, float) and inner == value and prefix.rstrip(".").endswith(name):
                yield path
            else:
                yield from _paths(inner, name, value, path + ".")
