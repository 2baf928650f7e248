"""Every product in every setup with every acid and every water: answered, and why not where not."""

from collections import Counter
from collections.abc import Iterator
from itertools import product as combinations
from typing import Any, Final

from tests.resilience.ceilings import profile_ceilings
from tests.resilience.dose_rows import DoseRow
from tests.resilience.installation import Installation
from tests.resilience.outcome import Outcome
from tests.resilience.problem_documents import fault_of
from tests.resilience.row_check import RowCheck

PART: Final = "catalogue grid"
SETUPS: Final = ("wet_dry_pot", "semi_hydroponic_pot", "mount")
ACIDS_WITHOUT: Final = None
TARGET_PH: Final = 5.8
SHOWN_CODES: Final = 12


def grid(running: Installation) -> Iterator[DoseRow]:
    """Return all combinations, each for a large moth orchid, and without an acid too."""
    plants = {each["key"]: each for each in running.listed("plants")}
    ceilings = profile_ceilings(plants["moth_orchid"])
    acids = [ACIDS_WITHOUT, *(each["key"] for each in running.listed("acids"))]
    for product, setup, acid, water in combinations(
        (each["key"] for each in running.listed("products")),
        SETUPS,
        acids,
        (each["key"] for each in running.listed("waters")),
    ):
        fields: dict[str, Any] = {
            "id": f"{product} {setup} {acid} {water}",
            "plants.profile": "moth_orchid",
            "plants.size": "large",
            "plants.setup": setup,
            "air.humidity_percent": 60,
            "air.temperature_celsius": 22,
            "product": product,
            "water": water,
            "volume_l": 10,
        }
        if acid is not None:
            fields |= {"target_ph": TARGET_PH, "acid.kind": acid}
        yield DoseRow(fields, ceilings)


def words_of(answer: dict[str, Any], texts: dict[str, str]) -> tuple[list[str], list[str]]:
    """Return the codes of a row and those that lack words."""
    codes = [each["code"] for each in answer["problems"]]
    lacking = [each["code"] for each in answer["problems"] if not each["detail"]]
    for code in answer["cautions"]:
        codes.append(code)
        if not texts.get(code):
            lacking.append(code)
    return codes, lacking


def run(running: Installation) -> Outcome:
    """
    Ask for every combination in one batch.

    Parameters
    ----------
    running : Installation
        The service.
    """
    outcome = Outcome(PART, "combinations")
    rows = list(grid(running))
    check = RowCheck(running.listed("products"))
    refused: Counter[str] = Counter()
    cautioned: Counter[str] = Counter()
    with running.client() as client:
        answer = client.post("/v1/doses/batch", json={"rows": [row.nested() for row in rows]})
    fault = fault_of(answer.status_code, answer.headers.get("content-type", ""), answer.content)
    if fault is not None or answer.status_code != 200:
        outcome.fault(fault or answer.text[:600])
        return outcome.finished()
    document = answer.json()
    texts = {each["code"]: each["message"] for each in document["cautions"]}
    outcome.tried = len(document["rows"])
    if outcome.tried != len(rows):
        outcome.fault(f"{len(rows)} rows in, {outcome.tried} out")
    for row, each in zip(rows, document["rows"], strict=False):
        fault = check.fault_of(row, each)
        codes, lacking = words_of(each, texts)
        if fault is None and lacking:
            fault = f"no words for {lacking}"
        if fault is None and each["status"] != "ok" and not codes:
            fault = f"{each['status']} without a code"
        if fault is not None:
            outcome.fault(f"{fault} | {row.nested()}")
        (cautioned if each["status"] != "rejected" else refused).update(codes)
    outcome.remarks += [
        ", ".join(f"{check.statuses[each]:,} {each}" for each in sorted(check.statuses)),
        "rejected: " + _counted(refused),
        "cautions: " + _counted(cautioned),
    ]
    return outcome.finished()


def _counted(codes: Counter[str]) -> str:
    shown = ", ".join(f"`{code}` {count:,}" for code, count in codes.most_common(SHOWN_CODES))
    more = len(codes) - SHOWN_CODES
    return shown + (f" and {more} more codes" if more > 0 else "")
