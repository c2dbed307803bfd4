"""The ``[evening]`` of a setlist: when it is played, by the clock or the sun, and what is seen between the songs."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, time
from pathlib import PurePosixPath
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, InstanceOf, Strict, WithJsonSchema, model_validator

from eavesong.entries import Entry
from eavesong.errors import MisfitError

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
IN_FULL = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
DAYS_MEANT = "Days are mon, tue, wed, thu, fri, sat, sun. Write ['fri', 'sat'], or 'mon-fri' for a range."
LONGEST_SHIFT = 720
"""Minutes that a time may lie from dusk or sunset at most."""


@dataclass(frozen=True)
class WallTime:
    """A time of day: by the clock, or some minutes after (before, when negative) dusk or sunset."""

    anchor: Literal["clock", "dusk", "sunset"]
    minutes: int
    """After midnight for ``clock``, else after the anchor."""

    def __str__(self) -> str:
        if self.anchor == "clock":
            return f"{self.minutes // 60:02d}:{self.minutes % 60:02d}"
        return self.anchor + (f" {'+' if self.minutes > 0 else '-'} {abs(self.minutes)} min" if self.minutes else "")


_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_SUN = re.compile(r"(dusk|sunset)(?:\s*([+-])\s*(\d{1,3})\s*(min|h))?")


def parse_moment(text: str) -> WallTime:
    """``17:30``, ``dusk``, ``sunset + 20 min``, ``dusk - 1 h``. Raises MisfitError for anything else."""
    if found := _CLOCK.fullmatch(text.strip()):
        return WallTime("clock", 60 * int(found[1]) + int(found[2]))
    if found := _SUN.fullmatch(text.strip()):
        minutes = int(found[3] or 0) * (60 if found[4] == "h" else 1) * (-1 if found[2] == "-" else 1)
        if abs(minutes) <= LONGEST_SHIFT:
            return WallTime("dusk" if found[1] == "dusk" else "sunset", minutes)
    raise MisfitError("this is no time of day", "Write '17:30', 'dusk' or 'sunset + 20 min'.")


def _moment(value: Any) -> Any:
    if isinstance(value, time):  # TOML's own local time
        return WallTime("clock", 60 * value.hour + value.minute)
    if isinstance(value, WallTime):
        return value
    if not isinstance(value, str):
        raise MisfitError("this is no time of day", "Write '17:30', 'dusk' or 'sunset + 20 min'.")
    return parse_moment(value)


def _by_the_clock(moment: WallTime) -> WallTime:
    if moment.anchor != "clock":
        raise MisfitError("quiet hours go by the clock", "Write '22:30'.")
    return moment


def _two_times(span: tuple[WallTime, WallTime]) -> tuple[WallTime, WallTime]:
    if span[0] == span[1]:
        raise MisfitError("quiet hours begin and end at the same time", "Write two times, like ['22:30', '07:00'].")
    return span


def beside(file: str) -> str:
    """Keep a file in or below the setlist's folder, whatever system its path was written on."""
    path = PurePosixPath(file.replace("\\", "/"))
    if path.is_absolute() or re.match(r"^[A-Za-z]:", file):
        advice = f'Put the file beside the setlist or below, and name it from there, like "{path.name}".'
        raise MisfitError("this path leads out of the setlist's folder, or holds on one computer alone", advice)
    if ".." in path.parts or not file.isprintable():
        raise MisfitError("this path leads out of the setlist's folder", "Put the file beside the setlist or below.")
    return file if "\\" in file else str(path)  # one spelling of each: ``./hut.toml`` is ``hut.toml``


def _zone(name: str) -> str:
    from zoneinfo import ZoneInfo

    try:
        ZoneInfo(name)
    except (OSError, ValueError, LookupError):
        raise MisfitError("there is no time zone of this name", "Write one like 'Europe/Helsinki'.") from None
    return name


def _short_days(value: Any) -> Any:
    """Days by their first three letters, also where they are written in full, as a range, or one alone."""
    days = re.split(r"\s*,\s*", value.strip()) if isinstance(value, str) else value
    if not isinstance(days, list | tuple):
        raise MisfitError("these are no days", DAYS_MEANT)
    return list(dict.fromkeys(short for day in days for short in _days_of(day)))


def _days_of(word: Any) -> tuple[str, ...]:
    """The days that a word names: ``fri``, ``Friday``, ``mon-fri`` or ``sat to mon``."""
    ends = re.split(r"\s*[-–]\s*|\s+to\s+", word.strip().lower()) if isinstance(word, str) else []
    numbers = [(IN_FULL if end in IN_FULL else DAYS).index(end) for end in ends if end in (*DAYS, *IN_FULL)]
    if not ends or len(numbers) != len(ends) or len(ends) > 2:
        raise MisfitError(f"'{word!s:.40}' is no day", DAYS_MEANT)
    return tuple(DAYS[(numbers[0] + more) % 7] for more in range((numbers[-1] - numbers[0]) % 7 + 1))


def _one_range_or_more(value: Any) -> Any:
    if isinstance(value, str):
        times = [time.zfill(5) for time in re.findall(r"\d{1,2}:\d\d", value)]
        written = f'["{times[0]}", "{times[1]}"]' if len(times) == 2 else '["22:30", "07:00"]'
        raise MisfitError("quiet hours are two times in brackets", f"Write quiet = {written}.")
    plain = isinstance(value, list | tuple) and value and not any(isinstance(part, list | tuple) for part in value)
    ranges = [value] if plain else value
    if isinstance(ranges, list | tuple):
        for each in ranges:
            if isinstance(each, list | tuple) and len(each) != 2:
                first, last, *_ = [f"{time!s:.5}" for time in each] + ["22:30", "07:00"][len(each) :]
                written = f'["{first}", "{last}"]'
                advice = f"Write {written}, or several of such pairs: [{written}, …]."
                raise MisfitError(f"quiet hours are from one time to another, and here {_times(len(each))}", advice)
    return ranges


def _times(count: int) -> str:
    """``is 1 time``, ``are 3 times``."""
    return "is 1 time" if count == 1 else f"are {count} times"


TimeOfDay = Annotated[InstanceOf[WallTime], BeforeValidator(_moment), WithJsonSchema({"type": "string"})]
ByTheClock = Annotated[TimeOfDay, AfterValidator(_by_the_clock)]
Quiet = Annotated[tuple[ByTheClock, ByTheClock], Strict(False), AfterValidator(_two_times)]
Seconds = Annotated[float, Field(ge=0, le=86_400, allow_inf_nan=False)]


def _a_day(value: Any) -> Any:
    """A date, also one in quotes. MisfitError for what is none."""
    if not isinstance(value, str):
        return value
    try:
        return date.fromisoformat(value.strip())
    except ValueError:
        raise MisfitError("this is no date", "Write year, month and day, as 2026-12-01.") from None


def _idle_look(idle: str) -> str:
    """An idle look: a frames file or a colour. MisfitError for what is none."""
    from eavesong.palettes import one_colour_of

    if idle.endswith(".h5"):
        return beside(idle)
    one_colour_of(idle)  # which it stays under its name: a house may have another in its place
    return idle


Day = Annotated[date, BeforeValidator(_a_day)]


class Evening(Entry):
    """When the setlist is played, and what is seen between the songs."""

    start: TimeOfDay
    end: TimeOfDay
    days: Annotated[
        tuple[Literal[DAYS], ...],  # type: ignore[valid-type]
        Strict(False),
        Field(min_length=1, max_length=7),
        BeforeValidator(_short_days, json_schema_input_type=str | list[str]),
    ] = DAYS
    first_date: Day | None = None
    last_date: Day | None = None
    not_before: ByTheClock | None = None
    order: Literal["listed", "shuffle"] = "listed"
    repeat: bool = True
    """Begin again when the list is through, until ``end``."""
    pause: Seconds = 5.0
    """Seconds between songs."""
    idle: Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_idle_look)] | None = None
    """What is seen between songs: a frames file, over and over, or a colour; black without."""
    idle_level: Annotated[float, Field(ge=0, le=0.5, allow_inf_nan=False)] = 0.1
    quiet: Annotated[tuple[Quiet, ...], Strict(False), Field(max_length=20), BeforeValidator(_one_range_or_more)] = ()
    """Times between which nothing is lit, whatever else is asked for."""
    latitude: Annotated[float, Field(ge=-90, le=90, allow_inf_nan=False)] | None = None
    """Degrees, north positive."""
    longitude: Annotated[float, Field(ge=-180, le=180, allow_inf_nan=False)] | None = None
    """Degrees, east positive."""
    timezone: Annotated[str, Field(max_length=60), AfterValidator(_zone)] | None = None
    """A name of the IANA time zone database; the computer's own without."""

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        suns = [str(each) for each in (self.start, self.end) if each.anchor != "clock"]
        if suns and (self.latitude is None or self.longitude is None):
            raise MisfitError(
                f"'{suns[0]}' needs a place", "Add 'latitude' and 'longitude' in degrees below [evening]."
            )
        if self.start == self.end:
            raise MisfitError("'start' and 'end' are the same time", "Write two times.")
        if self.first_date and self.last_date and self.first_date > self.last_date:
            raise MisfitError("'first_date' comes after 'last_date'", "Exchange them.")
        return self
