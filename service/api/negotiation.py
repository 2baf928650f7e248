"""Which representation an answer takes: by suffix, then `?format=`, then `Accept`."""

from collections.abc import Mapping, Sequence
from typing import Final

from starlette.requests import Request

from service.api.problems import FieldError, ProblemError
from service.api.suggestions import nearest

MEDIA_TYPES: Final[dict[str, str]] = {
    "json": "application/json",
    "csv": "text/csv",
    "ndjson": "application/x-ndjson",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "txt": "text/plain",
    "xml": "application/xml",
    "html": "text/html",
    "md": "text/markdown",
    "svg": "image/svg+xml",
    "ics": "text/calendar",
}
"""Format key, which is also the suffix of the path, to media type."""

ALIASES: Final[dict[str, str]] = {
    "application/jsonl": "ndjson",
    "application/ndjson": "ndjson",
    "text/xml": "xml",
    "application/csv": "csv",
}

SUFFIXED: Final = ("/v1/", "/trust.")
"""How paths begin that take a suffix."""


def split_suffix(path: str) -> tuple[str, str | None]:
    """Return a path without its format suffix, and the format, if it is one of `SUFFIXED`."""
    if not path.startswith(SUFFIXED):
        return path, None
    stem, dot, suffix = path.rpartition(".")
    if dot and suffix in MEDIA_TYPES and not stem.endswith("/"):
        return stem, suffix
    return path, None


def chosen_format(request: Request, offered: Sequence[str] = ("json",)) -> str:
    """
    Return the format that the caller wants among those that a path offers.

    Parameters
    ----------
    request : Request
        Its suffix (taken off the path by `FormatSuffix`) wins over `?format=`, which wins over
        `Accept`. Without any of them the first format is taken.
    offered : sequence of str
        Keys of `MEDIA_TYPES`, the preferred one first.

    Returns
    -------
    str
        One of `offered`.

    Raises
    ------
    ProblemError
        406 `not_acceptable` listing what is offered; 422 for an unknown word in `?format=`.
    """
    suffix = request.scope.get("velamen.format")
    if suffix is not None:
        if suffix not in offered:
            raise _not_acceptable(f".{suffix}", offered)
        return str(suffix)
    if request.scope.get("query_string"):
        wanted = request.query_params.get("format")
        if wanted is not None:
            if wanted not in MEDIA_TYPES:
                raise _unknown_format(wanted, offered)
            if wanted not in offered:
                raise _not_acceptable(wanted, offered)
            return wanted
    accept = request.headers.get("accept")
    if not accept or (accept in ("*/*", "application/json") and offered[0] == "json"):
        return offered[0]
    return _by_accept(accept, offered)


def _by_accept(accept: str, offered: Sequence[str]) -> str:
    ranges = [parsed for part in accept[:2_000].split(",") if (parsed := _media_range(part))]
    if not ranges:
        return offered[0]
    best, best_quality = offered[0], 0.0
    for name in offered:
        quality = _quality(name, ranges)
        if quality > best_quality:
            best, best_quality = name, quality
    if best_quality > 0.0:
        return best
    raise _not_acceptable(accept[:200], offered)


def _media_range(part: str) -> tuple[str, float] | None:
    media_type, *parameters = (piece.strip().lower() for piece in part.split(";"))
    quality = 1.0
    for parameter in parameters:
        if parameter.startswith("q="):
            try:
                quality = min(max(float(parameter[2:]), 0.0), 1.0)
            except ValueError:
                return None
    return (media_type, quality) if "/" in media_type else None


def _quality(name: str, ranges: Sequence[tuple[str, float]]) -> float:
    """Return the quality that the most specific matching range gives to a format."""
    media_type = MEDIA_TYPES[name]
    rank, quality = 0, 0.0
    for given, q in ranges:
        if given == media_type or ALIASES.get(given) == name:
            here = 3
        elif given == media_type.partition("/")[0] + "/*":
            here = 2
        elif given == "*/*":
            here = 1
        else:
            continue
        if here > rank:
            rank, quality = here, q
    return quality


def _not_acceptable(wanted: str, offered: Sequence[str]) -> ProblemError:
    fault = FieldError(
        parameter="format",
        code="not_allowed",
        detail=f"`{wanted}` is not available here. This path offers {', '.join(offered)}.",
        received=wanted,
        allowed=[f"{name} ({MEDIA_TYPES[name]})" for name in offered],
    )
    return ProblemError("not_acceptable", fault.detail, [fault], {"Vary": "Accept"})


def _unknown_format(wanted: str, offered: Sequence[str]) -> ProblemError:
    meant = nearest(wanted, offered)
    hint = f" Did you mean `{meant}`?" if meant else ""
    fault = FieldError(
        parameter="format",
        code="not_allowed",
        detail=f"`{wanted[:80]}` is not a format.{hint} This path offers {', '.join(offered)}.",
        received=wanted[:80],
        allowed=list(offered),
    )
    return ProblemError("invalid_request", fault.detail, [fault])


def content_type_of(headers: Mapping[str, str]) -> tuple[str, str]:
    """Return media type and charset of a body, both in lower case, empty when absent."""
    media_type, *parameters = str(headers.get("content-type", "")).split(";")
    charset = ""
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if name.strip().lower() == "charset":
            charset = value.strip().strip('"').lower()
    return media_type.strip().lower(), charset
