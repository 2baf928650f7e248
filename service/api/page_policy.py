"""
What a browser may do with an answer, as Content-Security-Policy.

No page has a script. A page may use the style sheets that it brings, each known by its digest, and
nothing of another host; what is no page may use nothing at all.
"""

import base64
import hashlib
from typing import Final

from service.api import documentation
from service.api.formats import (
    batch_sheet,
    page,
    programme_html,
    start_page,
    stock_labels_html,
    svg_chart,
    trust_page,
    working,
)

STYLE_SHEETS: Final = (
    page.STYLE,
    batch_sheet.STYLE,
    start_page.STYLE,
    programme_html.STYLE,
    stock_labels_html.STYLE,
    documentation.STYLE,
    svg_chart.STYLE,
    trust_page.STYLE,
    working.STYLE,
)


def _digest(style: str) -> str:
    found = hashlib.sha256(style.encode()).digest()
    return f"'sha256-{base64.b64encode(found).decode()}'"


_COMMON: Final = "base-uri 'none'; frame-ancestors 'self'"
DATA_POLICY: Final = f"default-src 'none'; form-action 'none'; {_COMMON}".encode()
PAGE_POLICY: Final = (
    f"default-src 'none'; style-src {' '.join(map(_digest, STYLE_SHEETS))}; img-src 'self' data:;"
    f" form-action 'self'; frame-src 'self'; {_COMMON}"
).encode()

PAGES: Final = (b"text/html", b"image/svg+xml")
"""Content types of what a browser shows with a style of its own."""


def policy_for(content_type: bytes) -> bytes:
    """
    Return the policy of an answer.

    Parameters
    ----------
    content_type : bytes
        Its content type; empty where it has none.
    """
    return PAGE_POLICY if content_type.startswith(PAGES) else DATA_POLICY
