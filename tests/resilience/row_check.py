"""Whether the answer to a row says what an answer may say, and keeps the row's ceilings."""

from collections import Counter
from collections.abc import Mapping
from typing import Any, Final

from tests.resilience.ceilings import (
    MOST_G_PER_L,
    MOST_ML_PER_L,
    SLACK,
    Ceilings,
    content_mg_per_unit,
    printed_bound,
)
from tests.resilience.dose_rows import DoseRow

STATUSES: Final = ("ok", "infeasible", "rejected")
AMOUNTS: Final = ("product_mass_g", "product_volume_ml", "acid_volume_ml", "acid_mass_g")
UNCONFIRMED: Final = "forward_check_failed"


def _number(answer: Mapping[str, Any], name: str) -> float | None:
    value = answer.get(name)
    if value is None or value == "":
        return None
    return float(value)


class RowCheck:
    """
    Judge rows of answers and count their codes.

    Parameters
    ----------
    products : list of dict
        Entries of `/v1/products`.
    """

    def __init__(self, products: list[dict[str, Any]]) -> None:
        self.contents = {each["key"]: content_mg_per_unit(each) for each in products}
        self.codes: Counter[str] = Counter()
        self.statuses: Counter[str] = Counter()
        self.compared = 0

    def fault_of(self, sent: DoseRow, answer: Mapping[str, Any]) -> str | None:
        """Return what is wrong with the answer to a row, or None."""
        status = answer.get("status")
        if status not in STATUSES:
            return f"status {status!r}"
        self.statuses[status] += 1
        self.codes.update(self._codes(answer))
        if status == "rejected":
            return None if answer["problems"] else "rejected without a problem"
        if status == "infeasible":
            return self._infeasible(answer)
        return self._mixed(sent, answer)

    def _codes(self, answer: Mapping[str, Any]) -> list[str]:
        problems = answer["problems"]
        if isinstance(problems, str):
            # A table holds the words only.
            return []
        return [problem["code"] for problem in problems]

    def _infeasible(self, answer: Mapping[str, Any]) -> str | None:
        poured = [name for name in AMOUNTS if (_number(answer, name) or 0.0) > 0.0]
        if poured:
            return f"infeasible, and yet {poured} to pour"
        if not answer["cautions"]:
            return "infeasible without a caution that says why"
        self.codes[f"infeasible: {answer['binding_limit']}"] += 1
        return None

    def _mixed(self, sent: DoseRow, answer: Mapping[str, Any]) -> str | None:
        # In a table `volume_l` is the caller's own text.
        volume = _number(answer, "solution_volume_l" if "place" in answer else "volume_l")
        if volume is None or not volume > 0.0:
            return f"ok without a volume ({volume})"
        if _number(answer, "predicted_ec_ms_per_cm") is None:
            return "ok without a conductivity"
        for name in AMOUNTS:
            if (_number(answer, name) or 0.0) < 0.0:
                return f"{name} is negative"
        mass, millilitres = _number(answer, "product_mass_g"), _number(answer, "product_volume_ml")
        if mass is not None and mass > (1 + SLACK) * MOST_G_PER_L * volume:
            return f"{mass} g in {volume} L"
        if millilitres is not None and millilitres > (1 + SLACK) * MOST_ML_PER_L * volume:
            return f"{millilitres} mL in {volume} L"
        if sent.ceilings is None:
            return None
        amount = mass if millilitres is None else millilitres
        brought = self.contents.get(str(sent.fields.get("product")), {})
        return self._above(
            sent.ceilings, answer, brought, None if amount is None else amount / volume
        )

    def _above(
        self,
        ceilings: Ceilings,
        answer: Mapping[str, Any],
        brought: Mapping[str, float],
        per_litre: float | None,
    ) -> str | None:
        """Return the ceiling that a can is above, or None."""
        self.compared += 1
        conductivity = _number(answer, "predicted_ec_ms_per_cm")
        nitrogen = _number(answer, "nitrogen_mg_per_l")
        slack = 1 + SLACK
        if conductivity is not None and conductivity > printed_bound(
            slack * ceilings.ec_ms_per_cm, 3
        ):
            return f"{conductivity} mS/cm above {ceilings.ec_ms_per_cm}"
        if nitrogen is not None and nitrogen > printed_bound(slack * ceilings.nitrogen_mg_per_l, 4):
            return f"{nitrogen} mg/L nitrogen above {ceilings.nitrogen_mg_per_l}"
        if per_litre is None:
            return None
        for name, content in brought.items():
            ceiling = (
                ceilings.reduced_nitrogen_mg_per_l
                if name == "reduced_nitrogen"
                else ceilings.micronutrients_mg_per_l[name]
            )
            if content * per_litre > printed_bound(slack * ceiling, 4):
                return f"{content * per_litre} mg/L {name} above {ceiling}"
        return None
