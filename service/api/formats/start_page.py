"""The page that a person sees first: what the service does, and a form that mixes one can."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Final
from urllib.parse import urlencode

from service.api.formats.page import page

ABOUT: Final = (
    "Velamen computes nutrient solutions for orchids and other epiphytes: how strong today's can"
    " may be in this air, how many grams and millilitres go into it, what your water already"
    " brings, how much acid is safe, and what the can will be when it is mixed. It keeps nothing"
    " of what you send."
)
FIRST: Final = {
    "plants.profile": "moth_orchid",
    "plants.size": "medium",
    "plants.setup": "wet_dry_pot",
    "air.humidity_percent": "55",
    "air.temperature_celsius": "22",
    "product": "feed_15_5_15_ca_mg",
    "water": "moderate_tap",
    "volume_l": "10",
    "units": "us",
}
"""What the form holds at first, and the card beside it shows."""

STYLE: Final = """
form .wide { grid-column: span 2; }
form .both { display: grid; grid-template-columns: 1fr 1fr; gap: .7rem; grid-column: 1 / -1; }
form .both button { align-self: stretch; }
iframe { height: 62rem; margin-top: .8rem; }
@media (max-width: 34rem) { form { grid-template-columns: 1fr 1fr; }
  form .wide, form .whole { grid-column: 1 / -1; } iframe { height: 108rem; } }
@media print { form, iframe { display: none; } }
"""

WORDS: Final = {
    "large": "large",
    "medium": "medium",
    "mini": "miniature",
    "wet_dry_pot": "a pot that dries out",
    "semi_hydroponic_pot": "clay, reservoir",
    "mount": "a mount",
    "reverse_osmosis": "reverse osmosis",
    "rain": "rain",
    "soft_tap": "soft tap water",
    "moderate_tap": "moderately hard tap water",
    "hard_tap": "hard tap water",
    "softened_tap": "tap water from a softener",
}


def start_page(
    products: Mapping[str, str], profiles: Mapping[str, str], waters: Sequence[str]
) -> str:
    """
    Return the page.

    Parameters
    ----------
    products, profiles : mapping of str to str
        Name for people by key.
    waters : sequence of str
        Keys of the presets.
    """
    fields = "".join(
        (
            _choice("Plants", "plants.profile", profiles),
            _choice("Size", "plants.size", _named(("large", "medium", "mini"))),
            _choice(
                "Roots in",
                "plants.setup",
                _named(("wet_dry_pot", "semi_hydroponic_pot", "mount")),
            ),
            _number("Humidity, %", "air.humidity_percent", "2", "100"),
            _number("Temperature, °C", "air.temperature_celsius", "10", "38"),
            _choice("Water", "water", _named(waters)),
            _choice("Product", "product", products, "wide"),
            _number("Can, L", "volume_l", "0.1", "1000"),
            _choice("Also in", "units", {"metric": "metric", "us": "US", "imperial": "imperial"}),
        )
    )
    return page(
        "Velamen",
        f"<h1>Velamen</h1><p>{escape(ABOUT)}</p><h2>One can, now</h2>"
        f'<form action="/v1/doses.html" method="get" target="card">{fields}'
        '<div class="both"><button>Show the mixing card</button>'
        '<button formtarget="_blank">Open it to print</button></div></form>'
        '<p class="soft">Measured water, acid, labels, several products and whole tables go to'
        ' the same address as JSON or CSV: see the <a href="/docs">documentation</a>.</p>'
        '<iframe name="card" title="Mixing card"'
        f' src="/v1/doses.html?{escape(urlencode(FIRST))}"></iframe>'
        '<h2>More</h2><ul><li><a href="/docs">Every address, with examples</a>, also without the'
        ' internet</li><li><a href="/openapi.json">OpenAPI document</a></li>'
        '<li><a href="/v1/products">Products</a>, <a href="/v1/plants">plants</a>,'
        ' <a href="/v1/waters">waters</a>, <a href="/v1/acids">acids</a>,'
        ' <a href="/v1/sources">sources of every number</a></li>'
        '<li><a href="/trust">How far to trust it</a>: every quantity beside print</li></ul>',
        more_style=STYLE,
    )


def _named(keys: Sequence[str]) -> dict[str, str]:
    return {key: WORDS.get(key, key.replace("_", " ")) for key in keys}


def _choice(label: str, name: str, options: Mapping[str, str], kind: str = "whole") -> str:
    listed = "".join(
        f'<option value="{escape(key)}"{" selected" if key == FIRST[name] else ""}>{escape(words)}'
        "</option>"
        for key, words in options.items()
    )
    return (
        f'<label class="{kind}">{escape(label)}'
        f'<select name="{escape(name)}">{listed}</select></label>'
    )


def _number(label: str, name: str, least: str, most: str) -> str:
    return (
        f'<label>{escape(label)}<input type="number" name="{escape(name)}" value="{FIRST[name]}"'
        f' min="{least}" max="{most}" step="any" required></label>'
    )
