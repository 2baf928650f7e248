"""
Cautions, assumptions and problems of a planned row: codes, severities and plain words.

Kernels set bits; the words are made here from the row's own numbers. The order of a list is the
order of its bits and never changes: new entries go to the end.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np


@dataclass(frozen=True)
class Notice:
    """
    One kind of caution, assumption or problem.

    Attributes
    ----------
    code : str
        Stable word for programs.
    severity : str
        `info`, `warning` or `danger`; assumptions are `info`, problems `danger`.
    field : str or None
        Field of the request or the answer that it is about.
    message : str
        Sentence for people; names in braces are filled in from the row.
    """

    code: str
    severity: str
    field: str | None
    message: str

    def words(self, numbers: Mapping[str, object]) -> str:
        """
        Return the sentence with the row's numbers in it.

        Parameters
        ----------
        numbers : mapping
            Values of the names in braces.

        Returns
        -------
        str
            The sentence.
        """
        return self.message.format_map(dict(numbers))


_CARD: Final = "saturation"
_OPEN: Final = "saturation_open"

CAUTIONS: Final = (
    Notice(
        "gypsum_may_form",
        "warning",
        _CARD,
        "Gypsum is oversaturated in this can (index {gypsum:+.2f}): it may cloud. Mix it weaker, "
        "or keep calcium and sulfate in separate cans.",
    ),
    Notice(
        "calcite_may_form",
        "info",
        _CARD,
        "Lime scale (calcite) is oversaturated in this can (index {calcite:+.2f}). Softer or "
        "acidified water keeps it clear.",
    ),
    Notice(
        "brushite_may_form",
        "warning",
        _CARD,
        "Calcium phosphate (brushite) is oversaturated in this can (index {brushite:+.2f}): use "
        "it at once, lower the pH, or use softer water.",
    ),
    Notice(
        "struvite_may_form",
        "warning",
        _CARD,
        "Magnesium ammonium phosphate (struvite) is oversaturated in this can (index "
        "{struvite:+.2f}): lower the pH, or keep magnesium and phosphate apart.",
    ),
    Notice(
        "gypsum_may_form_open",
        "info",
        _OPEN,
        "Left open to air, gypsum becomes oversaturated (index {gypsum_open:+.2f}).",
    ),
    Notice(
        "calcite_may_form_open",
        "info",
        _OPEN,
        "Left open to air, carbon dioxide leaves, the pH rises and lime scale can form (calcite "
        "index {calcite_open:+.2f}).",
    ),
    Notice(
        "brushite_may_form_open",
        "info",
        _OPEN,
        "Left open to air, calcium phosphate becomes oversaturated (brushite index "
        "{brushite_open:+.2f}): mix only what is used today.",
    ),
    Notice(
        "struvite_may_form_open",
        "info",
        _OPEN,
        "Left open to air, struvite becomes oversaturated (index {struvite_open:+.2f}): mix only "
        "what is used today.",
    ),
    Notice(
        "strength_reduced",
        "warning",
        "strength",
        "The strength asked for passes the ceiling of {binding_limit}; the can is mixed at "
        "{share_percent:.0f} % of it.",
    ),
    Notice(
        "dry_air",
        "warning",
        "air.humidity_percent",
        "Air this dry leaves only {meter_ppm:.0f} meter ppm: give plain water, or a feed that "
        "stays about 15 minutes and is then flushed out.",
    ),
    Notice(
        "single_reading",
        "info",
        "air.average_humidity_percent",
        "One reading of the air stands for the day. Send the usual humidity and temperature too: "
        "a single morning reading is often the most humid of the day.",
    ),
    Notice(
        "sodium_high",
        "warning",
        "water.sodium_mg_per_l",
        "The water brings {sodium:.0f} mg/L sodium; above {sodium_caution:.0f} mg/L it builds up "
        "at orchid roots. Blend with rain or reverse osmosis water.",
    ),
    Notice(
        "chloride_high",
        "warning",
        "water.chloride_mg_per_l",
        "The water brings {chloride:.0f} mg/L chloride; above {chloride_caution:.0f} mg/L it "
        "builds up at orchid roots. Blend with rain or reverse osmosis water.",
    ),
    Notice(
        "water_charge_imbalance",
        "warning",
        "water",
        "The charges of the water analysis are out of balance by {charge_error:.0f} %. Nothing "
        "was corrected: check for a missing ion or a number in another unit.",
    ),
    Notice(
        "water_analysis_incomplete",
        "info",
        "water",
        "The water analysis is incomplete: what it leaves out counts as "
        "{unmeasured:.2f} mmol/L of unnamed charge, and its nutrients are not credited.",
    ),
    Notice(
        "calcium_missing",
        "info",
        "water",
        "The water and this can bring hardly any calcium ({calcium:.0f} mg/L): supply it in "
        "turn, for instance with a calcium–magnesium supplement.",
    ),
    Notice(
        "magnesium_missing",
        "info",
        "water",
        "The water and this can bring hardly any magnesium ({magnesium:.0f} mg/L): supply it in "
        "turn, for instance with a calcium–magnesium supplement.",
    ),
    Notice(
        "cold_water",
        "warning",
        "water.temperature_celsius",
        "Water of {water_temperature:.0f} °C chills warm-growing roots: let it stand until it is "
        "above 15 °C.",
    ),
    *(
        Notice(
            f"{element}_high",
            "warning",
            f"elements_mg_per_l.{element}",
            f"The can holds {{{element}:.2f}} mg/L {element}, water included; the plant profile "
            f"allows {{{element}_maximum:.2f}} mg/L.",
        )
        for element in ("boron", "copper", "zinc", "manganese", "iron", "molybdenum")
    ),
    Notice(
        "ammonium_and_urea_share_high",
        "warning",
        "product",
        "{reduced_share:.0f} % of the nitrogen is ammonium and urea; for this plant and this "
        "warmth {reduced_share_maximum:.0f} % is the usual limit. Prefer a nitrate feed.",
    ),
    Notice(
        "nitrogen_credited",
        "info",
        "water",
        "The water brings {water_nitrogen:.1f} mg/L nitrogen; it is credited, so there is less of "
        "the product and of everything else in it.",
    ),
    Notice(
        "pre_stock",
        "info",
        "additions",
        "An amount is too small for the balance or the syringe: make the pre-stock named with it "
        "and measure that.",
    ),
    Notice(
        "unknown_plant",
        "warning",
        "plants.profile",
        "This plant has no profile here; the weakest one is used.",
    ),
    Notice(
        "urea_lost_on_mount",
        "info",
        "product",
        "On a mount that is rinsed most of the urea is washed off before it is taken up.",
    ),
    Notice(
        "urea_not_on_the_meter",
        "info",
        "product",
        "{urea_share:.0f} % of the nitrogen is urea, which no conductivity meter shows: weigh it, "
        "do not judge it by the meter.",
    ),
    Notice(
        "ph_outside_window",
        "warning",
        "predicted_ph",
        "The can comes to pH {ph:.1f}; this plant's window is {ph_low:.1f} to {ph_high:.1f}.",
    ),
    Notice(
        "ph_uncertain",
        "info",
        "predicted_ph",
        "There is so little buffer in this can that a small error moves the pH by "
        "{ph_spread:.1f}: measure it, do not rely on the figure.",
    ),
    Notice(
        "acid_handling",
        "danger",
        "acid_volume_ml",
        "Acid: wear eye and hand protection, work with fresh air, pour acid into water and never "
        "water into acid, never together with bleach or another concentrate. Strong acid may be "
        "restricted where you are; the safety data sheet and local rules come first.",
    ),
    Notice(
        "acid_pre_dilution",
        "info",
        "acid_volume_ml",
        "The acid volume is too small to measure: dilute the acid 1 in {acid_dilution:.0f} first "
        "(acid into water) and dose {acid_diluted_ml:.1f} mL of that.",
    ),
    Notice(
        "oxidiser",
        "warning",
        "product",
        "This product feeds fire: keep it dry, in its container, apart from fuels, oil, paper, "
        "sugar and other organic matter, and away from children.",
    ),
    Notice(
        "salt_gathers_in_reservoir",
        "warning",
        "plants.refill",
        "A reservoir that is only topped up gathers salt: give plain water between feeds and "
        "flush it through regularly.",
    ),
    Notice(
        "forms_of_nitrogen_unknown",
        "warning",
        "product",
        "The label gives total nitrogen only; it is taken as urea and ammonium, the least "
        "favourable reading. Send the forms from the label.",
    ),
    Notice(
        "softened_water",
        "warning",
        "water",
        "Softened water has its calcium and magnesium exchanged for sodium and keeps its "
        "alkalinity: it is not soft in the grower's sense. Take the tap before the softener.",
    ),
    Notice(
        "nothing_to_measure",
        "warning",
        "additions",
        "The amount comes to less than one step of the instrument and was rounded to nothing: "
        "send a finer balance or syringe, or mix a larger can.",
    ),
    Notice(
        "ph_drifts_in_air",
        "info",
        "predicted_ph_open",
        "As carbon dioxide leaves, the pH moves from {ph:.1f} to about {ph_open:.1f} within a "
        "day or so.",
    ),
    Notice(
        "conductivity_from_label",
        "info",
        "predicted_ec_ms_per_cm",
        "The conductivity of a label is known to about 12 % at best: makers of one analysis "
        "differ by that much. A reading of your own settles it.",
    ),
    Notice(
        "infeasible_water",
        "warning",
        "water",
        "The water alone is above the ceiling of {binding_limit}. A blend with at most "
        "{blend_percent:.0f} % of it, the rest rain or reverse osmosis water, leaves half of the "
        "ceiling for the feed.",
    ),
    Notice(
        "alkalinity_unknown",
        "info",
        "water.alkalinity_mg_per_l_caco3",
        "The alkalinity of the water is not known, so neither pH nor acid can be given.",
    ),
)

ASSUMPTIONS: Final = (
    Notice("profile_assumed", "info", "plants.profile", "Plant taken as a moth orchid."),
    Notice(
        "size_assumed",
        "info",
        "plants.size",
        "Plant size not given: taken as mini, the most careful.",
    ),
    Notice(
        "setup_assumed",
        "info",
        "plants.setup",
        "Setup not given: taken as a pot that dries between waterings.",
    ),
    Notice("growth_assumed", "info", "plants.growth", "Growth phase taken as active."),
    Notice(
        "air_assumed",
        "info",
        "air",
        "Air not given: taken as 40 % relative humidity at 22 °C, a dry living room.",
    ),
    Notice(
        "air_temperature_assumed",
        "info",
        "air.temperature_celsius",
        "Air temperature taken as 22 °C.",
    ),
    Notice("application_assumed", "info", "application", "Application taken as a feed."),
    Notice(
        "meter_scale_assumed",
        "info",
        "strength.scale",
        "Meter scale not given: taken as 700 ppm per mS/cm, which gives the weaker can.",
    ),
    Notice(
        "counts_whole_can",
        "info",
        "strength.counts",
        "The strength counts the whole can, water included.",
    ),
    Notice(
        "counts_added",
        "info",
        "strength.counts",
        "The strength counts what is added, without the water.",
    ),
    Notice(
        "water_assumed",
        "info",
        "water",
        "Water not given: taken as a moderate tap water. Send a preset or an analysis.",
    ),
    Notice(
        "water_temperature_assumed",
        "info",
        "water.temperature_celsius",
        "Water temperature taken as 25 °C, the reference of conductivity.",
    ),
    Notice(
        "balance_assumed",
        "info",
        "instruments.balance_resolution_g",
        "Balance taken to show steps of 0.1 g.",
    ),
    Notice(
        "syringe_assumed",
        "info",
        "instruments.syringe_resolution_ml",
        "Syringe taken to have steps of 0.1 mL.",
    ),
    Notice(
        "volume_from_pots",
        "info",
        "volume_l",
        "Volume from count, pot and medium: {volume_per_plant_ml:.0f} mL a plant.",
    ),
    Notice(
        "volume_assumed",
        "info",
        "volume_l",
        "Volume not given: amounts are for 1 litre.",
    ),
    Notice(
        "hardness_as_calcium",
        "info",
        "water.hardness_mg_per_l_caco3",
        "Hardness without calcium and magnesium: taken as three parts calcium to one of "
        "magnesium, by equivalents.",
    ),
    Notice(
        "interval_assumed",
        "info",
        "interval_days",
        "Interval taken as 7 days.",
    ),
    Notice(
        "water_ph_assumed",
        "info",
        "water.ph",
        "pH of the water not given: taken as the one it has in balance with air.",
    ),
    Notice(
        "refill_assumed",
        "info",
        "plants.refill",
        "Reservoir taken as drained and refilled.",
    ),
    Notice(
        "medium_assumed",
        "info",
        "plants.medium",
        "Medium taken as bark in a pot, clay pebbles over a reservoir.",
    ),
)

PROBLEMS: Final = (
    Notice("none", "info", None, ""),
    Notice(
        "air_out_of_range",
        "danger",
        "air.temperature_celsius",
        "Feeding is judged between 10 and 38 °C. Outside it, give no feed; water with care.",
    ),
    Notice(
        "volume_unknown",
        "danger",
        "volume_l",
        "The volume is not known. Send volume_l, or plants.count with volume_per_plant_ml or "
        "plants.pot_diameter_cm.",
    ),
    Notice(
        "strength_missing",
        "danger",
        "strength",
        "Send a strength for each product; only a single product of a dose may go without.",
    ),
    Notice(
        "strength_blind_to_urea",
        "danger",
        "strength.basis",
        "This product shows less than 0.3 mS/cm per 100 mg/L nitrogen, because its nitrogen is "
        "mostly urea. A strength by conductivity or meter would overdose it: give nitrogen in "
        "mg/L or grams per litre.",
    ),
    Notice(
        "element_not_in_product",
        "danger",
        "strength.element",
        "The product holds none of that element, so no amount of it gives the strength.",
    ),
    Notice(
        "density_needed",
        "danger",
        "product.density_kg_per_l",
        "A liquid dosed by mass needs density_kg_per_l, or give the strength in mL per litre.",
    ),
    Notice(
        "volume_of_a_solid",
        "danger",
        "strength.ml_per_l",
        "A solid is dosed by mass: give g_per_l. A spoon or a cup of powder has no known mass.",
    ),
    Notice(
        "two_whole_can_conductivities",
        "danger",
        "products",
        "Only one product can be adjusted to the conductivity of the whole can. Give the others "
        "by element or by amount, or let them count as added.",
    ),
    Notice(
        "conflicting_water_forms",
        "danger",
        "water",
        "The same ion is given in two forms that do not agree. Send one of them.",
    ),
    Notice(
        "water_not_solvable",
        "danger",
        "water",
        "The water analysis lies outside what the chemistry can solve; check its numbers.",
    ),
    Notice(
        "solution_not_solvable",
        "danger",
        "strength",
        "The mix is stronger than the chemistry is valid for (0.5 mol/kg ionic strength).",
    ),
    Notice(
        "acid_target_too_low",
        "danger",
        "target_ph",
        "A target below pH 5.0 is refused: it burns roots and leaves no buffer.",
    ),
    Notice(
        "acid_alkalinity_unknown",
        "danger",
        "water.alkalinity_mg_per_l_caco3",
        "Acid is dosed against alkalinity, not against pH. Send alkalinity_mg_per_l_caco3 (a drop "
        "test kit reads it as KH).",
    ),
    Notice(
        "acid_neutralises_too_much",
        "danger",
        "target_ph",
        "This would neutralise more than 90 % of the alkalinity, after which the pH falls "
        "without hold. Choose a higher target.",
    ),
    Notice(
        "acid_cannot_reach",
        "danger",
        "target_ph",
        "This acid does not bring the can to that pH.",
    ),
    Notice(
        "product_missing",
        "danger",
        "product",
        "Send a product, or application flush for plain water.",
    ),
    Notice(
        "no_conductivity",
        "danger",
        "strength.basis",
        "The product adds too little conductivity for that strength; give an element or an "
        "amount.",
    ),
    Notice(
        "forward_check_failed",
        "danger",
        None,
        "The mix, computed again from the amounts, does not give the strength. No answer is "
        "given.",
    ),
    Notice(
        "catalogue_strength_over_label",
        "danger",
        "strength",
        "A stimulant is dosed at its label rate; give the strength in grams or millilitres per "
        "litre.",
    ),
)

_CAUTION_POSITION: Final = {notice.code: position for position, notice in enumerate(CAUTIONS)}
_ASSUMPTION_POSITION: Final = {notice.code: place for place, notice in enumerate(ASSUMPTIONS)}
_PROBLEM_POSITION: Final = {notice.code: position for position, notice in enumerate(PROBLEMS)}


def caution_bit(code: str) -> np.uint64:
    """
    Return the bit that kernels set for a caution.

    Parameters
    ----------
    code : str
        Code of a notice in `CAUTIONS`.

    Returns
    -------
    uint64
        One bit.
    """
    return np.uint64(1 << _CAUTION_POSITION[code])


def assumption_bit(code: str) -> np.uint64:
    """
    Return the bit that kernels set for an assumption.

    Parameters
    ----------
    code : str
        Code of a notice in `ASSUMPTIONS`.

    Returns
    -------
    uint64
        One bit.
    """
    return np.uint64(1 << _ASSUMPTION_POSITION[code])


def problem_number(code: str) -> int:
    """
    Return the number that kernels return for a problem.

    Parameters
    ----------
    code : str
        Code of a notice in `PROBLEMS`.

    Returns
    -------
    int
        Position in `PROBLEMS`; 0 means none.
    """
    return _PROBLEM_POSITION[code]


def notices(bits: int, table: tuple[Notice, ...]) -> list[Notice]:
    """
    Return the notices whose bits are set.

    Parameters
    ----------
    bits : int
        Bits that a kernel set.
    table : tuple of Notice
        `CAUTIONS` or `ASSUMPTIONS`.

    Returns
    -------
    list of Notice
        In the order of the table.
    """
    return [notice for position, notice in enumerate(table) if bits >> position & 1]
