"""
What the roots stand in: how large it is, how much water it holds, and whose roots they are.

A request may say one thing in two places (`container` and `plants`); what agrees is taken, what
does not is refused.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.notes import Notes, RefusalError
from service.planning.profiles import EC_CEILING, SIZE_METER_PPM
from service.planning.requests import Names
from service.planning.targets import DOSING_SCALE
from service.planning.volumes import POT_LITRES_PER_CUBIC_DECIMETRE, pot_volume
from service.reference.media import media

RESERVOIR_SHARE: Final = 0.12
"""Water in the reservoir of a semi-hydroponic pot over the pot's volume; common practice."""

SHAPES_AGREE: Final = 1.6
"""Factor up to which a stated volume and that of the diameter count as one pot."""

LARGEST_SHARE_HELD: Final = 0.95
"""Most of a pot's volume that can be water."""

MEDIUM_WORDS: Final = {
    "bark": "bark",
    "sphagnum": "sphagnum moss",
    "bark_and_sphagnum": "bark and sphagnum moss",
    "clay_pebbles": "clay pebbles",
    "pumice": "pumice",
}
MEDIUM_OF_SETUP: Final = {
    "wet_dry_pot": "bark",
    "semi_hydroponic_pot": "clay_pebbles",
    "mount": "none",
}


@dataclass(frozen=True)
class Container:
    """
    One of the pots or mounts that are treated alike.

    Attributes
    ----------
    profile : int
        Row of the plant's profile.
    size, setup, medium, refill : str
        Words of the contract.
    plant_count : int
        How many there are.
    pot_volume_l : float
        Volume of the empty pot; 0 for a mount.
    diameter_cm : float
        Upper diameter of a pot of that volume; 0 for a mount.
    held_l : float
        Water that it holds after draining, a reservoir included; 0 for a mount.
    efficiency : float
        Share of the passing water that rinses; 1 for a mount.
    ceiling_ms_per_cm : float
        The most that this plant and size are fed, as a conductivity.
    """

    profile: int
    size: str
    setup: str
    medium: str
    refill: str
    plant_count: int
    pot_volume_l: float
    diameter_cm: float
    held_l: float
    efficiency: float
    ceiling_ms_per_cm: float

    @property
    def is_mount(self) -> bool:
        """Whether nothing holds water."""
        return self.setup == "mount"


def named_profile(plants: Any, names: Names, notes: Notes) -> int:
    """
    Return the row of the profile that a request names.

    Parameters
    ----------
    plants : object or None
        `plants` of the contract.
    names : Names
        Knows the profiles.
    notes : Notes
        Receives what is assumed and cautioned.

    Returns
    -------
    int
        Row of the profile table.
    """
    profile = None if plants is None else plants.profile
    if profile is None:
        notes.assume("profile_assumed")
        return names.default_profile
    position = names.profile_position(profile)
    if position is None:
        notes.caution("unknown_plant")
        return names.weakest_profile
    return position


def understood_container(
    container: Any, plants: Any, profile: int, catalogue: Catalogue, notes: Notes
) -> Container:
    """
    Read `container` and `plants` as one.

    Parameters
    ----------
    container : object
        `container` of the contract.
    plants : object or None
        `plants` of the contract.
    profile : int
        Row of the plant's profile.
    catalogue : Catalogue
        Knows the profile.
    notes : Notes
        Receives what is assumed.

    Returns
    -------
    Container
        Everything filled in.

    Raises
    ------
    RefusalError
        If the size of a pot is not known, or two statements do not agree.
    """
    size = None if plants is None else plants.size
    if size is None:
        size = "mini"
        notes.assume("size_assumed")
    setup = _one("setup", container.setup, plants, "setup")
    if setup is None:
        setup = "wet_dry_pot"
        notes.assume("setup_assumed")
    medium = _one("medium", container.medium, plants, "medium")
    count = _one("number of plants", container.plant_count, plants, "count")
    if count is None:
        count = 1
        notes.assume("one_pot_assumed")
    refill = None if plants is None else plants.refill
    if setup == "semi_hydroponic_pot" and refill is None:
        notes.assume("refill_assumed")
    row = catalogue.profile_table[profile]
    ceiling = float(row[SIZE_METER_PPM + rows.SIZES.index(size)] / DOSING_SCALE)
    ceiling = min(ceiling, float(row[EC_CEILING]))
    if setup == "mount":
        pot = (
            container.diameter_cm or container.volume_l or getattr(plants, "pot_diameter_cm", None)
        )
        if pot is not None:
            raise RefusalError("container_contradictory", what="A mount has no pot.")
        return Container(
            profile=profile,
            size=size,
            setup=setup,
            medium=medium or "none",
            refill="drained",
            plant_count=int(count),
            pot_volume_l=0.0,
            diameter_cm=0.0,
            held_l=0.0,
            efficiency=1.0,
            ceiling_ms_per_cm=ceiling,
        )
    if medium == "none":
        raise RefusalError("container_contradictory", what="A pot without a medium holds nothing.")
    if medium is None:
        medium = MEDIUM_OF_SETUP[setup]
        notes.assume("medium_assumed")
    volume, diameter = _size(container, plants, notes)
    properties = media()[medium]
    share = properties.held_share
    if setup == "semi_hydroponic_pot":
        share = min(share + RESERVOIR_SHARE, LARGEST_SHARE_HELD)
    notes.assume(
        "pot_holds_water",
        medium=MEDIUM_WORDS[medium],
        share_percent=100.0 * share,
        efficiency_percent=100.0 * properties.leaching_efficiency,
    )
    return Container(
        profile=profile,
        size=size,
        setup=setup,
        medium=medium,
        refill=refill or "drained",
        plant_count=int(count),
        pot_volume_l=volume,
        diameter_cm=diameter,
        held_l=share * volume,
        efficiency=properties.leaching_efficiency,
        ceiling_ms_per_cm=ceiling,
    )


def _one(what: str, here: Any, plants: Any, name: str) -> Any:
    """Return what `container` or `plants` says; refuse when both speak and disagree."""
    there = None if plants is None else getattr(plants, name)
    if here is not None and there is not None and here != there:
        detail = f"container and plants name a different {what}: {here} and {there}."
        raise RefusalError("container_contradictory", what=detail)
    return there if here is None else here


def _size(container: Any, plants: Any, notes: Notes) -> tuple[float, float]:
    """Return volume and upper diameter of the pot."""
    diameter = _one("pot diameter", container.diameter_cm, plants, "pot_diameter_cm")
    volume = container.volume_l
    if volume is None and diameter is None:
        raise RefusalError("container_unknown")
    if volume is None:
        volume = float(pot_volume(diameter))
        notes.assume("pot_volume_from_diameter", diameter=diameter, pot_volume=volume)
        return volume, float(diameter)
    shaped = 10.0 * float(np.cbrt(volume / POT_LITRES_PER_CUBIC_DECIMETRE))
    if diameter is None:
        return float(volume), shaped
    ordinary = float(pot_volume(diameter))
    if not 1.0 / SHAPES_AGREE <= volume / ordinary <= SHAPES_AGREE:
        detail = f"A pot of {diameter:g} cm holds about {ordinary:.2g} L, not {volume:g} L."
        raise RefusalError("container_contradictory", what=detail)
    return float(volume), float(diameter)


def understood_inputs(container: Container, catalogue: Catalogue) -> dict[str, Any]:
    """
    Return `plants` and `container` as they were understood.

    Parameters
    ----------
    container : Container
        The container.
    catalogue : Catalogue
        Knows the profile.

    Returns
    -------
    dict
        Nested by the names of the contract.
    """
    plants = {"profile": catalogue.profile_names[container.profile], "size": container.size}
    if container.setup == "semi_hydroponic_pot":
        plants["refill"] = container.refill
    said: dict[str, Any] = {
        "setup": container.setup,
        "medium": container.medium,
        "plant_count": container.plant_count,
    }
    if not container.is_mount:
        said |= {
            "volume_l": round(container.pot_volume_l, 4),
            "diameter_cm": round(container.diameter_cm, 2),
        }
    return {"plants": plants, "container": said}
