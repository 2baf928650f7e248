"""The mixes of a batch as two sheets of a workbook: one row per mix, one per can."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from service.api.formats.workbook import WorkbookFile

MIXES, FILLINGS = "mixes", "fillings"

PREDICTED: Final = (
    "predicted_ec_ms_per_cm",
    "predicted_ph",
    "predicted_ph_open",
    "nitrogen_mg_per_l",
)
MIX_COLUMNS: Final = (
    "mix",
    "row_ids",
    "water",
    "application",
    "made_by",
    "from_mix",
    "needed_volume_l",
    "volume_l",
    "drawn_volume_l",
    "product_mass_g",
    "product_volume_ml",
    "target_ph",
    "acid",
    "acid_percent",
    "acid_mass_g",
    "acid_volume_ml",
    *PREDICTED,
    "below_own_percent",
    "cautions",
    "explanation",
)
FILLING_COLUMNS: Final = (
    "mix",
    "volume_l",
    "times",
    "additions",
    "from_mix_volume_l",
    "acid_mass_g",
    "acid_volume_ml",
    "acid_dilution_factor",
    *PREDICTED,
    "steps",
)


def write_mixes(book: WorkbookFile, mixes: Sequence[Mapping[str, Any]]) -> None:
    """
    Write both sheets.

    Parameters
    ----------
    book : WorkbookFile
        The workbook.
    mixes : sequence of mapping
        The mixes as the JSON answer holds them.
    """
    book.sheet(MIXES, MIX_COLUMNS)
    book.rows(MIXES, [[_cell(mix, name) for name in MIX_COLUMNS] for mix in mixes])
    book.sheet(FILLINGS, FILLING_COLUMNS)
    book.rows(
        FILLINGS,
        [
            [_cell({**filling, "mix": mix["mix"]}, name) for name in FILLING_COLUMNS]
            for mix in mixes
            for filling in mix["fillings"]
        ],
    )


def _cell(values: Mapping[str, Any], name: str) -> Any:
    value = values[name]
    if name == "additions":
        return "; ".join(map(_addition, value))
    if name == "steps":
        return " ".join(str(step["instruction"]) for step in value)
    if name == "row_ids":
        return "; ".join(
            f"row {place + 1}" if each is None else each
            for each, place in zip(value, values["row_indices"], strict=True)
        )
    return " ".join(value) if name == "cautions" else value


def _addition(each: Mapping[str, Any]) -> str:
    if each["mass_g"] is not None:
        return f"{each['mass_g']:g} g {each['product']}"
    return f"{each['volume_ml']:g} mL {each['product']}"
