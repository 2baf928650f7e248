"""The working of a dose that is larger than the largest can: one of the equal cans."""

from service.planning.can_split import CanSplit
from service.planning.card import mixing_order
from service.planning.catalogue import Catalogue
from service.planning.explain.can import product_names
from service.planning.explain.doses import dose_lines
from service.planning.explain.working import NUMBER, Working

EACH = "each_can_"


def split_lines(working: Working, split: CanSplit, largest_l: float, catalogue: Catalogue) -> None:
    """
    Add one of the equal cans, planned as a dose of its own, and its fields of the answer.

    Parameters
    ----------
    working : Working
        Holds `volume_l`; receives the lines.
    split : CanSplit
        The cans.
    largest_l : float
        Volume of the largest can [L].
    catalogue : Catalogue
        Tables that the row refers to.
    """
    row, result = split.row, split.result
    working.part("equal cans")
    largest = working.given("largest_can_l", largest_l)
    working.computed("cans", f"-floor(-(volume_l / {largest} - 1e-9))", split.count, NUMBER)
    one = Working(brief=True)
    dose_lines(one, row, result, catalogue)
    working.take(one, EACH, "each can")
    working.part("answer: each can")
    working.answer("split.count", "cans", 12, NUMBER)
    working.answer("split.volume_l", "volume_l / cans", 4)
    for order, slot in enumerate(mixing_order(row, result, catalogue)):
        liquid = catalogue.product_rows[row["product"][slot]].liquid
        kind, strength = ("volume_ml", "ml_per_l") if liquid else ("mass_g", "g_per_l")
        name, at = f"{EACH}{product_names(row, catalogue)[slot]}", f"split.additions.{order}"
        working.answer(f"{at}.{kind}", f"{name}_measured", 4)
        working.answer(f"{at}.exact_{kind}", f"{name}_exact", 4)
        if result["pre_stock_g_per_l"][slot] > 0.0:
            working.answer(f"{at}.pre_stock.{strength}", f"{name}_pre_stock", 4)
            working.answer(f"{at}.pre_stock.volume_ml", f"{name}_pre_stock_ml", 4)
    for field in ("mass_g", "volume_ml"):
        name = f"{EACH}bottle_{field}"
        if working.knows(name):
            working.answer(f"split.acid_{field}", name, 4)
        elif not working.knows(f"{EACH}bottle_mass_g"):
            working.answer(f"split.acid_{field}", "0", 4)
    working.answer("split.predicted_ec_ms_per_cm", f"{EACH}can_ec_ms_per_cm", 3)
