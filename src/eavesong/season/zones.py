"""Whose clock an evening goes by, in words, and whether that can be the clock of the place where the house is."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from eavesong.season.times import WallTime

if TYPE_CHECKING:
    from eavesong.season.schedule import Calendar, OneEvening

NOON = 12 * 60
"""Minutes after midnight."""
DEGREES = 15.0
"""Of longitude that the sun takes an hour for."""
FAR, APART = 3.5, 0.75
"""Hours between a clock and the mean sun from which on it is doubted: of a clock that somebody set (in the west of
China and of Spain it is nearly three), and of a computer left on UTC."""

LONGEST = timedelta(hours=12)
"""Of an evening that is not doubted."""


def clock_words(calendar: Calendar, moment: datetime) -> str:
    """Whose clock a moment is told by: ``Europe/Helsinki``, ``UTC, this computer's own``."""
    named = calendar.evening.timezone
    return named or f"{moment.astimezone(calendar.zone).tzname() or 'local'}, this computer's own"


def doubt_of_clock(calendar: Calendar, moment: datetime) -> str:
    """Why the clock that an evening goes by is probably not that of its place; empty where it may be, or no place is
    told."""
    evening = calendar.evening
    if evening.longitude is None:
        return ""
    offset = (moment.astimezone(calendar.zone).utcoffset() or timedelta()) / timedelta(hours=1)
    untold = evening.timezone is None and offset == 0
    if abs(offset - evening.longitude / DEGREES) < (APART if untold else FAR):
        return ""
    sun = f"{abs(evening.longitude):g}° {'east' if evening.longitude > 0 else 'west'}"
    apart = offset - evening.longitude / DEGREES
    return (
        f"the times are told by the clock of {clock_words(calendar, moment)}, and at {sun} the sun is about "
        f"{abs(apart):.0f} h {'behind' if apart > 0 else 'ahead of'} it. Write the place's own below [evening], such "
        'as timezone = "America/New_York", or mend the longitude'
    )


def doubt_of_length(calendar: Calendar, window: OneEvening | None) -> str:
    """Why an evening is probably shorter than it is written; empty where it is not."""
    end = calendar.evening.end
    if window is None or (length := window.end - window.start) <= LONGEST:
        return ""
    if window.end.date() == window.start.date():  # from morning on, which nobody writes by mistake
        return ""
    meant = "Let 'end' come after 'start'"
    if end.anchor == "clock" and end.minutes < NOON:
        late = WallTime("clock", end.minutes + NOON)
        meant = f'For {end.minutes // 60}:{end.minutes % 60:02} in the evening write end = "{late}"'
    minutes = length // timedelta(minutes=1)
    return f"it lasts {minutes // 60} h {minutes % 60} min, until {window.end:%H:%M} of the next day. {meant}"


def none_words(calendar: Calendar, moment: datetime) -> str:
    """That no evening comes within a year, and why that may be."""
    evening = calendar.evening
    if evening.first_date or evening.last_date or evening.start.anchor == "clock":
        return "no evening within a year"
    return f"no evening within a year: on every day {evening.start} comes after the end at {evening.end}, or not at all"


def end_words(window: OneEvening) -> str:
    """When an evening ends, with the day where that is another one than it began on."""
    day = f" on {window.end:%A %d %B}" if window.end.date() != window.start.date() else ""
    return f"{window.end:%H:%M:%S}{day}"
