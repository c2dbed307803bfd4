"""Evenings by the wall clock: days, dusk, midnight, summer time, quiet hours, and what is played when."""

from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.season.schedule import Calendar, LocalZone, OneEvening, order_of, plan_evening
from eavesong.season.setlist import Evening

HELSINKI = ZoneInfo("Europe/Helsinki")


def calendar(zone: tzinfo = UTC, **keys: Any) -> Calendar:
    return Calendar(Evening(**{"start": "17:00", "end": "22:00", **keys}), zone)


def at(day: int, hour: int, minute: int = 0, zone: tzinfo = UTC, month: int = 12) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=zone)


def test_an_evening() -> None:
    window = calendar().current(at(4, 17))
    assert window == OneEvening(date(2026, 12, 4), at(4, 17), at(4, 22))
    assert calendar().current(at(4, 16, 59)) is None
    assert calendar().current(at(4, 22)) is None


def test_past_midnight() -> None:
    late = calendar(start="20:00", end="01:30", days=("fri",))
    assert late.current(at(5, 1, 29)) == OneEvening(date(2026, 12, 4), at(4, 20), at(5, 1, 30))  # a Friday's evening
    assert late.current(at(5, 1, 30)) is None
    assert late.current(at(5, 21)) is None


def test_a_night_too_short_for_an_evening_has_none() -> None:
    # Oslo at midsummer: sunset about 22:43 (from memory, to some minutes), after an end at 22:00.
    place = {"latitude": 59.9, "longitude": 10.75}
    oslo = ZoneInfo("Europe/Oslo")
    assert calendar(oslo, start="sunset", end="22:00", **place).window(date(2026, 6, 21)) is None
    into_the_night = calendar(oslo, start="sunset", end="00:30", **place).window(date(2026, 6, 21))
    assert into_the_night is not None
    assert into_the_night.end == at(22, 0, 30, oslo, month=6)
    assert calendar(start="17:00", end="22:00", not_before="22:30").window(date(2026, 12, 4)) is None
    assert calendar(start="17:00", end="01:00", not_before="22:30").window(date(2026, 12, 4)) is not None


def test_days_and_dates() -> None:
    weekend = calendar(days=("sat", "sun"), first_date=date(2026, 12, 6), last_date=date(2026, 12, 13))
    days = [day for day in range(1, 32) if weekend.window(date(2026, 12, day))]
    assert days == [6, 12, 13]
    following = weekend.following(at(7, 12))
    assert following is not None
    assert following.day == date(2026, 12, 12)
    assert weekend.following(at(20, 12)) is None


def test_dusk() -> None:
    # Helsinki, 4 December: sunset 15:17, end of civil twilight about 16:09 (from memory, to some minutes).
    by_the_sun = calendar(HELSINKI, start="dusk", latitude=60.17, longitude=24.94)
    window = by_the_sun.window(date(2026, 12, 4))
    assert window is not None
    assert abs(window.start - at(4, 16, 9, HELSINKI)) < timedelta(minutes=5)
    later = calendar(HELSINKI, start="dusk + 20 min", latitude=60.17, longitude=24.94).window(date(2026, 12, 4))
    assert later is not None
    assert later.start - window.start == timedelta(minutes=20)
    not_before = calendar(HELSINKI, start="dusk", latitude=60.17, longitude=24.94, not_before="17:00")
    early = not_before.window(date(2026, 12, 4))
    assert early is not None
    assert early.start == at(4, 17, 0, HELSINKI)


def test_midsummer_in_the_north_has_no_evening() -> None:
    bright = calendar(HELSINKI, start="dusk", end="02:00", latitude=69.65, longitude=18.96)
    assert bright.window(date(2026, 6, 21)) is None
    following = bright.following(at(21, 12, 0, HELSINKI, month=6))
    assert following is not None
    assert following.day.month in (7, 8)


def test_polar_night_begins_at_noon_or_when_told() -> None:
    dark = {"start": "dusk", "latitude": 78.22, "longitude": 15.65, "timezone": "Arctic/Longyearbyen"}
    window = calendar(**dark).window(date(2026, 12, 21))
    assert window is not None
    assert window.start.hour in (11, 12)
    told = calendar(**dark, not_before="16:00").window(date(2026, 12, 21))
    assert told is not None
    assert told.start.hour == 16


@pytest.mark.parametrize(
    ("day", "hours"),
    [
        # Directive 2000/84/EC: clocks go forward at 01:00 UTC on the last Sunday of March, back in October.
        (date(2026, 3, 28), 5.0),  # 23:00 to 05:00 on the night that lacks an hour
        (date(2026, 10, 24), 7.0),
        (date(2026, 12, 4), 6.0),
    ],
)
def test_summer_time(day: date, hours: float) -> None:
    night = calendar(HELSINKI, start="23:00", end="05:00").window(day)
    assert night is not None
    assert (night.end.astimezone(UTC) - night.start.astimezone(UTC)).total_seconds() / 3600 == hours


def test_a_time_that_does_not_exist_is_still_a_moment() -> None:
    skipped = calendar(HELSINKI, start="03:30", end="06:00").window(date(2026, 3, 29))
    assert skipped is not None
    assert skipped.start.astimezone(UTC) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)


def test_quiet_hours() -> None:
    night = calendar(quiet=(("22:30", "07:00"), ("12:00", "13:00")))
    assert [night.quiet(at(4, *time)) for time in ((22, 29), (22, 30), (0, 0), (6, 59), (7, 0))] == [
        False, True, True, True, False,
    ]  # fmt: skip
    assert night.quiet(at(4, 12, 30))
    assert night.quiet_from(at(4, 20), at(5, 2)) == at(4, 22, 30)
    assert night.quiet_from(at(4, 20), at(4, 22, 30)) is None


def test_the_computers_own_zone() -> None:
    zone = LocalZone()
    now = datetime.now().astimezone()
    assert now.astimezone(zone).replace(tzinfo=None) == now.replace(tzinfo=None)
    assert now.astimezone(zone).utcoffset() == now.utcoffset()


def test_shuffling_is_the_same_each_time_it_is_asked() -> None:
    first = order_of(20, date(2026, 12, 4), 0, shuffle=True)
    assert first == order_of(20, date(2026, 12, 4), 0, shuffle=True)
    assert first != order_of(20, date(2026, 12, 5), 0, shuffle=True)
    assert first != order_of(20, date(2026, 12, 4), 1, shuffle=True)
    for count in (2, 3, 4, 7):
        orders = [order_of(count, date(2026, 12, 4), round_, shuffle=True) for round_ in range(60)]
        assert all(sorted(each) == list(range(count)) for each in orders)
        assert all(one[-1] != other[0] for one, other in pairwise(orders))  # no song twice running
    assert sorted(first) == list(range(20)) == list(order_of(20, date(2026, 12, 4), 0, shuffle=False))


def turns(found: Calendar, lengths: list[float | None]) -> list[tuple[str, int]]:
    window = found.window(date(2026, 12, 4))
    assert window is not None
    return [(f"{turn.start:%H:%M:%S}", turn.song) for turn in plan_evening(found, window, lengths)]


def test_a_plan() -> None:
    short = calendar(end="17:10", pause=30.0)
    assert turns(short, [120.0, None, 180.0]) == [
        ("17:00:00", 0), ("17:02:30", 2), ("17:06:00", 0),
    ]  # fmt: skip
    # At 17:08:30 a song of 3 minutes would not end in time; the one of 2 would not either.


def test_a_plan_without_repeats() -> None:
    assert turns(calendar(repeat=False, pause=0.0), [60.0, 60.0]) == [("17:00:00", 0), ("17:01:00", 1)]


def test_nothing_to_play_makes_an_empty_plan() -> None:
    assert turns(calendar(), [None, None]) == []
    assert turns(calendar(), [6 * 3600.0]) == []


def test_a_plan_keeps_quiet_hours() -> None:
    found = turns(calendar(quiet=(("17:30", "21:50"),), pause=0.0), [8 * 60.0])
    assert [time for time, _ in found] == ["17:00:00", "17:08:00", "17:16:00", "17:24:00", "21:50:00"]


@settings(max_examples=60)
@given(
    lengths=st.lists(st.one_of(st.none(), st.floats(20, 900)), min_size=1, max_size=8),
    pause=st.floats(0, 60),
    shuffle=st.booleans(),
    quiet=st.integers(0, 1439),
)
def test_any_plan_stays_inside_the_evening(
    lengths: list[float | None], pause: float, shuffle: bool, quiet: int
) -> None:
    mark = f"{quiet // 60:02d}:{quiet % 60:02d}"
    other = f"{(quiet + 45) % 1440 // 60:02d}:{(quiet + 45) % 60:02d}"
    found = calendar(pause=pause, order="shuffle" if shuffle else "listed", quiet=((mark, other),))
    window = found.window(date(2026, 12, 4))
    assert window is not None
    last = window.start
    for turn in plan_evening(found, window, lengths):
        assert last <= turn.start < turn.end <= window.end
        assert not found.quiet(turn.start)
        assert found.quiet_from(turn.start, turn.end) is None
        assert lengths[turn.song]
        last = turn.end


def test_offsets_without_a_name() -> None:
    assert calendar(timezone(timedelta(hours=5, minutes=45))).window(date(2026, 12, 4)) is not None
