"""From the errors of pydantic to the faults that callers read."""

from typing import Any

import pytest
from pydantic import BaseModel, ValidationError

from service.api.schemas.doses import DoseRequest
from service.api.schemas.doses_batch import DoseBatchRequest
from service.api.suggestions import nearest
from service.api.validation import FieldError, field_errors, json_pointer

READY = {"product": "urea", "volume_l": 1}


def faults(model: type[BaseModel], body: Any) -> list[FieldError]:
    with pytest.raises(ValidationError) as refused:
        model.model_validate(body)
    return field_errors(refused.value.errors(), model)


@pytest.mark.parametrize(
    ("path", "pointer"),
    [
        ((), "#"),
        (("water", "ph"), "#/water/ph"),
        (("rows", 3, "id"), "#/rows/3/id"),
        (("a/b", "c~d"), "#/a~1b/c~0d"),
        (("a b", "ü", "%"), "#/a%20b/%C3%BC/%25"),
        (("",), "#/"),
    ],
)
def test_pointer_is_escaped_as_rfc_6901_says(path: tuple[str | int, ...], pointer: str) -> None:
    assert json_pointer(path) == pointer


def test_label_of_a_union_is_no_part_of_the_pointer() -> None:
    found = faults(DoseRequest, {**READY, "water": {"ph": 99}})
    assert [fault.pointer for fault in found] == ["#/water/ph"]
    found = faults(
        DoseRequest,
        {**READY, "strength": {"basis": "element", "element": "nitrogen", "mg_per_l": -1}},
    )
    assert [fault.pointer for fault in found] == ["#/strength/mg_per_l"]


def test_suggestion_comes_from_the_member_of_the_union_that_was_meant() -> None:
    found = faults(
        DoseRequest, {**READY, "strength": {"basis": "conductivity", "ec": 1, "scale": 500}}
    )
    by_pointer = {fault.pointer: fault for fault in found}
    assert by_pointer["#/strength/ec"].allowed == ["ec_ms_per_cm"]
    assert "basis, counts, ec_ms_per_cm" in by_pointer["#/strength/scale"].detail


def test_suggestion_reaches_into_lists() -> None:
    found = faults(DoseBatchRequest, {"rows": [{"volume": 1}, {"plants": {"siz": "mini"}}]})
    assert [(fault.pointer, fault.allowed) for fault in found] == [
        ("#/rows/0/volume", ["volume_l"]),
        ("#/rows/1/plants/siz", ["size"]),
    ]


def test_missing_name_is_kept_when_the_unknown_one_is_not_near_it() -> None:
    found = faults(DoseRequest, {**READY, "acid": {"strength": 5}})
    assert {(fault.pointer, fault.code) for fault in found} == {
        ("#/acid/strength", "unknown_field"),
        ("#/acid/kind", "missing"),
    }


@pytest.mark.parametrize(
    ("word", "allowed", "meant"),
    [
        ("volum_l", ["volume_l", "water"], "volume_l"),
        ("Volume-L", ["volume_l"], "volume_l"),
        ("ec", ["ec_ms_per_cm", "ph"], "ec_ms_per_cm"),
        ("zzz", ["volume_l"], None),
        ("", ["volume_l"], None),
        ("x" * 10_000, ["volume_l"], None),
    ],
)
def test_nearest_word_is_the_one_that_was_probably_meant(
    word: str, allowed: list[str], meant: str | None
) -> None:
    assert nearest(word, allowed) == meant


def test_long_lists_of_allowed_words_are_cut_to_the_one_that_is_near() -> None:
    words = [f"product_{number}" for number in range(200)]
    fault = FieldError.unknown_word("unknown_key", "product", "product_7x", words)
    assert fault.allowed is not None
    assert len(fault.allowed) == 1
