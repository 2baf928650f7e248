"""The working of a blend: the share that each limit leaves, and the analysis by volume."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from service.planning.explain.conductivity import explain_conductivity
from service.planning.explain.speciation import (
    Solution,
    explain_ph,
    molal_lines,
    molal_of,
)
from service.planning.explain.water import known_water_lines, water_component
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.known_water import REFERENCE_CELSIUS
from service.planning.water import FREEZING_POINT
from service.planning.water_blend import SHARE_STEP, Blend, Bound
from service.planning.water_pair import CONDUCTIVITY, LINEAR, WaterPair
from service.reference.components import COMPONENT_COUNT, COMPONENT_NAMES

MIXING: Final = "stumm-morgan-1996"
SHARE: Final = "share_of_first"
OTHER: Final = f"(1 - {SHARE})"


def water_blend_working(pair: WaterPair, bounds: Sequence[Bound], blend: Blend) -> list[Line]:
    """
    Return the working of a blend.

    Parameters
    ----------
    pair : WaterPair
        The two waters.
    bounds : sequence of Bound
        What the blend must keep.
    blend : Blend
        The share that was found.

    Returns
    -------
    list of Line
        The lines; the last are the fields of the answer.
    """
    working = Working()
    known_water_lines(working, pair.first, "first_")
    known_water_lines(working, pair.second, "second_")
    working.part("share of the first water")
    _share_lines(working, pair, bounds, blend)
    working.part("blend")
    for name in LINEAR:
        _linear_lines(working, pair, name, blend.share)
    names = _composition_lines(working, pair, blend.share)
    _state_lines(working, pair, blend.share, names)
    return working.lines


def _share_lines(working: Working, pair: WaterPair, bounds: Sequence[Bound], blend: Blend) -> None:
    """Add the share at which each limit is met, and the one that counts."""
    for bound in bounds:
        name = bound.name.replace(".", "_")
        allowed = working.given(name, bound.allowed, words="as sent")
        if bound.value == CONDUCTIVITY:
            continue
        first, second = (values[bound.value] for values in pair.values)
        if first != second:
            working.computed(
                f"share_that_meets_{name}",
                f"({allowed} - second) / (first - second)",
                unit=NUMBER,
                source=MIXING,
                where={"first": first, "second": second},
            )
    binding = blend.binding
    formula = f"share_that_meets_{binding.replace('.', '_')}" if binding else ""
    rounded = f"floor({formula} / {SHARE_STEP:g} + 1e-9) * {SHARE_STEP:g}"
    met = binding and working.knows(formula)
    if met and np.isclose(working.evaluated(rounded), blend.share, rtol=1e-9):
        working.computed(SHARE, rounded, blend.share, NUMBER)
    elif not bounds or (blend.binding is None and blend.feasible):
        working.given(SHARE, blend.share, NUMBER, "1: the first water alone keeps every limit")
    else:
        words = (
            "largest share that keeps every limit, found by halving and rounded down to 0.01 %; the"
            " values of the blend check it"
            if blend.feasible
            else "share at which the limits are passed least"
        )
        working.solved(SHARE, blend.share, words, None, NUMBER)
    working.answer("share_of_first_percent", f"100 * {SHARE}", 4)


def _linear_lines(working: Working, pair: WaterPair, name: str, share: float) -> None:
    """Add a value of the analysis that mixes by volume."""
    value = pair.value(name, share)
    if not np.isfinite(value):
        return
    where = {
        key: values[name]
        for key, values in zip(("first", "second"), pair.values, strict=True)
        if name in values
    }
    formula = f"{SHARE} * first + {OTHER} * second"
    if share == 1.0:
        formula, where = "first", {"first": where["first"]}
    elif share == 0.0:
        formula, where = "second", {"second": where["second"]}
    working.computed(f"blend_{name}", formula, value, source=MIXING, where=where)
    working.answer(f"blend.{name}", f"blend_{name}", 4)


def _composition_lines(working: Working, pair: WaterPair, share: float) -> dict[int, str]:
    """Add the components of the blend, those that an analysis leaves open included."""
    total = pair.composition(share)
    names = {}
    for component in range(COMPONENT_COUNT):
        terms = [
            f"{part} * {water_component(component, prefix)}"
            for part, prefix in ((SHARE, "first_"), (OTHER, "second_"))
            if working.knows(water_component(component, prefix))
        ]
        if terms:
            names[component] = working.computed(
                f"{COMPONENT_NAMES[component]}_mmol_per_l",
                " + ".join(terms),
                float(total[component]),
            )
    return names


def _state_lines(working: Working, pair: WaterPair, share: float, names: dict[int, str]) -> None:
    """Add pH and conductivity of the blend."""
    temperature = REFERENCE_CELSIUS + FREEZING_POINT
    total = pair.composition(share)
    molal = molal_of(total, temperature)
    ph = pair.ph(share)
    if ph is not None:
        working.part("pH of the blend")
        molal_lines(working, names, REFERENCE_CELSIUS)
        explain_ph(working, Solution(molal, temperature, ph))
        working.answer("blend.ph", "ph", 3)
        working.answer("ph", "ph", 3)
    working.part("conductivity of the blend")
    conductivity = pair.conductivity(share)
    unexplained = (
        share * pair.first.unexplained_ec_ms_per_cm
        + (1.0 - share) * pair.second.unexplained_ec_ms_per_cm
    )
    explain_conductivity(working, molal, "ions_ec", conductivity - unexplained)
    working.computed(
        "blend_ec",
        f"ions_ec + {SHARE} * first_unexplained_ec_ms_per_cm"
        f" + {OTHER} * second_unexplained_ec_ms_per_cm",
        conductivity,
        "mS/cm",
    )
    working.answer("blend.ec_ms_per_cm", "blend_ec", 4)
    working.answer("ec_ms_per_cm", "blend_ec", 4)
