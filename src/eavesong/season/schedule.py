"""When an evening begins and ends, when it must be quiet, and what is played: by the clock on the wall."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import TYPE_CHECKING

from eavesong.season import sun

if TYPE_CHECKING:
    from eavesong.season.times import Evening, WallTime

FURTHEST = 400
"""Days that are searched for the next evening: a year, and some."""
ZENITHS = {"dusk": sun.DUSK, "sunset": sun.SUNSET}


@dataclass(frozen=True)
class OneEvening:
    """One evening: from ``start`` until ``end``, both with a time zone."""

    day: date
    start: datetime
    end: datetime


NOON = 12 * 60
"""Minutes after midnight before which an end is one of the night."""


class Calendar:
    """The evenings of a setlist. Times are compared as moments, so summer time shifts nothing by an hour."""

    def __init__(self, evening: Evening, local: tzinfo | None = None) -> None:
        """``local`` is the zone of a setlist that names none: the computer's own where it is None."""
        self.evening = evening
        self.zone = _zone_of(evening, local)

    def window(self, day: date) -> OneEvening | None:
        """The evening that begins on ``day``; None when there is none, or it does not get dark."""
        evening = self.evening
        if (evening.first_date and day < evening.first_date) or (evening.last_date and day > evening.last_date):
            return None
        from eavesong.season.times import DAYS

        if DAYS[day.weekday()] not in evening.days:
            return None
        start = self._moment(day, evening.start)
        if start is None:
            return None
        if evening.not_before:
            start = max(start, self._clock(day, evening.not_before.minutes), key=_moment_of)
        end = self._moment(day, evening.end)
        if end is None:
            return None
        if _moment_of(end) <= _moment_of(start) and self._after_midnight(start):
            end = self._clock(day + timedelta(days=1), evening.end.minutes)
        return OneEvening(day, start, end) if _moment_of(end) > _moment_of(start) else None

    def _after_midnight(self, start: datetime) -> bool:
        """Whether an ``end`` by the clock that is not after the ``start`` is meant for the next day.

        It is not where the sun, or ``not_before``, put the start past an end in the evening: dusk at 22:50, end at
        22:00. That day has no evening, or it would last until the next.
        """
        own, end = self.evening.start, self.evening.end
        as_written = own.anchor == "clock" and _moment_of(start) == _moment_of(self._clock(start.date(), own.minutes))
        return end.anchor == "clock" and (as_written or end.minutes < NOON)

    def current(self, now: datetime) -> OneEvening | None:
        """The evening that ``now`` lies in."""
        today = now.astimezone(self.zone).date()
        for day in (today - timedelta(days=1), today):
            window = self.window(day)
            if window and _moment_of(window.start) <= _moment_of(now) < _moment_of(window.end):
                return window
        return None

    def following(self, now: datetime) -> OneEvening | None:
        """The evening that ``now`` lies in or, if none, the next one within a year."""
        if found := self.current(now):
            return found
        today = now.astimezone(self.zone).date()
        for ahead in range(FURTHEST):
            window = self.window(today + timedelta(days=ahead))
            if window and _moment_of(window.start) > _moment_of(now):
                return window
        return None

    def quiet(self, now: datetime) -> bool:
        """Whether ``now`` lies in quiet hours: from their start on, until before their end."""
        here = now.astimezone(self.zone)
        minute = 60 * here.hour + here.minute
        return any(_between(minute, first.minutes, last.minutes) for first, last in self.evening.quiet)

    def quiet_from(self, now: datetime, until: datetime) -> datetime | None:
        """The first moment from ``now`` to ``until`` that lies in quiet hours, to the minute; None if there is none."""
        moment = now
        while _moment_of(moment) < _moment_of(until):
            if self.quiet(moment):
                return moment
            moment = (_moment_of(moment) + timedelta(minutes=1)).replace(second=0, microsecond=0).astimezone(self.zone)
        return None

    def _moment(self, day: date, moment: WallTime) -> datetime | None:
        if moment.anchor == "clock":
            return self._clock(day, moment.minutes)
        place = self.evening.latitude or 0.0, self.evening.longitude or 0.0
        found = sun.nightfall(day, *place, self.zone, ZENITHS[moment.anchor])
        return found + timedelta(minutes=moment.minutes) if found else None

    def _clock(self, day: date, minutes: int) -> datetime:
        return datetime.combine(day, time(minutes // 60, minutes % 60), self.zone)


def _zone_of(evening: Evening, local: tzinfo | None) -> tzinfo:
    if evening.timezone:
        from zoneinfo import ZoneInfo

        return ZoneInfo(evening.timezone)
    return local or LocalZone()


class LocalZone(tzinfo):
    """The zone the computer is set to, summer time and all: what ``time.localtime`` says for each moment."""

    def utcoffset(self, moment: datetime | None) -> timedelta:
        """Offset from UTC at a local time."""
        if moment is None:
            return timedelta(0)
        return moment.replace(tzinfo=None).astimezone().utcoffset() or timedelta(0)

    def dst(self, moment: datetime | None) -> timedelta | None:
        """Not told apart from the offset."""
        return None

    def tzname(self, moment: datetime | None) -> str:
        """The zone's name at a local time."""
        return moment.replace(tzinfo=None).astimezone().tzname() or "local" if moment else "local"

    def fromutc(self, moment: datetime) -> datetime:
        """A moment of UTC, here."""
        here = moment.replace(tzinfo=UTC).astimezone()
        return here.replace(tzinfo=self)


def _moment_of(time_of_day: datetime) -> datetime:
    """In UTC: Python compares and subtracts datetimes of one zone by their wall clock, deaf to summer time."""
    return time_of_day.astimezone(UTC)


def _between(minute: int, first: int, last: int) -> bool:
    return first <= minute < last if first < last else minute >= first or minute < last


def order_of(count: int, day: date, round_: int, *, shuffle: bool) -> Sequence[int]:
    """The order in which ``count`` songs are played in one round of an evening.

    Shuffled, it depends on the day and the round only, so that a rehearsal on paper tells what will happen; no round
    begins with the song that the one before it ended with.
    """
    if not shuffle:
        return range(count)
    if count < FEWEST:  # two take turns
        return _shuffled(count, day, 0)
    numbers = _shuffled(count, day, round_)
    if round_ and numbers[0] == _shuffled(count, day, round_ - 1)[-1]:  # not the same song twice running
        numbers[0], numbers[1] = numbers[1], numbers[0]
    return numbers


FEWEST = 3
"""Songs from which on each round has an order of its own."""


def _shuffled(count: int, day: date, round_: int) -> list[int]:
    numbers = list(range(count))
    random.Random(f"{day.isoformat()} {round_}").shuffle(numbers)
    return numbers


@dataclass(frozen=True)
class SongTurn:
    """One song's turn in an evening."""

    start: datetime
    end: datetime
    song: int
    """Its place in the setlist, from 0."""


def plan_evening(calendar: Calendar, window: OneEvening, lengths: Sequence[float | None]) -> Iterator[SongTurn]:
    """The turns of an evening, for songs of these seconds; None for one that cannot be played, which is left out.

    No song begins that would not end before the evening does; one that runs into quiet hours is cut there.
    """
    evening = calendar.evening
    if not any(lengths):
        return
    now, round_ = window.start, 0
    while round_ == 0 or evening.repeat:
        began = now
        for song in order_of(len(lengths), window.day, round_, shuffle=evening.order == "shuffle"):
            length = lengths[song]
            if not length:
                continue
            now = _after_quiet(calendar, now, window.end)
            end = _moment_of(now) + timedelta(seconds=length)
            if end > _moment_of(window.end):
                continue
            cut = calendar.quiet_from(now, end)
            yield SongTurn(now, (cut or end).astimezone(calendar.zone), song)
            now = (_moment_of(cut or end) + timedelta(seconds=evening.pause)).astimezone(calendar.zone)
        round_ += 1
        if now == began:
            return


def _after_quiet(calendar: Calendar, now: datetime, until: datetime) -> datetime:
    """The first moment from ``now`` on that is not in quiet hours; ``until`` when there is none before."""
    while calendar.quiet(now) and _moment_of(now) < _moment_of(until):
        now = (_moment_of(now) + timedelta(minutes=1)).replace(second=0, microsecond=0).astimezone(calendar.zone)
    return now
