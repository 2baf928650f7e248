"""From a planned flush to the numbers, reasons and steps of its answer."""

from typing import Any, Final

from service.planning.catalogue import Catalogue
from service.planning.containers import understood_inputs
from service.planning.drainage_reading import RISING_UP_TO, STEADY_UP_TO
from service.planning.flush import MOST_POT_VOLUMES, FlushPlan
from service.reference.media import media
from service.reference.plants import plants

WATER_MODELS: Final = ("parkhurst-appelo-2013", "onsager-1927", "kell-1975")
POT_MODELS: Final = ("ali-irrigation-examples", "leaching-model-article")

BAND_WORDS: Final = {
    "steady": f"up to {STEADY_UP_TO:g} times the feed the salt of the pot is steady",
    "rising": f"up to {RISING_UP_TO:g} times the feed salt is gathering",
    "flush": f"above {RISING_UP_TO:g} times the feed the pot is flushed",
}


def flush_fields(plan: FlushPlan) -> dict[str, Any]:
    """
    Return the flat results of a flush.

    Parameters
    ----------
    plan : FlushPlan
        The plan.

    Returns
    -------
    dict
        By the names of the answer.
    """
    pot = plan.container
    pour = None
    if plan.volume_l is not None and plan.repeats:
        pour = plan.volume_l / plan.repeats
    watering = None if plan.watering_volume_l is None else 1000.0 * plan.watering_volume_l
    return {
        "status": "ok" if plan.feasible else "infeasible",
        "flush_volume_l": plan.total_volume_l,
        "flush_volume_per_pot_l": plan.volume_l,
        "pour_volume_per_pot_l": pour,
        "repeats": plan.repeats,
        "leaching_fraction": plan.leaching_fraction,
        "watering_volume_per_pot_ml": watering,
        "band": plan.band,
        "drainage_ec_ms_per_cm": plan.drainage_ec_ms_per_cm,
        "target_ec_ms_per_cm": plan.target_ec_ms_per_cm,
        "feed_ec_ms_per_cm": plan.feed_ec_ms_per_cm,
        "water_ec_ms_per_cm": plan.water.ec_ms_per_cm,
        "held_water_per_pot_l": None if pot.is_mount else pot.held_l,
        "largest_water_share_percent": (
            None if plan.feasible else plan.largest_share_of_water_percent
        ),
    }


def flush_reasons(plan: FlushPlan) -> list[str]:
    """
    Return why the flush is what it is.

    Parameters
    ----------
    plan : FlushPlan
        The plan.

    Returns
    -------
    list of str
        Sentences, in the order in which it was found.
    """
    pot, water = plan.container, plan.water.ec_ms_per_cm
    reasons = []
    if plan.band is not None and plan.drainage_ec_ms_per_cm is not None:
        ratio = plan.drainage_ec_ms_per_cm / plan.feed_ec_ms_per_cm
        reasons.append(
            f"The drainage reads {plan.drainage_ec_ms_per_cm:.2f} mS/cm at 25 °C, {ratio:.2g} times"
            f" the feed: {BAND_WORDS[plan.band]} (common practice)."
        )
    if not plan.feasible:
        reasons.append(_why_not(plan))
    elif pot.is_mount:
        reasons.append(
            "A mount keeps no water in which salt could gather: two rinses carry away what dried"
            " on the roots."
        )
    elif plan.volume_l == 0.0:
        reasons.append("The drainage is at the target already: no flush is needed.")
    elif plan.drainage_ec_ms_per_cm is None:
        reasons.append(
            "Without a reading the flush is twice the volume of the pot, the usual advice for a"
            " house plant every four to six months."
        )
    else:
        reasons.append(
            f"A pot holds {pot.held_l:.2g} L of water; water of {water:.2f} mS/cm has to pass until"
            f" {plan.drainage_ec_ms_per_cm:.2f} has come down to"
            f" {plan.target_ec_ms_per_cm:.2f} mS/cm, and {100.0 * pot.efficiency:.0f} % of it mixes"
            " with what the medium holds."
        )
    reasons.append(_balance(plan))
    return reasons


def _why_not(plan: FlushPlan) -> str:
    water, target = plan.water.ec_ms_per_cm, plan.target_ec_ms_per_cm
    if water >= target:
        start = (
            f"The water has {water:.2f} mS/cm itself: it never brings the pot to {target:.2f} mS/cm"
        )
    else:
        start = (
            f"The water, {water:.2f} mS/cm, is so near the target that"
            f" {plan.needed_volume_l:.1f} L would have to pass a pot of"
            f" {plan.container.pot_volume_l:.2g} L"
        )
    return (
        f"{start}. Flush with rain or reverse osmosis water, or with a blend that holds at most"
        f" {plan.largest_share_of_water_percent:.0f} % of this one."
    )


def _balance(plan: FlushPlan) -> str:
    if plan.container.is_mount:
        return "All that is poured over a mount runs off, so nothing has to drain beyond it."
    share = 100.0 * plan.leaching_fraction
    if plan.leaching_fraction >= 1.0:
        return (
            "The feed is as strong as the drainage may be: only plain water between the feeds keeps"
            " the balance."
        )
    return (
        f"Salt that comes in must drain out: a feed of {plan.feed_ec_ms_per_cm:.2f} over an allowed"
        f" drainage of {plan.allowed_ec_ms_per_cm:.2f} mS/cm is {share:.0f} % of every watering."
    )


def conflicts(plan: FlushPlan) -> list[dict[str, Any]]:
    """
    Return which limits collide.

    Parameters
    ----------
    plan : FlushPlan
        The plan.

    Returns
    -------
    list of dict
        Empty for a feasible plan.
    """
    if plan.feasible:
        return []
    if plan.water.ec_ms_per_cm >= plan.target_ec_ms_per_cm:
        limit = {
            "limit": "water.ec_ms_per_cm",
            "needed": plan.target_ec_ms_per_cm,
            "allowed": plan.water.ec_ms_per_cm,
        }
    else:
        limit = {
            "limit": "flush_volume_per_pot_l",
            "needed": plan.needed_volume_l,
            "allowed": MOST_POT_VOLUMES * plan.container.pot_volume_l,
        }
    return [{**limit, "message": _why_not(plan)}]


def nearest(plan: FlushPlan, catalogue: Catalogue) -> dict[str, Any] | None:
    """
    Return the fields of a request that would be feasible.

    Parameters
    ----------
    plan : FlushPlan
        The plan.
    catalogue : Catalogue
        Knows the presets.

    Returns
    -------
    dict or None
        Another water; None for a feasible plan, or where even the purest is too salty.
    """
    if plan.feasible or plan.target_ec_ms_per_cm <= 2.0 * PUREST_CONDUCTIVITY:
        return None
    return {"water": PUREST} if PUREST in catalogue.water_rows else None


PUREST: Final = "reverse_osmosis"
PUREST_CONDUCTIVITY: Final = 0.03
"""Conductivity that reverse osmosis water does not exceed [mS/cm]; common practice."""


def flush_steps(plan: FlushPlan) -> list[dict[str, Any]]:
    """
    Return what to do at the bench.

    Parameters
    ----------
    plan : FlushPlan
        The plan.

    Returns
    -------
    list of dict
        Steps in order; none where there is nothing to do.
    """
    if not plan.feasible or not plan.volume_l or not plan.repeats:
        return []
    pot = plan.container
    pour = 1000.0 * plan.volume_l / plan.repeats
    if pot.is_mount:
        doings: list[tuple[str, float | None, str | None]] = [
            ("Spray each mount with plain water until it runs off.", round(pour), "mL"),
            ("Wait two minutes and spray it again.", round(pour), "mL"),
            ("Let it dry as usual before the next feed.", None, None),
        ]
    elif pot.setup == "semi_hydroponic_pot":
        doings = [
            ("Empty the reservoir of every pot.", None, None),
            ("Fill each pot with plain water and let it stand five minutes.", round(pour), "mL"),
            ("Empty it; repeat as often as `repeats` says.", float(plan.repeats), None),
            ("Measure the last drainage: it should be at the target.", None, None),
            ("Fill the reservoir with fresh feed.", None, None),
        ]
    else:
        doings = [
            ("Wet the medium all through with plain water and let it drain.", None, None),
            (
                "Pour plain water slowly over the whole surface of each pot.",
                round(pour),
                "mL",
            ),
        ]
        if plan.repeats > 1:
            doings.append(
                (
                    "Wait ten minutes, so that the salt inside the pieces comes out; repeat as"
                    " often as `repeats` says.",
                    float(plan.repeats),
                    None,
                )
            )
        doings += [
            ("Let it drain and empty the saucer.", None, None),
            ("Measure the last drainage: it should be at the target.", None, None),
        ]
    return [
        {"order": order, "instruction": words, "quantity": quantity, "unit": unit}
        for order, (words, quantity, unit) in enumerate(doings, 1)
    ]


def flush_inputs(plan: FlushPlan, catalogue: Catalogue) -> dict[str, Any]:
    """
    Return the request as it was understood.

    Parameters
    ----------
    plan : FlushPlan
        The plan.
    catalogue : Catalogue
        Knows the profile.

    Returns
    -------
    dict
        Nested by the names of the contract.
    """
    inputs = understood_inputs(plan.container, catalogue)
    if plan.drainage_ec_ms_per_cm is not None:
        inputs["reading"] = {"kind": "drainage", "ec_ms_per_cm": plan.drainage_ec_ms_per_cm}
    inputs["target"] = {"ec_ms_per_cm": plan.target_ec_ms_per_cm}
    inputs["feed_ec_ms_per_cm"] = plan.feed_ec_ms_per_cm
    inputs["water"] = dict(plan.water.analysis)
    return inputs


def pot_sources(plan: FlushPlan, catalogue: Catalogue) -> list[str]:
    """
    Return the keys of the sources of the numbers.

    Parameters
    ----------
    plan : FlushPlan
        The plan.
    catalogue : Catalogue
        Knows the profile.

    Returns
    -------
    list of str
        Keys of `/v1/sources`, each once.
    """
    return sources_of_pot(
        plan.container.medium, catalogue.profile_names[plan.container.profile], flush=True
    )


def sources_of_pot(medium: str, profile: str, *, flush: bool) -> list[str]:
    """
    Return the keys of the sources behind a medium, a profile and the habits of flushing.

    Parameters
    ----------
    medium : str
        Word of the contract.
    profile : str
        Name of the profile.
    flush : bool
        Whether the usual flush of a house plant plays a part.

    Returns
    -------
    list of str
        Keys of `/v1/sources`, each once.
    """
    keys = dict.fromkeys(("common-practice", "prohaska-2022"))
    if medium in media():
        keys |= dict.fromkeys(media()[medium].sources)
    known = plants().get(profile)
    if known is not None:
        keys[known.ec_ceiling_ms_per_cm.provenance.source] = None
        keys |= dict.fromkeys(
            limit.provenance.source for limit in known.meter_ceilings_ppm.values()
        )
    if flush:
        keys["uc-anr-soluble-salts"] = None
    return list(keys)
