"""How an event of a programme is said in words, alike in every format for people."""

from typing import Final

from service.api.schemas.programmes import ProgrammeEvent

KIND_WORDS: Final = {
    "feed": "Feed",
    "supplement": "Supplement",
    "stimulant": "Seaweed",
    "water": "Water",
    "flush": "Flush",
    "repot_check": "Look at the bark",
}
GROWTH_WORDS: Final = {
    "active": "in active growth",
    "spike_initiation": "spikes are being set",
    "in_bloom": "in bloom",
    "resting": "at rest",
}
SAFETY_WORDS: Final = (
    "Keep products and cans from children, animals and food, nitrates from anything that burns;"
    " protect eyes and hands. The label and local rules come first."
)
SAFETY: Final = f"Safety: {SAFETY_WORDS[:1].lower()}{SAFETY_WORDS[1:]}"


def quantity(value: float) -> str:
    """Return a number with at most four significant digits and no needless zeros."""
    return f"{value:.4g}"


def plain_name(name: str) -> str:
    """Return a product's name as it stands inside a sentence."""
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def amount_words(event: ProgrammeEvent) -> str:
    """Return what goes into the can; empty for water and checks."""
    if event.product_name is None:
        return ""
    name = plain_name(event.product_name)
    stock = event.pre_stock
    if stock is not None:
        strength = (
            f"{quantity(stock.g_per_l)} g/L"
            if stock.g_per_l is not None
            else f"{quantity(stock.ml_per_l or 0.0)} mL/L"
        )
        return f"{quantity(stock.volume_ml)} mL of a pre-stock of {strength} {name}"
    if event.product_mass_g is not None:
        return f"{quantity(event.product_mass_g)} g {name}"
    if event.product_volume_ml is not None:
        return f"{quantity(event.product_volume_ml)} mL {name}"
    return f"no {name}: this water alone is too strong"


def title(event: ProgrammeEvent) -> str:
    """Return an event as a title: what, how much of what, in how much water."""
    words = KIND_WORDS[event.kind]
    if event.volume_l is None:
        return words
    water = f"{quantity(event.volume_l)} L"
    amount = amount_words(event)
    return f"{words}: {amount} in {water}" if amount else f"{words}: {water} plain water"


def strength_words(event: ProgrammeEvent) -> str:
    """Return how strong the can is; empty where nothing is mixed."""
    strength = event.strength
    if strength is None or strength.ec_ms_per_cm is None or strength.meter_ppm is None:
        return ""
    parts = [
        f"{strength.ec_ms_per_cm:.2f} mS/cm",
        f"{strength.meter_ppm:.0f} meter ppm on the {strength.meter_scale} scale",
    ]
    if strength.nitrogen_mg_per_l is not None:
        parts.append(f"{strength.nitrogen_mg_per_l:.0f} mg/L nitrogen")
    if event.predicted_ph is not None:
        parts.append(f"pH {event.predicted_ph:.1f}")
    return ", ".join(parts)


def day_words(event: ProgrammeEvent) -> str | None:
    """Return season and growth; the reason of a feed says the growth itself."""
    growth = None if event.kind == "feed" else GROWTH_WORDS[event.growth]
    words = ", ".join(each for each in (event.season, growth) if each is not None)
    return words[:1].upper() + words[1:] if words else None
