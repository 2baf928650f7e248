"""What is done at the bench for a batch, as an amount and its words, alike on every sheet."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from service.api.batch import Batch
from service.api.row_reader import RowOutcome
from service.planning import rows
from service.planning.card import acid_portion, additions
from service.planning.cautions import CAUTIONS, Notice, caution_bit, notices
from service.planning.mix_cans import Filling
from service.planning.mix_card import acid_to_add
from service.planning.mixes import SharedMix

LONGEST_ID: Final = 16
OK: Final = rows.STATUSES.index("ok")
BENCH_NOTES: Final = (
    "pre_stock",
    "acid_pre_dilution",
    "urea_not_on_the_meter",
    "brushite_may_form_open",
)
"""Notes of severity `info` that change what is done at the bench."""

OF_WEIGHING: Final = int(
    caution_bit("pre_stock") | caution_bit("acid_pre_dilution") | caution_bit("nothing_to_measure")
)
"""Cautions of a row that its mix answers for."""

HALVES: Final = ": half, wait 15 min, measure, then the rest"


@dataclass(frozen=True)
class BenchLine:
    """
    One thing that goes into a can.

    Attributes
    ----------
    amount : str
        With its unit; empty where there is nothing to measure.
    words : str
        Of what, and how.
    """

    amount: str
    words: str


@dataclass(frozen=True)
class SharedStock:
    """
    A weak stock that several cans take from; a litre of it is made.

    Attributes
    ----------
    product, strength, amount : str
        Name, g/L or mL/L, and what a litre takes.
    needed_ml : float
        What all cans take together.
    users : list of str
        Names of the cans.
    """

    product: str
    strength: str
    amount: str
    needed_ml: float
    users: list[str]


def printable(line: str) -> str:
    """Return a line without signs that would break it, or that a terminal would obey."""
    return "".join(sign if sign.isprintable() else " " for sign in line)


def row_name(batch: Batch, index: int) -> str:
    """Return how a sheet calls a row: by its id, or by its place."""
    return printable(batch.outcomes[index].id or f"{index + 1}")[:LONGEST_ID]


def bench_notes(bits: int) -> list[Notice]:
    """Return the notes that somebody who mixes must know, without what can be read at leisure."""
    return [
        each
        for each in notices(bits, CAUTIONS)
        if each.severity != "info" or each.code in BENCH_NOTES
    ]


def refusal_words(answer: dict[str, Any]) -> str:
    """Return why the can of an infeasible row is not to be mixed, and what would help."""
    share = answer["feasible_water_share_percent"]
    if share is None:
        return "the acid brings too much phosphorus; take another"
    return f"water too strong; at most {share:.0f} % of it, the rest pure"


def problem_lines(outcome: RowOutcome) -> list[str]:
    """Return what is wrong with a row that could not be read, each fault with its field."""
    lines = []
    for each in outcome.problems:
        name = (each.pointer or "#").removeprefix("#").strip("/").replace("/", ".")
        lines.append(printable(f"{name}: {each.detail}" if name else each.detail))
    return lines


def row_lines(batch: Batch, index: int) -> list[BenchLine]:
    """Return what goes into the own can of a row, in order."""
    row, result = batch.requests[index], batch.results[index]
    lines = [_added(each, batch) for each in additions(row, result, batch.catalogue)]
    acid = acid_portion(row, result)
    if acid is not None and acid["amount"] > 0.0:
        halved = 0.0 < acid["first"] < acid["amount"]
        lines.append(BenchLine(acid["amount_text"], acid["name"] + (HALVES if halved else "")))
    return lines or [BenchLine("", "plain water")]


def can_lines(batch: Batch, mix: SharedMix, filling: Filling) -> list[BenchLine]:
    """Return what goes into one can of a shared mix, in order."""
    acid = acid_to_add(filling)
    if mix.source is None:
        listed = additions(filling.request, filling.result, batch.catalogue)
        lines = [_added(each, batch) for each in listed]
        if acid is not None:
            lines.append(BenchLine(acid["amount_text"], acid["name"] + HALVES))
        return lines
    lines = [BenchLine(f"{filling.volume_l - filling.portion_l:.4g} L", "water")]
    if acid is not None:
        lines.append(BenchLine(acid["amount_text"], f"{acid['name']} into this water, stir"))
    lines.append(BenchLine(f"{filling.portion_l:.4g} L", f"of mix {mix.source + 1}"))
    return lines


def mix_conductivity(mix: SharedMix) -> float:
    """Return the conductivity of a mix [mS/cm]."""
    return float(mix.fillings[0].result["predicted_ec_ms_per_cm"])


def mix_ph(mix: SharedMix) -> float | None:
    """Return the pH of a mix, None where it cannot be told."""
    ph = float(mix.fillings[0].result["predicted_ph"])
    return ph if ph == ph else None


def mix_bits(mix: SharedMix) -> int:
    """Return the cautions of all cans of a mix."""
    bits = 0
    for filling in mix.fillings:
        bits |= int(filling.result["cautions"])
    return bits


def pre_stocks(batch: Batch) -> list[SharedStock]:
    """Return the weak stocks that cans take from, with how much of each is needed in all."""
    needed: dict[tuple[str, str], float] = defaultdict(float)
    users: dict[tuple[str, str], list[str]] = defaultdict(list)
    for name, row, result, times in _weighed_cans(batch):
        for each in additions(row, result, batch.catalogue):
            if each["pre_stock"] is not None:
                key = (each["product"], _strength(each["pre_stock"]))
                needed[key] += times * each["pre_stock"]["volume_ml"]
                users[key].append(name)
    return [
        SharedStock(
            product=_name(product, batch),
            strength=strength,
            amount=strength.replace("/L", ""),
            needed_ml=volume,
            users=users[product, strength],
        )
        for (product, strength), volume in needed.items()
    ]


def _weighed_cans(batch: Batch) -> Iterator[tuple[str, Any, Any, int]]:
    """Yield name, request, result and number of every can that is weighed in."""
    if batch.mixes is not None:
        for place, mix in enumerate(batch.mixes.planned.mixes):
            if mix.source is None:
                for filling in mix.fillings:
                    yield f"mix {place + 1}", filling.request, filling.result, filling.times
    for index in range(len(batch.outcomes)):
        if batch.results[index]["status"] == OK and batch.answers[index]["mix"] is None:
            yield row_name(batch, index), batch.requests[index], batch.results[index], 1


def _name(product: str, batch: Batch) -> str:
    position = batch.catalogue.product_positions.get(product)
    return printable(product if position is None else batch.catalogue.product_rows[position].name)


def _added(each: dict[str, Any], batch: Batch) -> BenchLine:
    name = _name(each["product"], batch)
    stock = each["pre_stock"]
    if stock is not None:
        words = f"of the {_strength(stock)} stock of {name}"
        return BenchLine(f"{stock['volume_ml']:g} mL", words)
    if each["mass_g"] is not None:
        return BenchLine(f"{each['mass_g']:g} g", name)
    return BenchLine(f"{each['volume_ml']:g} mL", name)


def _strength(stock: dict[str, Any]) -> str:
    return f"{stock['g_per_l']:g} g/L" if stock["g_per_l"] else f"{stock['ml_per_l']:g} mL/L"
