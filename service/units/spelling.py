"""How one unit may be spelled, and what is assumed where a text names several units."""

from dataclasses import dataclass
from typing import Final

US_CUSTOMARY: Final = "us_customary_assumed"
SPOON: Final = "customary_spoon_assumed"
PPM_AS_MASS: Final = "ppm_read_as_mg_per_l"
AS_CALCIUM_CARBONATE: Final = "read_as_caco3"
ACID_CAPACITY: Final = "read_as_acid_capacity"
HARDNESS_AMOUNT: Final = "read_as_calcium_and_magnesium"
ONE_CHARGE: Final = "read_as_one_charge_per_mole"

ASSUMPTION_CODES: Final = (
    US_CUSTOMARY,
    SPOON,
    PPM_AS_MASS,
    AS_CALCIUM_CARBONATE,
    ACID_CAPACITY,
    HARDNESS_AMOUNT,
    ONE_CHARGE,
)


@dataclass(frozen=True, slots=True)
class Reading:
    """How a unit with several meanings was read, and what to write for another meaning."""

    code: str
    read_as: str
    hint: str


def us(noun: str, imperial: str) -> Reading:
    """Read a customary unit as the US one."""
    return Reading(US_CUSTOMARY, f"US {noun}", f"write '{imperial}' for imperial")


SPOON_HINT: Final = "a metric spoon of 5 or 15 mL holds 1.4 % more; write mL where it matters"


@dataclass(frozen=True, slots=True)
class UnitSpelling:
    """Texts of one unit: `symbols` match exactly, `words` without regard to capitals."""

    pint_text: str
    symbols: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    multiplier: float = 1.0
    reading: Reading | None = None


def micro(*symbols: str) -> tuple[str, ...]:
    """Spell micro with u, the micro sign and the Greek letter."""
    return tuple(s.replace("u", sign, 1) for s in symbols for sign in ("u", "\u00b5", "\u03bc"))
