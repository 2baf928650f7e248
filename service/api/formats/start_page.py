"""The page that a person sees first: what the service does, and a form that mixes one can."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Final

from service.api.formats.page import page

ABOUT: Final = (
    "Velamen computes nutrient solutions for orchids and other epiphytes: how strong today's can"
    " may be in this air, how many grams and millilitres go into it, what your water already"
    " brings, how much acid is safe, and what the can will be when it is mixed. It keeps nothing"
    " of what you send."
)
WORDS: Final = {
    "large": "large",
    "medium": "medium",
    "mini": "miniature",
    "wet_dry_pot": "pot that dries between waterings",
    "semi_hydroponic_pot": "clay over a reservoir",
    "mount": "mount",
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
            _choice("Plants", "plants.profile", profiles, "moth_orchid"),
            _choice("Size", "plants.size", _named(("large", "medium", "mini")), "medium"),
            _choice(
                "Roots in",
                "plants.setup",
                _named(("wet_dry_pot", "semi_hydroponic_pot", "mount")),
                "wet_dry_pot",
            ),
            _number("Humidity, %", "air.humidity_percent", "55", "1", "100"),
            _number("Temperature, °C", "air.temperature_celsius", "22", "10", "38"),
            _choice("Product", "product", products, "feed_15_5_15_ca_mg"),
            _choice("Water", "water", _named(waters), "moderate_tap"),
            _number("Can, L", "volume_l", "10", "0.1", "1000"),
            _choice(
                "Also in", "units", {"metric": "metric", "us": "US", "imperial": "imperial"}, "us"
            ),
        )
    )
    return page(
        "Velamen",
        f"<h1>Velamen</h1><p>{escape(ABOUT)}</p><h2>One can, now</h2>"
        f'<form action="/v1/doses.html" method="get" target="card">{fields}'
        "<button>Show the mixing card</button></form>"
        '<p class="soft">Measured water, acid, labels, several products and whole tables go to'
        ' the same address as JSON or CSV: see the <a href="/docs">documentation</a>.</p>'
        '<iframe name="card" title="Mixing card" src="/v1/doses.html?product=feed_15_5_15_ca_mg'
        '&amp;volume_l=10&amp;water=moderate_tap&amp;plants.size=medium"></iframe>'
        '<h2>More</h2><ul><li><a href="/docs">Every address, with examples</a>, also without the'
        ' internet</li><li><a href="/openapi.json">OpenAPI document</a></li>'
        '<li><a href="/v1/products">Products</a>, <a href="/v1/plants">plants</a>,'
        ' <a href="/v1/waters">waters</a>, <a href="/v1/acids">acids</a>,'
        ' <a href="/v1/sources">sources of every number</a></li></ul>',
    )


def _named(keys: Sequence[str]) -> dict[str, str]:
    return {key: WORDS.get(key, key.replace("_", " ")) for key in keys}


def _choice(label: str, name: str, options: Mapping[str, str], chosen: str) -> str:
    listed = "".join(
        f'<option value="{escape(key)}"{" selected" if key == chosen else ""}>{escape(words)}'
        "</option>"
        for key, words in options.items()
    )
    return f'<label>{escape(label)}<select name="{escape(name)}">{listed}</select></label>'


def _number(label: str, name: str, value: str, least: str, most: str) -> str:
    return (
        f'<label>{escape(label)}<input type="number" name="{escape(name)}" value="{value}"'
        f' min="{least}" max="{most}" step="any" required></label>'
    )
