"""The tanks of a stock plan as a picture: how near each is to clouding, warm or cold."""

from service.api.formats.svg_lines import Line, LinesChart, lines_chart
from service.planning.stock_plan_request import StockAnswer
from service.planning.tank_saturation import TankPoint, saturation_temperatures, tank_saturation

CLOUDS = 100.0


def tank_saturation_svg(answer: StockAnswer) -> str | None:
    """
    Return the picture of a stock plan.

    Parameters
    ----------
    answer : StockAnswer
        The plan.

    Returns
    -------
    str or None
        SVG, complete; None where there are no tanks.
    """
    factor = answer.plan.factor
    if factor is None:
        return None
    kept = answer.filling.temperatures_celsius
    lines, said = [], []
    for tank in answer.tanks:
        points = tank_saturation(tank.products, answer.filling, factor)
        if len(points) < 2:
            continue
        lines.append(
            Line(tank.name, f"tank {tank.name}", [(each.celsius, each.percent) for each in points])
        )
        said.append(_in_words(tank.name, points))
    if not lines:
        return None
    followed = saturation_temperatures(kept[0], kept[-1])
    # The ends of the planned range stand in the key; the axis has the round numbers.
    ticks = [each for each in followed if each in (followed[0], followed[-1]) or each % 5.0 == 0.0]
    title = f"How near the tanks are to clouding, at {factor:.4g} times strength"
    return lines_chart(
        LinesChart(
            lines=lines,
            ticks=ticks,
            kept=(max(kept[0], ticks[0]), min(kept[-1], ticks[-1])),
            limit=CLOUDS,
            title=title,
            description=" ".join(said),
            across_words="Temperature of the tank (°C)",
            up_words="Strength, % of that at which it clouds",
            kept_words=f"planned: {kept[0]:.3g} to {kept[-1]:.3g} °C",
            limit_words="above this line something may come out",
        )
    )


def _in_words(name: str, points: tuple[TankPoint, ...]) -> str:
    """Return a line of the picture for those who do not see it."""
    worst = max(points, key=lambda point: point.percent)
    first, last = points[0], points[-1]
    solid = "" if worst.solid is None else f", where {worst.solid.replace('_', ' ')} is nearest"
    return (
        f"Tank {name}: {first.percent:.0f} % at {first.celsius:.3g} °C, {last.percent:.0f} % at"
        f" {last.celsius:.3g} °C; the highest is {worst.percent:.0f} % at {worst.celsius:.3g} °C"
        f"{solid}."
    )
