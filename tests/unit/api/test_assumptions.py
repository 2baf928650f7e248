"""What was assumed while a request was read, with the full name of its field."""

import asyncio

from service.api.assumptions import (
    assumptions_of,
    collected_assumptions,
    note_assumption,
)
from service.api.schemas.doses import DoseRequest

BODY = {
    "product": "urea",
    "volume_l": "5 gal",
    "water": {"alkalinity_mg_per_l_caco3": "100 mg/L", "hardness_mg_per_l_caco3": "100 mg/L"},
    "products": None,
}


def test_assumption_carries_the_dotted_name_of_its_field() -> None:
    with collected_assumptions() as noted:
        request = DoseRequest.model_validate(BODY)
    fields = [note.field for note in noted.of(request)]
    assert fields == [
        "water.alkalinity_mg_per_l_caco3",
        "water.hardness_mg_per_l_caco3",
        "volume_l",
    ]


def test_same_field_in_two_items_of_a_list_is_named_twice() -> None:
    strength = {"basis": "element", "element": "nitrogen", "mg_per_l": "50 ppm"}
    body = {
        "products": [{"product": key, "strength": strength} for key in ("urea", "potash")],
        "volume_l": 1,
    }
    with collected_assumptions() as noted:
        request = DoseRequest.model_validate(body)
    assert [note.field for note in noted.of(request)] == [
        "products.0.strength.mg_per_l",
        "products.1.strength.mg_per_l",
    ]


def test_rows_collect_apart_from_the_request_around_them() -> None:
    with collected_assumptions() as outer:
        note_assumption("volume_l", 1.0, "outer", "outside")
        with collected_assumptions() as inner:
            note_assumption("volume_l", 2.0, "inner", "inside")
    assert [note.code for note in outer.of()] == ["outer"]
    assert [note.code for note in inner.of()] == ["inner"]


def test_nothing_is_kept_without_a_collector() -> None:
    request = DoseRequest.model_validate(BODY)
    assert assumptions_of(request) == []


def test_concurrent_requests_do_not_mix() -> None:
    async def one(text: str) -> list[str]:
        with collected_assumptions() as noted:
            request = DoseRequest.model_validate({"product": "urea", "volume_l": text})
            await asyncio.sleep(0)
            return [note.message.split()[0] for note in noted.of(request)]

    async def both() -> list[list[str]]:
        return list(await asyncio.gather(one("5 gal"), one("7 gal"), one("3 L")))

    assert asyncio.run(both()) == [["5"], ["7"], []]
