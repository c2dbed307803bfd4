"""Whose clock an evening goes by, and clocks that cannot be those of their place."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from eavesong.season.schedule import Calendar
from eavesong.season.times import Evening
from eavesong.season.zones import clock_words, doubt_of_clock, doubt_of_length, end_words, none_words

NOW = datetime(2026, 12, 1, 12, tzinfo=UTC)


def calendar(zone: str = "UTC", **keys: Any) -> Calendar:
    return Calendar(Evening(**{"start": "17:00", "end": "22:00", **keys}), ZoneInfo(zone))


@pytest.mark.parametrize(
    ("zone", "keys", "doubted"),
    [
        ("UTC", {}, False),  # by the clock alone any will do
        ("UTC", {"longitude": -81.7}, True),  # Cleveland, on a computer left on UTC
        ("UTC", {"longitude": 13.4}, True),  # Berlin
        ("UTC", {"longitude": -0.1}, False),  # London
        ("UTC", {"longitude": 13.4, "timezone": "Europe/Berlin"}, False),
        ("UTC", {"longitude": 76.0, "timezone": "Asia/Shanghai"}, False),  # Kashgar: 2.9 h, and so by law
        ("UTC", {"longitude": 81.7, "timezone": "America/New_York"}, True),  # the minus sign was left out
        ("Europe/Madrid", {"longitude": -8.7}, False),  # Vigo
    ],
)
def test_a_clock_that_the_sun_contradicts_is_doubted(zone: str, keys: dict[str, Any], doubted: bool) -> None:
    """15 degrees of longitude are an hour of the sun; the zones are those of the IANA time zone database."""
    latitude = {"latitude": 41.5} if "longitude" in keys else {}
    assert bool(doubt_of_clock(calendar(zone, **keys, **latitude), NOW)) == doubted


def test_the_doubt_says_what_to_write() -> None:
    told = doubt_of_clock(calendar(longitude=-81.7, latitude=41.5), NOW)
    assert "UTC, this computer's own, and at 81.7° west the sun is about 5 h behind it" in told
    assert 'timezone = "America/New_York"' in told


def test_whose_clock_it_is_and_on_which_day_it_ends() -> None:
    assert clock_words(calendar("Europe/Helsinki"), NOW) == "EET, this computer's own"
    assert clock_words(calendar(timezone="Europe/Helsinki"), NOW) == "Europe/Helsinki"
    late = calendar(end="01:00").following(NOW)
    assert late is not None
    assert end_words(late) == "01:00:00 on Wednesday 02 December"
    usual = calendar().following(NOW)
    assert usual is not None
    assert end_words(usual) == "22:00:00"


def test_why_there_is_none() -> None:
    told = none_words(calendar(start="dusk", end="21:30", latitude=41.5, longitude=-81.7), NOW)
    assert told == "no evening within a year: on every day dusk comes after the end at 21:30, or not at all"
    assert none_words(calendar(), NOW) == "no evening within a year"


@pytest.mark.parametrize(
    ("start", "end", "told"),
    [
        (
            "17:00",
            "9:30",
            'it lasts 16 h 30 min, until 09:30 of the next day. For 9:30 in the evening write end = "21:30"',
        ),
        ("22:00", "21:30", "it lasts 23 h 30 min, until 21:30 of the next day. Let 'end' come after 'start'"),
        ("17:00", "02:00", ""),
        ("6:00", "23:59", ""),  # of one day
        ("17:00", "22:00", ""),
    ],
)
def test_an_evening_that_lasts_into_the_next_day_is_doubted(start: str, end: str, told: str) -> None:
    made = calendar(start=start, end=end)
    doubt = doubt_of_length(made, made.following(NOW))
    assert doubt.endswith(told)
    assert bool(doubt) == bool(told)
