"""Programmes over HTTP: formats, refusals, and what is answered instead of refused."""

from typing import Any

import httpx
import pytest

from service.api.schemas.programmes import PROGRAMME_EXAMPLES

PATH = "/v1/programmes"
BODY: dict[str, Any] = PROGRAMME_EXAMPLES["metric"][1]


async def answered(client: httpx.AsyncClient, **changes: object) -> dict[str, Any]:
    response = await client.post(PATH, json={**BODY, **changes})
    assert response.status_code == 200, response.text
    return dict(response.json())


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("suffix", "media_type", "start"),
    [
        ("json", "application/json", b'{"status":"ok"'),
        ("csv", "text/csv; charset=utf-8; header=present", b"date,kind,season,growth,product,"),
        ("ics", "text/calendar; charset=utf-8", b"BEGIN:VCALENDAR\r\n"),
        ("html", "text/html; charset=utf-8", b"<!DOCTYPE html>"),
    ],
)
async def test_every_format_by_suffix_and_by_accept(
    client: httpx.AsyncClient, suffix: str, media_type: str, start: bytes
) -> None:
    by_suffix = await client.post(f"{PATH}.{suffix}", json=BODY)
    by_accept = await client.post(PATH, json=BODY, headers={"Accept": media_type.split(";")[0]})
    assert by_suffix.headers["content-type"] == media_type
    assert by_suffix.content.startswith(start)
    assert by_suffix.content == by_accept.content


@pytest.mark.anyio
async def test_strength_is_never_above_that_of_the_day(client: httpx.AsyncClient) -> None:
    for name in ("metric", "us", "caution"):
        response = await client.post(PATH, json=PROGRAMME_EXAMPLES[name][1])
        answer = response.json()
        mixed = [event for event in answer["events"] if event["strength"] is not None]
        assert mixed
        for event in mixed:
            assert 0 < event["strength"]["ec_ms_per_cm"] <= event["ec_ceiling_ms_per_cm"]
            assert event["strength"]["meter_scale"] == 700


@pytest.mark.anyio
async def test_strength_of_a_feed_follows_the_growth(client: httpx.AsyncClient) -> None:
    phases = [
        {"growth": "active", "first_date": "2027-03-01", "last_date": "2027-04-30"},
        {"growth": "in_bloom", "first_date": "2027-05-01", "last_date": "2027-08-31"},
    ]
    air = {"humidity_percent": 70, "temperature_celsius": 24}
    answer = await answered(client, site={"phases": phases}, air=air)
    ceilings: dict[str, set[float]] = {}
    for event in answer["events"]:
        if event["kind"] == "feed":
            ceilings.setdefault(event["growth"], set()).add(event["ec_ceiling_ms_per_cm"])
    (active,), (bloom,) = ceilings["active"], ceilings["in_bloom"]
    assert bloom == pytest.approx(active / 2, rel=0.01)


@pytest.mark.anyio
async def test_can_on_a_mount_that_is_fed_daily_holds_at_most_50_mg_per_litre_nitrogen(
    client: httpx.AsyncClient,
) -> None:
    body = PROGRAMME_EXAMPLES["us"][1]
    large = {**body, "plants": {**body["plants"], "size": "large"}}
    events = (await client.post(PATH, json=large)).json()["events"]
    assert [event["kind"] for event in events[:2]] == ["feed", "supplement"]
    for event in events:
        assert 25 <= event["strength"]["nitrogen_mg_per_l"] <= 50


@pytest.mark.anyio
async def test_supplement_is_not_scaled_by_the_size_of_the_plant(client: httpx.AsyncClient) -> None:
    found = []
    for size in ("large", "mini"):
        answer = await answered(client, plants={**BODY["plants"], "size": size})
        ceilings = {
            kind: {e["ec_ceiling_ms_per_cm"] for e in answer["events"] if e["kind"] == kind}
            for kind in ("feed", "supplement", "stimulant")
        }
        found.append(ceilings)
    large, mini = found
    assert large["supplement"] == mini["supplement"] == {0.429}
    assert large["stimulant"] == mini["stimulant"] == {0.286}
    assert max(mini["feed"]) < min(large["feed"])


@pytest.mark.anyio
async def test_weak_feed_at_rest_becomes_plain_water(client: httpx.AsyncClient) -> None:
    plants = {**BODY["plants"], "growth": "resting"}
    answer = await answered(client, plants=plants)
    assert {event["kind"] for event in answer["events"]} == {"water", "flush", "repot_check"}
    assert all(event["product"] is None for event in answer["events"])
    assert any("too weak" in event["reason"] for event in answer["events"])


@pytest.mark.anyio
async def test_months_and_totals_add_up(client: httpx.AsyncClient) -> None:
    answer = await answered(client)
    for kind in ("feed", "supplement", "stimulant", "water", "flush", "repot_check"):
        counted = sum(event["kind"] == kind for event in answer["events"])
        assert counted == sum(month[f"{kind}_count"] for month in answer["months"])
    weighed = sum(event["product_mass_g"] or 0 for event in answer["events"])
    assert weighed == pytest.approx(sum(each["mass_g"] or 0 for each in answer["products"]))


@pytest.mark.anyio
async def test_practice_is_marked_as_such(client: httpx.AsyncClient) -> None:
    answer = await answered(client)
    assert {rule["basis"] for rule in answer["rules"]} == {"common practice, no published source"}
    assert "common-practice" in answer["sources"]
    assert "practice_rhythm" in {each["code"] for each in answer["assumptions"]}


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("changes", "pointer", "code"),
    [
        ({"last_date": "2027-02-28"}, "#/last_date", "dates_out_of_order"),
        ({"last_date": "2029-03-02"}, "#/last_date", "period_too_long"),
        ({"first_date": "2027-02-29"}, "#/first_date", "malformed"),
        ({"first_date": 20270301}, "#/first_date", "malformed"),
        ({"first_date": "2027-03-01T00:00:00Z"}, "#/first_date", "malformed"),
        ({"site": {}}, "#/site/hemisphere", "missing"),
        ({"site": {"climate": "tropical"}}, "#/site/hemisphere", "missing"),
        ({"site": {"hemisphere": "east"}}, "#/site/hemisphere", "not_allowed"),
        (
            {
                "site": {
                    "hemisphere": "north",
                    "artificial": {"temperature_celsius": 22, "humidity_percent": 60},
                }
            },
            "#/site/artificial",
            "contradiction",
        ),
        (
            {
                "site": {
                    "phases": [
                        {"growth": "active", "first_date": "2027-05-01", "last_date": "2027-06-30"},
                        {"growth": "active", "first_date": "2027-03-01", "last_date": "2027-05-01"},
                    ]
                }
            },
            "#/site/phases",
            "phases_overlap",
        ),
        (
            {
                "site": {
                    "phases": [
                        {"growth": "active", "first_date": "2027-05-02", "last_date": "2027-05-01"}
                    ]
                }
            },
            "#/site/phases/0/last_date",
            "dates_out_of_order",
        ),
        ({"shelf": ["feed_13_3_15_ca_mgg"]}, "#/shelf/0", "unknown_key"),
        ({"shelf": [{"product": "nothing", "role": "feed"}]}, "#/shelf/0/product", "unknown_key"),
        ({"shelf": ["feed_20_20_20", "boric_acid"]}, "#/shelf/1", "role_unclear"),
        ({"interval_days": 7, "weekdays": ["monday"]}, "#/interval_days", "contradiction"),
        ({"volume_l": None}, "#/volume_l", "volume_unknown"),
    ],
)
async def test_what_is_wrong_is_refused_with_its_place(
    client: httpx.AsyncClient, changes: dict[str, Any], pointer: str, code: str
) -> None:
    response = await client.post(PATH, json={**BODY, **changes})
    assert response.status_code == 422, response.text
    assert [(each["pointer"], each["code"]) for each in response.json()["errors"]] == [
        (pointer, code)
    ]


@pytest.mark.anyio
async def test_two_years_to_the_day_and_a_single_day_are_programmes(
    client: httpx.AsyncClient,
) -> None:
    leap = await answered(client, first_date="2028-02-29", last_date="2030-02-28")
    assert leap["events"][0]["date"] == "2028-02-29"
    one = await answered(client, last_date=BODY["first_date"])
    assert {event["date"] for event in one["events"]} == {BODY["first_date"]}


@pytest.mark.anyio
async def test_equator_without_phases_is_fed_evenly_and_said_so(client: httpx.AsyncClient) -> None:
    answer = await answered(client, site={"hemisphere": "equator"})
    assert {event["growth"] for event in answer["events"]} == {"active"}
    assert {event["season"] for event in answer["events"]} == {None}
    assert "no_seasons" in {each["code"] for each in answer["cautions"]}
    phase = {"growth": "active", "first_date": "2027-03-01", "last_date": "2027-08-31"}
    phased = await answered(client, site={"hemisphere": "equator", "phases": [phase]})
    assert "no_seasons" not in {each["code"] for each in phased["cautions"]}


@pytest.mark.anyio
async def test_empty_shelf_is_a_calendar_of_water(client: httpx.AsyncClient) -> None:
    answer = await answered(client, shelf=[])
    assert {event["kind"] for event in answer["events"]} == {"water", "flush", "repot_check"}
    assert "shelf_without_feed" in {each["code"] for each in answer["cautions"]}


@pytest.mark.anyio
async def test_water_that_leaves_no_room_is_an_answer(client: httpx.AsyncClient) -> None:
    plants = {**BODY["plants"], "size": "mini"}
    answer = await answered(client, water="hard_tap", plants=plants)
    assert answer["status"] == "infeasible"
    assert answer["conflicts"][0]["limit"] == "conductivity"
    assert answer["nearest"]["pure_water_l"] > 0
    again = await answered(client, water=answer["nearest"]["water"], plants=plants)
    assert again["status"] == "ok"
    assert {event["product_mass_g"] for event in answer["events"]} == {None}


@pytest.mark.anyio
async def test_days_too_cold_to_feed_get_water(client: httpx.AsyncClient) -> None:
    cold = {"day_temperature_celsius": 8, "night_temperature_celsius": 4, "humidity_percent": 70}
    climate = dict.fromkeys(("spring", "summer", "autumn", "winter"), cold)
    answer = await answered(client, site={"hemisphere": "north", "climate": climate})
    assert "feed" not in {event["kind"] for event in answer["events"]}
    assert "days_without_feeding" in {each["code"] for each in answer["cautions"]}


@pytest.mark.anyio
async def test_label_on_the_shelf_takes_its_role_from_its_contents(
    client: httpx.AsyncClient,
) -> None:
    label = {
        "name": "house feed",
        "form": "liquid",
        "label": {
            "basis": "volume",
            "nitrate_n_percent": 4,
            "total_n_percent": 4,
            "k2o_percent": 6,
        },
    }
    answer = await answered(client, shelf=[label])
    assert answer["inputs"]["shelf"] == [{"product": "house feed", "role": "feed"}]
    feed = next(event for event in answer["events"] if event["kind"] == "feed")
    assert feed["product_volume_ml"] > 0
    assert feed["product_mass_g"] is None


@pytest.mark.anyio
async def test_programme_goes_on_from_what_was_given_before(client: httpx.AsyncClient) -> None:
    last = {"feed": "2027-02-26", "flush": "2027-02-26"}
    answer = await answered(client, last_applied=last)
    first = answer["events"][0]
    assert (first["date"], first["kind"]) == ("2027-03-05", "supplement")
    assert answer["inputs"]["last_applied"] == last
