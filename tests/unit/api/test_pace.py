"""The pace of callers, counted by the minute."""

from service.api import pace
from service.api.pace import Pace


class Clock:
    """Seconds that a test sets."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def test_requests_within_the_minute_are_allowed_and_the_next_is_not() -> None:
    counted = Pace(3, Clock())
    assert [counted.count("a") for _ in range(4)] == [
        (True, 2, 60),
        (True, 1, 60),
        (True, 0, 60),
        (False, 0, 60),
    ]


def test_every_caller_has_a_minute_of_its_own() -> None:
    counted = Pace(1, Clock())
    assert counted.count("a")[0]
    assert counted.count("b")[0]
    assert not counted.count("a")[0]


def test_minute_starts_with_the_first_request_and_ends() -> None:
    clock = Clock()
    counted = Pace(1, clock)
    assert counted.count("a")[0]
    clock.now += 59.2
    assert counted.count("a") == (False, 0, 1)
    clock.now += 0.8
    assert counted.count("a") == (True, 0, 60)


def test_memory_is_bounded_and_forgets_whom_it_has_not_heard_of_for_longest(monkeypatch) -> None:
    monkeypatch.setattr(pace, "MOST_CALLERS", 2)
    counted = Pace(1, Clock())
    for caller in ("a", "b", "a", "c"):
        counted.count(caller)
    assert list(counted.windows) == ["a", "c"]
