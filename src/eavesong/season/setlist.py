"""The setlist file as pydantic models: songs with their shows and frames, and the evenings they are played on."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, time
from pathlib import Path, PurePosixPath
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    InstanceOf,
    Strict,
    WithJsonSchema,
    model_validator,
)

from eavesong.entries import Entry
from eavesong.errors import EavesongError, MisfitError, Problem, ShowError, advise
from eavesong.files import read_model, read_text
from eavesong.leftovers import fitting_name
from eavesong.words import seconds_on_clock

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
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


def _beside(file: str) -> str:
    """Keep a file in or below the setlist's folder, whatever system its path was written on."""
    path = PurePosixPath(file.replace("\\", "/"))
    if path.is_absolute() or ".." in path.parts or re.match(r"^[A-Za-z]:", file) or not file.isprintable():
        raise MisfitError("this path leads out of the setlist's folder", "Put the file beside the setlist or below.")
    return file


def _song_time(value: Any) -> Any:
    """A time on the clock, ``"1:02.5"``, as seconds."""
    if not isinstance(value, str):
        return value
    if (seconds := seconds_on_clock(value)) is None:
        raise MisfitError(f"'{value:.40}' is no time of a song", "Write seconds, 62.5, or minutes too, '1:02.5'.")
    return seconds


def _zone(name: str) -> str:
    from zoneinfo import ZoneInfo

    try:
        ZoneInfo(name)
    except (OSError, ValueError, LookupError):
        raise MisfitError("there is no time zone of this name", "Write one like 'Europe/Helsinki'.") from None
    return name


def _one_range_or_more(value: Any) -> Any:
    plain = isinstance(value, list | tuple) and value and not any(isinstance(part, list | tuple) for part in value)
    return [value] if plain else value


def _frames_name(file: str) -> str:
    if not file.lower().endswith(".h5"):
        raise MisfitError("this is no frames file", "End its name with '.h5'.")
    return file


def _one_or_more(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


FileBeside = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_beside)]
FramesBeside = Annotated[FileBeside, AfterValidator(_frames_name)]
Layouts = Annotated[
    tuple[FileBeside, ...],
    Strict(False),
    Field(min_length=1, max_length=100),
    BeforeValidator(_one_or_more, json_schema_input_type=str | list[str]),
]
TimeOfDay = Annotated[InstanceOf[WallTime], BeforeValidator(_moment), WithJsonSchema({"type": "string"})]
ByTheClock = Annotated[TimeOfDay, AfterValidator(_by_the_clock)]
Quiet = Annotated[tuple[ByTheClock, ByTheClock], Strict(False), AfterValidator(_two_times)]
Seconds = Annotated[float, Field(ge=0, le=86_400, allow_inf_nan=False)]
SongTime = Annotated[Seconds, BeforeValidator(_song_time, json_schema_input_type=float | str)]


class Evening(Entry):
    """When the setlist is played, and what is seen between the songs."""

    start: TimeOfDay
    end: TimeOfDay
    days: Annotated[tuple[Literal[DAYS], ...], Strict(False), Field(min_length=1, max_length=7)] = DAYS  # type: ignore[valid-type]
    first_date: date | None = None
    last_date: date | None = None
    not_before: ByTheClock | None = None
    order: Literal["listed", "shuffle"] = "listed"
    repeat: bool = True
    """Begin again when the list is through, until ``end``."""
    pause: Seconds = 5.0
    """Seconds between songs."""
    idle: Annotated[str, Field(min_length=1, max_length=200)] | None = None
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
            raise MisfitError(f"'{suns[0]}' needs a place", "Add 'latitude' and 'longitude' in degrees.")
        if self.start == self.end:
            raise MisfitError("'start' and 'end' are the same time", "Write two times.")
        if self.first_date and self.last_date and self.first_date > self.last_date:
            raise MisfitError("'first_date' comes after 'last_date'", "Exchange them.")
        if self.idle and (misfit := _misfit_of_idle(self.idle)):
            raise misfit
        return self


def _misfit_of_idle(idle: str) -> MisfitError | None:
    """What is wrong with an idle look."""
    from eavesong.colours import parse_colour

    try:
        _beside(idle) if idle.endswith(".h5") else parse_colour(idle)
    except MisfitError as fault:
        return fault
    return None


def _readable_limits(limits: tuple[str, ...]) -> tuple[str, ...]:
    from eavesong.within.limiter import parse_limit

    for limit in limits:
        try:
            parse_limit(limit)
        except EavesongError as fault:
            raise MisfitError(fault.problems[0].found, fault.problems[0].instead) from None
    return limits


Words = Annotated[
    tuple[Annotated[str, Field(min_length=1, max_length=80)], ...],
    Strict(False),
    Field(max_length=100),
    BeforeValidator(_one_or_more, json_schema_input_type=str | list[str]),
]
Limits = Annotated[Words, AfterValidator(_readable_limits)]


class Asked(Entry):
    """The terms of an order, as `eavesong.scene.Terms` has them; what is not given is as in the setlist's head, then as
    frames that are there already were made, then as usual."""

    frame_rate: Annotated[float, Field(ge=1, le=240, allow_inf_nan=False)] | None = None
    """Frames a second that are rendered; 40 without."""
    start: SongTime | None = Field(default=None, alias="from")
    """Seconds of the song at which the frames begin."""
    stop: SongTime | None = Field(default=None, alias="to")
    """Seconds of the song before which they end."""
    props: Words | None = None
    """Names or tags of the props that are computed, the others stay dark."""
    limit: Limits | None = None
    """What supplies, outputs or the house may draw: ``supply``, ``output:4A``, ``house:1500W``; [] for no limit."""
    soften: bool | None = None
    """Whether contrast shrinks where there would be more than three flashes in a second."""

    def said(self) -> dict[str, Any]:
        """The terms that are given."""
        values = {name: getattr(self, name) for name in Asked.model_fields}
        return {name: value for name, value in values.items() if value is not None}


class Song(Asked):
    """One song of a setlist: its sound, and what is rendered from it or played with it."""

    song: FileBeside | None = None
    """The sound file."""
    frames: FramesBeside | None = None
    """The frames file; the song's name with ``.h5`` where it is not given."""
    title: Annotated[str, Field(max_length=200)] = ""
    show: FileBeside | None = None
    """The show it is rendered from; the setlist's own where it is not given, and likewise ``layout``."""
    layout: Layouts | None = None
    """The house it is rendered for, or several."""

    @model_validator(mode="after")
    def _something(self) -> Self:
        if self.song is None and self.frames is None:
            raise MisfitError("a song has neither 'song' nor 'frames'", "Add one of them.")
        return self

    @property
    def frames_file(self) -> str:
        """The frames file, given or by the song's name."""
        return self.frames or str(PurePosixPath(self.song or "").with_suffix(".h5"))

    @property
    def name(self) -> str:
        """What people call it."""
        return self.title or PurePosixPath(self.song or self.frames or "").stem


def _tables(value: Any) -> Any:
    if isinstance(value, Mapping):
        raise MisfitError("'song' is a single table", "Write [[song]], in double brackets, above every song.")
    return value


class SetlistFile(Asked):
    """A whole setlist file; the terms in its head hold for every song that does not say otherwise."""

    title: Annotated[str, Field(max_length=200)] = ""
    show: FileBeside | None = None
    """The show of every song that names none."""
    layout: Layouts | None = None
    """The house of every song that names none, or several houses."""
    frames: FileBeside | None = None
    """The folder for the frames of every song that names no file; beside the song where it is not given."""
    pages: FileBeside | None = None
    """The folder for a page of every song that plays it in a browser; none are made where it is not given."""
    findings: Literal["none", "show", "limits"] = "show"
    """What is looked at besides: what ``check`` says of the show on the house, or what ``limits`` says of the frames,
    too."""
    evening: Evening | None = None
    songs: Annotated[
        tuple[Song, ...],
        Strict(False),
        Field(alias="song", min_length=1, max_length=2000),
        BeforeValidator(_tables, json_schema_input_type=list[Song]),
    ]


@dataclass(frozen=True)
class Setlist:
    """A setlist that has been read, and where it lies: its files are counted from there."""

    path: Path
    text: str
    file: SetlistFile
    house: str = ""
    """The house that is meant, as the file names it; empty for all."""

    @property
    def title(self) -> str:
        """What it is called."""
        return self.file.title or self.path.stem

    @property
    def songs(self) -> tuple[Song, ...]:
        """Its songs in the order of the file, each with its frames file; of a house that is meant, its own."""
        return tuple(
            song.model_copy(update={"frames": self.frames_of(song, self.house)})
            for song in self.file.songs
            if not self.house or self.house in (self.layouts_of(song) or (self.house,))
        )

    def frames_of(self, song: Song, house: str = "") -> str:
        """The frames file of a song for a house: in a folder called after it where the song is for several."""
        given = PurePosixPath(song.frames_file)
        folder = given.parent if song.frames or not self.file.frames else PurePosixPath(self.file.frames)
        return str(self.within_house(song, house, folder / fitting_name(given.name)))

    def within_house(self, song: Song, house: str, file: PurePosixPath) -> PurePosixPath:
        """The place of a ``file`` that is made for a house: where a song is for several, each has a folder."""
        several = house and len(self.layouts_of(song)) > 1
        return file.parent / PurePosixPath(house).stem / file.name if several else file

    def idle_file(self, file: str) -> Path:
        """The frames file of the idle look: in the folder of the house that is meant, where it lies there."""
        own = PurePosixPath(file)
        housed = self.beside(str(own.parent / PurePosixPath(self.house).stem / own.name))
        return housed if self.house and housed.is_file() else self.beside(file)

    def for_house(self, house: str | Path | None) -> Setlist:
        """What is played on one ``house``, a layout file by its path or as the setlist names it.

        None: the house that all songs are for. Raises ShowError where there is no such house, or several and none is
        named.
        """
        houses = tuple(dict.fromkeys(each for song in self.file.songs for each in self.layouts_of(song)))
        if house is None:
            if any(len(self.layouts_of(song)) > 1 for song in self.file.songs):
                found = f"its songs are for {len(houses)} houses"
                raise ShowError(Problem(str(self.path), "", found, f"Say which: --layout {' or '.join(houses)}."))
            return self
        meant = [each for each in houses if _same_file(house, each, self.beside(each))]
        if not meant:
            found = f"none of its songs is for '{house}'"
            raise ShowError(Problem(str(self.path), "", found, advise(str(house), houses, "house")))
        return replace(self, house=meant[0])

    def layouts_of(self, song: Song) -> tuple[str, ...]:
        """The houses that a song is rendered for."""
        return song.layout or self.file.layout or ()

    def show_of(self, song: Song) -> str:
        """The show that a song is rendered from; empty where none is named."""
        return song.show or self.file.show or ""

    def said(self, song: Song) -> dict[str, Any]:
        """The terms that are asked for of a song, by itself or for all."""
        return self.file.said() | song.said()

    def beside(self, file: str) -> Path:
        """The path of a file that it names."""
        return self.path.parent / file


def _same_file(given: str | Path, name: str, path: Path) -> bool:
    """Whether a house that somebody gives is the one that a setlist calls ``name``, which lies at ``path``."""
    return str(given) == name or os.path.abspath(given) == os.path.abspath(path)


def load_setlist(path: str | Path) -> Setlist:
    """The setlist in the TOML file ``path``. Raises ShowError with every problem and what to write instead."""
    text = read_text(path, ShowError)
    return Setlist(Path(path), text, read_model(SetlistFile, text, str(path), ShowError))


def setlist_schema() -> dict[str, Any]:
    """The JSON Schema of setlist files, for editors."""
    return SetlistFile.model_json_schema(by_alias=True)
