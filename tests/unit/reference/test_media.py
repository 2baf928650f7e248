import pytest

from service.planning import rows
from service.reference import media as media_module
from service.reference.media import media
from service.reference.tables import ReferenceDataError, read_table


def test_every_medium_of_the_contract_but_none_is_there() -> None:
    assert set(media()) == set(rows.MEDIA) - {"none"}


def test_moss_holds_more_water_than_bark_and_pebbles_least() -> None:
    held = {key: each.held_share for key, each in media().items()}
    assert held["sphagnum"] > held["bark_and_sphagnum"] > held["bark"] > held["clay_pebbles"]


@pytest.mark.parametrize(
    ("column", "value", "phrase"),
    [
        ("quantity", "colour", "unknown quantity"),
        ("unit", "percent", "unknown quantity"),
        ("value", "1.5", "share up to 1"),
        ("value", "0", "share up to 1"),
        ("source", "rumour", "unknown source"),
        ("medium", "gravel", "lacks"),
    ],
)
def test_wrong_row_is_an_error(
    monkeypatch: pytest.MonkeyPatch, column: str, value: str, phrase: str
) -> None:
    first, *others = read_table("media", ())
    monkeypatch.setattr(media_module, "read_table", lambda *_: ({**first, column: value}, *others))
    with pytest.raises(ReferenceDataError, match=phrase):
        media.__wrapped__()
