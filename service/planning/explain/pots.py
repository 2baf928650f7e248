"""The working of what a pot holds, for flushes and outlooks alike."""

from typing import Final

from service.planning.containers import LARGEST_SHARE_HELD, RESERVOIR_SHARE, Container
from service.planning.explain.working import NUMBER, Working
from service.planning.volumes import POT_LITRES_PER_CUBIC_DECIMETRE
from service.reference.media import media

LEACHING: Final = "leaching-model-article"


def pot_lines(working: Working, pot: Container, diameter: float | None) -> None:
    """
    Add the pot: its volume, the water that it holds, how well it is rinsed.

    Parameters
    ----------
    working : Working
        Receives the lines `pot_volume_l`, `held_l` and `efficiency`; none for a mount but the
        count.
    pot : Container
        The pot.
    diameter : float or None
        Upper diameter where the volume follows from it [cm].
    """
    working.part("pot")
    working.given("plant_count", pot.plant_count, NUMBER)
    working.known(
        "strongest_feed_ms_per_cm",
        pot.ceiling_ms_per_cm,
        "most that this plant and size are fed: meter ppm / 700, and the conductivity ceiling",
        None,
    )
    if pot.is_mount:
        return
    if diameter is not None:
        across = working.given("diameter_cm", diameter)
        working.computed(
            "pot_volume_l",
            f"{POT_LITRES_PER_CUBIC_DECIMETRE:g} * ({across} / 10) ** 3",
            pot.pot_volume_l,
        )
    else:
        working.given("pot_volume_l", pot.pot_volume_l)
    medium = media()[pot.medium]
    source = medium.sources[0] if medium.sources else None
    share = working.known(
        "held_share", medium.held_share, f"water held by {pot.medium}", source, NUMBER
    )
    formula = share
    if pot.setup == "semi_hydroponic_pot":
        formula = f"min({share} + {RESERVOIR_SHARE:g}, {LARGEST_SHARE_HELD:g})"
    working.computed("held_l", f"{formula} * pot_volume_l", pot.held_l)
    working.known(
        "efficiency",
        pot.efficiency,
        f"share of what passes that mixes with the water in {pot.medium}",
        source,
        NUMBER,
    )
