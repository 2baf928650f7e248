"""The schemas of the shared objects agree with the layers below and with one another."""

from typing import get_args

import pytest
from pydantic import BaseModel, ValidationError

import service.api.schemas.catalogue
import service.api.schemas.doses_batch
from service.api.schemas.acid import AcidKind
from service.api.schemas.answer import Envelope
from service.api.schemas.dilutions import MOST_PRODUCTS, DilutionAnswer, DilutionRequest
from service.api.schemas.doses import DOSE_EXAMPLES, DoseAnswer, DoseFields, DoseRequest
from service.api.schemas.doses_batch import DOSE_BATCH_EXAMPLES, DoseBatchRequest
from service.api.schemas.fields import Answer, Request
from service.api.schemas.flushes import FlushAnswer
from service.api.schemas.plants import Application, Growth, Medium, Refill, Setup, Size
from service.api.schemas.readings import ReadingAnswer, ReadingScale
from service.api.schemas.reservoir_answers import ReservoirCorrectionAnswer
from service.api.schemas.salt_outlooks import SaltOutlookAnswer, WateringKind
from service.api.schemas.solutions import SolutionAnswer
from service.api.schemas.strength import Counts, ElementName
from service.api.schemas.targets import TargetAnswer
from service.api.schemas.water import WaterAnalysis, WaterPreset
from service.api.schemas.water_blends import BlendedWater, BlendLimits, WaterBlendAnswer
from service.chemistry.meter import SCALE_NAMES
from service.planning import rows, watering_schedule
from service.planning.water_pair import CONDUCTIVITY, LINEAR
from service.reference.components import ELEMENT_NAMES
from service.reference.loader import acids, waters
from service.units.canonical import is_dimensionless, suffix_of


@pytest.mark.parametrize(
    ("choice", "below"),
    [
        (Size, rows.SIZES),
        (Setup, rows.SETUPS),
        (Growth, rows.GROWTHS),
        (Refill, rows.REFILLS),
        (Application, rows.APPLICATIONS),
        (Medium, rows.MEDIA),
        (WateringKind, watering_schedule.KINDS),
        (Counts, rows.COUNTS),
        (ElementName, ELEMENT_NAMES),
        (AcidKind, tuple(acids())),
        (AcidKind, rows.ACID_KINDS + rows.BASE_KINDS),
        (WaterPreset, tuple(waters())),
    ],
)
def test_words_of_a_choice_are_those_that_the_planner_knows(
    choice: object, below: tuple[str, ...]
) -> None:
    assert set(get_args(choice)) == set(below)


def test_water_analysis_has_the_columns_of_the_planner() -> None:
    assert set(WaterAnalysis.model_fields) == set(rows.WATER_FIELDS)


def test_limits_and_results_of_a_blend_are_words_of_a_water_analysis() -> None:
    assert set(BlendLimits.model_fields) <= {*LINEAR, CONDUCTIVITY}
    assert set(BlendedWater.model_fields) == {*LINEAR, CONDUCTIVITY, "ph"}
    assert set(BlendedWater.model_fields) <= set(WaterAnalysis.model_fields)


def test_reading_knows_every_scale_of_a_meter() -> None:
    assert set(get_args(get_args(ReadingScale)[0])) == set(SCALE_NAMES)
    assert {f"meter_ppm_{name}" for name in SCALE_NAMES} <= set(ReadingAnswer.model_fields)


def test_can_takes_as_many_products_as_the_planner() -> None:
    assert MOST_PRODUCTS == rows.MAXIMUM_PRODUCTS


def models(base: type[BaseModel]) -> list[type[BaseModel]]:
    found = []
    for model in base.__subclasses__():
        if model.__module__.startswith("service."):
            found += [model, *models(model)]
    return sorted(set(found), key=lambda model: model.__name__)


@pytest.mark.parametrize("model", models(Request) + models(Answer))
def test_every_number_names_its_unit(model: type[BaseModel]) -> None:
    counts = {
        "limit_rows",
        "batch_rows",
        "json_depth",
        "json_keys",
        "connections",
        "status",
        "value",
    }
    counts |= {"batches", "batches_waiting", "bodies"}
    counts |= {"open_connections", "slowest_bytes_per_second"}
    counts |= {"table_columns", "table_heading_letters", "table_cell_letters"}
    counts |= {"workbook_rows", "workbook_cells", "workbook_parts", "workbook_ratio"}
    # Their unit stands beside them, or they are maps whose keys carry it.
    free = {"quantity", "needed", "allowed", "analysis", "offset", "index_open", "low", "high"}
    free |= {"median", "lowest", "highest"}
    for name, field in model.model_fields.items():
        parts = [field.annotation, *get_args(field.annotation)]
        for part in get_args(field.annotation):
            parts.extend(get_args(part))
        if any(part in (float, int) for part in parts) and name not in counts | free:
            assert suffix_of(name) or is_dimensionless(name), f"{model.__name__}.{name}"


@pytest.mark.parametrize(
    "model",
    [
        DoseAnswer,
        DilutionAnswer,
        TargetAnswer,
        FlushAnswer,
        SaltOutlookAnswer,
        SolutionAnswer,
        ReadingAnswer,
        ReservoirCorrectionAnswer,
        WaterBlendAnswer,
    ],
)
def test_answer_has_status_first_and_what_it_rests_on_last(model: type[Envelope]) -> None:
    names = list(model.model_fields)
    assert names[0] == "status"
    assert names[-6:] == ["inputs", "assumptions", "cautions", "models", "sources", "version"]
    assert all(field.is_required() for field in model.model_fields.values())


@pytest.mark.parametrize("name", ["product", "strength", "products", "water", "volume_l"])
def test_dilution_and_dose_say_the_same_thing_alike(name: str) -> None:
    assert name in DilutionRequest.model_fields
    assert name in DoseFields.model_fields


def test_rows_of_the_batch_examples_are_rows() -> None:
    for _, body in DOSE_BATCH_EXAMPLES.values():
        if "wrong" not in str(body):
            DoseBatchRequest.model_validate(body)


def test_element_may_be_named_by_its_symbol() -> None:
    body = {**DOSE_EXAMPLES["caution"][1]}
    body["strength"] = {"basis": "element", "element": "N", "mg_per_l": 150}
    strength = DoseRequest.model_validate(body).strength
    assert strength is not None
    assert getattr(strength, "element", None) == "nitrogen"


def test_strength_of_a_product_is_by_mass_or_by_volume_and_never_both() -> None:
    both = {"basis": "product", "g_per_l": 1, "ml_per_l": 1}
    with pytest.raises(ValidationError, match="g_per_l"):
        DoseRequest.model_validate({"product": "urea", "strength": both, "volume_l": 1})


def test_schemas_are_all_collected() -> None:
    assert service.api.schemas.catalogue.ProductEntry in models(Answer)
    assert service.api.schemas.doses_batch.DoseRow in models(Answer)
