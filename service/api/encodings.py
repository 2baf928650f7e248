"""Whether an answer may be compressed: `Accept-Encoding` as RFC 9110 section 12.5.3 reads it."""

from typing import Final

from starlette.types import ASGIApp, Receive, Scope, Send

HEADER: Final = b"accept-encoding"
_GZIP: Final = ("gzip", "x-gzip")


def accepts_gzip(header: str) -> bool:
    """
    Tell whether a caller takes gzip.

    Parameters
    ----------
    header : str
        Value of `Accept-Encoding`, empty when it is absent.

    Returns
    -------
    bool
        False where gzip is not named, where it has the quality 0, or where the quality cannot be
        read: an answer as it is harms nobody.
    """
    qualities: dict[str, float] = {}
    for part in header.lower().split(","):
        coding, *parameters = (piece.strip() for piece in part.split(";"))
        qualities[coding] = _quality(parameters)
    named = [qualities[name] for name in _GZIP if name in qualities]
    return max(named, default=qualities.get("*", 0.0)) > 0.0


def _quality(parameters: list[str]) -> float:
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if name.strip() == "q":
            try:
                quality = float(value)
            except ValueError:
                return 0.0
            return quality if 0.0 <= quality <= 1.0 else 0.0
    return 1.0


class AcceptedEncoding:
    """
    Write `Accept-Encoding` as the bare word that what follows looks for.

    The compression behind it searches the header for the word gzip, and would find it in a refusal.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] == "http":
            given = [value for name, value in scope["headers"] if name == HEADER]
            if given:
                accepted = accepts_gzip(b",".join(given).decode("latin-1"))
                others = [pair for pair in scope["headers"] if pair[0] != HEADER]
                word = b"gzip" if accepted else b"identity"
                scope = {**scope, "headers": [*others, (HEADER, word)]}
        await self.app(scope, receive, send)
