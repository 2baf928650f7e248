"""Answers that may be kept: ETag, If-None-Match and Cache-Control of a GET."""

import hashlib
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from service.api.encodings import accepts_gzip

CATALOGUE_CACHE_CONTROL: Final = "public, max-age=3600"


def entity_tag(content: bytes, media_type: str, *, compressed: bool) -> str:
    """
    Return a strong entity tag of one representation.

    The content holds the versions of service and data, so that it changes with them; the
    compressed form of the same content has a tag of its own.
    """
    digest = hashlib.sha256(media_type.encode() + b"\0" + content).hexdigest()[:32]
    return f'"{digest}{"-gzip" if compressed else ""}"'


def kept_response(
    request: Request,
    content: bytes,
    media_type: str = "application/json",
    cache_control: str = CATALOGUE_CACHE_CONTROL,
) -> Response:
    """Return the content with its entity tag, or 304 when the caller has it already."""
    compressed = accepts_gzip(request.headers.get("accept-encoding", ""))
    tag = entity_tag(content, media_type, compressed=compressed)
    headers = {"ETag": tag, "Cache-Control": cache_control, "Vary": "Accept, Accept-Encoding"}
    given = request.headers.get("if-none-match")
    if given is not None and _matches(given, tag):
        return Response(status_code=304, headers=headers)
    return Response(content, headers=headers, media_type=media_type)


def _matches(given: str, tag: str) -> bool:
    """Compare weakly, as RFC 9110 section 13.1.2 asks for If-None-Match."""
    tags = [part.strip().removeprefix("W/") for part in given.split(",")]
    return "*" in tags or tag in tags
