"""The setlist file as pydantic models: songs with their shows and frames, and the evenings they are played on."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path, PurePosixPath
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    Strict,
    model_validator,
)

from eavesong.entries import Entry
from eavesong.errors import EavesongError, MisfitError, Problem, ShowError, advise, nearest
from eavesong.files import read_text
from eavesong.leftovers import fitting_name
from eavesong.playback.wanted import song_meant
from eavesong.season.times import Evening, Seconds, beside
from eavesong.slips import in_order, read_entries
from eavesong.statements import place
from eavesong.words import seconds_on_clock, song_time_meant

MOST_NAMED = 24
"""Houses that are named to somebody who asks for one that a setlist has not got."""


def _song_time(value: Any) -> Any:
    """A time on the clock, ``"1:02.5"``, as seconds."""
    if not isinstance(value, str):
        return value
    if (seconds := seconds_on_clock(value)) is None:
        raise MisfitError(f"'{value:.40}' is no time of a song", song_time_meant(value))
    return seconds


def _frames_name(file: str) -> str:
    if not file.lower().endswith(".h5"):
        raise MisfitError("this is no frames file", "End its name with '.h5'.")
    return file


def _folder_name(name: str) -> str:
    if not name.isprintable() or name.startswith(".") or {"/", "\\", ":"} & {*name}:
        raise MisfitError(f"'{name:.40}' is no name of a folder", "Write letters, digits and blanks, 'Mill Lane 7'.")
    return name


def _one_or_more(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


def _words(value: Any) -> Any:
    """Words in one text, with commas between, as a list of them."""
    return [word.strip() for word in value.split(",")] if isinstance(value, str) else value


FileBeside = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(beside)]
FramesBeside = Annotated[FileBeside, AfterValidator(_frames_name)]
COMMON = ("house", "layout")
"""Names of layout files that say nothing: a house is called after their folder, be it the only one or not."""
Layouts = Annotated[
    tuple[FileBeside, ...],
    Strict(False),
    Field(min_length=1, max_length=100),
    BeforeValidator(_one_or_more, json_schema_input_type=str | list[str]),
]
SongTime = Annotated[Seconds, BeforeValidator(_song_time, json_schema_input_type=float | str)]


def _named_limits(value: Any) -> Any:
    """The value; MisfitError for a number alone, which says neither of what nor in which unit."""
    for each in value if isinstance(value, list) else [value]:
        if isinstance(each, int | float) and not isinstance(each, bool):
            raise MisfitError(
                f"a limit of {each:g} does not say of what, or in which unit", f'Write "house:{each:g}W".'
            )
    return value


def _readable_limits(limits: tuple[str, ...]) -> tuple[str, ...]:
    from eavesong.within.limiter import in_quotes, parse_limit

    for limit in limits:
        try:
            parse_limit(limit)
        except EavesongError as fault:
            raise MisfitError(fault.problems[0].found, in_quotes(fault.problems[0].instead)) from None
    return limits


Words = Annotated[
    tuple[Annotated[str, Field(min_length=1, max_length=80)], ...],
    Strict(False),
    Field(max_length=100),
    BeforeValidator(_one_or_more, json_schema_input_type=str | list[str]),
]
Limits = Annotated[Words, BeforeValidator(_named_limits), AfterValidator(_readable_limits)]


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


class PageWishes(Entry):
    """Whom the pages are for, and what they keep from them; as in the head of the setlist where it is not given."""

    reader: Annotated[str, Field(max_length=200)] = Field(default="", alias="for")
    """Whom a page is for; it stands at its head."""
    date: Annotated[str, Field(max_length=60)] = ""
    """A date at the head of a page, as it shall stand there."""
    without: Annotated[
        tuple[Literal["wiring", "cues", "names"], ...],
        Strict(False),
        BeforeValidator(_words, json_schema_input_type=str | list[str]),
    ] = ()
    """What a page does not hold."""


class AskedOfHouse(Asked, PageWishes):
    """What is asked for on one house, whatever song it is."""

    layout: FileBeside
    """Its layout file, as the songs or the head of the setlist name it; where neither does, songs are for all these."""
    name: Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_folder_name)] | None = None
    """The folder of its frames and pages; the layout file's name without it."""


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
    """The house it is rendered for, or several. Without it for all that have no version of their own, an entry of the
    same sound that names them."""

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
        raise MisfitError("this is a single table", "Write it in double brackets, [[song]] or [[house]], above each.")
    return value


class SetlistFile(Asked, PageWishes):
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
    houses: Annotated[
        tuple[AskedOfHouse, ...],
        Strict(False),
        Field(alias="house", max_length=100),
        BeforeValidator(_tables, json_schema_input_type=list[AskedOfHouse]),
    ] = ()
    """What is asked for on each house."""
    songs: Annotated[
        tuple[Song, ...],
        Strict(False),
        Field(alias="song", min_length=1, max_length=2000),
        BeforeValidator(_tables, json_schema_input_type=list[Song]),
    ]

    @model_validator(mode="after")
    def _houses_fit(self) -> Self:
        told = [house.layout for house in self.houses]
        if twice := next((layout for layout in told if told.count(layout) > 1), None):
            raise MisfitError(f"'{twice}' has two [[house]]", "Write all that is asked for on it below one.")
        if meant := {*(self.layout or ()), *(each for song in self.songs for each in song.layout or ())}:
            everywhere = self.layout or all(song.layout for song in self.songs)
            if everywhere and (idle := next((layout for layout in told if layout not in meant), None)):
                raise MisfitError(f"no song is for the [[house]] '{idle}'", advise(idle, meant, "layout"))
        return self


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
        """Its songs in the order of the file, each with its frames file; of a house that is meant, its own: a version
        of its own stands where that for all houses does."""
        return tuple(
            song.model_copy(
                update={"frames": self.frames_of(song, self.house), "layout": self.layouts_of(song) or None}
            )
            for song in (self._of_house() if self.house else self.file.songs)
        )

    def _of_house(self) -> Iterator[Song]:
        """The songs of the house that is meant."""
        own = {(song.song, song.frames_file): song for song in self.file.songs if self.house in (song.layout or ())}
        every = {(song.song, song.frames_file) for song in self.file.songs if not song.layout}
        for song in self.file.songs:
            key = song.song, song.frames_file
            here = self.house in (self.layouts_of(song) or (self.house,))
            if not song.layout and not here and (version := own.pop(key, None)) is not None:
                yield version
            elif here and not (song.layout and key in every):
                yield song

    def frames_of(self, song: Song, house: str = "") -> str:
        """The frames file of a song for a house: in a folder called after it where houses have folders."""
        given = PurePosixPath(song.frames_file)
        folder = given.parent if song.frames or not self.file.frames else PurePosixPath(self.file.frames)
        return str(self.within_house(song, house, folder / fitting_name(given.name)))

    def within_house(self, song: Song, house: str, file: PurePosixPath) -> PurePosixPath:
        """The place of a ``file`` that is made for a house: in its folder, where houses have folders.

        They have as soon as there is a [[house]], or songs are for more than one; and then all songs lie in them, those
        for one house too, so that a song's version for one house takes the place of the one that it had from all.
        """
        return file.parent / self.name_of(house) / file.name if house and self.apart else file

    @cached_property
    def all_houses(self) -> tuple[str, ...]:
        """The houses that any song is for, as the file names them."""
        return tuple(dict.fromkeys(each for song in self.file.songs for each in self.layouts_of(song)))

    @property
    def apart(self) -> bool:
        """Whether each house has a folder of its own."""
        return bool(self.file.houses) or len(self.all_houses) > 1

    def name_of(self, house: str) -> str:
        """What a house is called: as the setlist says, else by its layout file, or by that's folder where layout files
        of several houses have one name, or this one has a name that says nothing."""
        path = PurePosixPath(house)
        given = self.house_of(house)
        if given is not None and given.name is not None:
            return given.name
        shared = path.stem in COMMON or any(
            PurePosixPath(each).stem == path.stem for each in self.all_houses if each != house
        )
        return path.parent.name or path.stem if shared else path.stem

    def house_of(self, house: str) -> AskedOfHouse | None:
        """What is asked for on a house; None where nothing is."""
        return next((each for each in self.file.houses if each.layout == house), None)

    def idle_file(self, file: str) -> Path:
        """The frames file of the idle look: the first of its places where one lies, else where the setlist says."""
        return next((place for place in self.idle_places(file) if place.is_file()), self.beside(file))

    def idle_places(self, file: str) -> list[Path]:
        """Where the idle look of the house that is meant may lie: in the house's folder beside it, or among its frames
        where `batch` puts them, then where the setlist says, or among the frames of all."""
        own, frames = PurePosixPath(file), PurePosixPath(self.file.frames or "")
        beside = [own, frames / own.name]
        housed = [place.parent / self.name_of(self.house) / place.name for place in beside] if self.house else []
        return [self.beside(str(place)) for place in dict.fromkeys([*housed, *beside])]

    def for_house(self, house: str | Path | None) -> Setlist:
        """What is played on one ``house``, a layout file by its path or as the setlist names it.

        None: the house that all songs are for. Raises ShowError where there is no such house, or several and none is
        named.
        """
        houses = self.all_houses
        if house is None:
            if len(houses) > 1:
                found = f"its songs are for {len(houses)} houses"
                raise ShowError(Problem(str(self.path), "", found, f"Say which: --layout {' or '.join(houses)}."))
            return replace(self, house=houses[0]) if houses else self
        meant = [each for each in houses if _same_file(house, each, self.beside(each))]
        meant = meant or [each for each in houses if str(house) == self.name_of(each)]
        if not meant:
            found = f"none of its songs is for '{house}'"
            raise ShowError(Problem(str(self.path), "", found, self._house_meant(str(house))))
        return replace(self, house=meant[0])

    def _house_meant(self, house: str) -> str:
        """Which of its houses somebody may mean by one that it has not got. In folders all may be called the same, and
        whose a house is, stands in the folder's name: of two such paths the nearest is somebody else's."""
        houses, folder = self.all_houses, PurePosixPath(house).parent
        if not folder.name:
            names = [self.name_of(each) for each in houses]
            return advise(house, houses if nearest(house, houses) or not nearest(house, names) else names, "house")
        here = os.path.dirname(os.path.abspath(house))
        beside = [
            each
            for each in houses
            if PurePosixPath(each).parent == folder or os.path.dirname(os.path.abspath(self.beside(each))) == here
        ]
        if close := nearest(house, beside) or (beside[0] if len(beside) == 1 else None):
            return f"Did you mean '{close}'?"
        some = beside or houses
        return f"Known houses: {', '.join(some[:MOST_NAMED])}{', …' if len(some) > MOST_NAMED else ''}."

    def layouts_of(self, song: Song) -> tuple[str, ...]:
        """The houses that a song is rendered for: where it names none all of them, but for those of which another entry
        for the same frames has a version of their own."""
        if song.layout:
            return song.layout
        every = self.file.layout or tuple(house.layout for house in self.file.houses)
        own = self._own_versions.get((song.song, song.frames_file), frozenset())
        return tuple(house for house in every if house not in own) or every

    @cached_property
    def _own_versions(self) -> Mapping[tuple[str | None, str], frozenset[str]]:
        """The houses that entries name, by the sound and the frames file of these."""
        found: dict[tuple[str | None, str], frozenset[str]] = {}
        for song in self.file.songs:
            key = song.song, song.frames_file
            found[key] = found.get(key, frozenset()).union(song.layout or ())
        return found

    def show_of(self, song: Song) -> str:
        """The show that a song is rendered from; empty where none is named."""
        return song.show or self.file.show or ""

    def said(self, song: Song, house: str) -> dict[str, Any]:
        """The terms that are asked for of a song on a house: by itself, for all on that house, or for all."""
        here = self.house_of(house)
        return self.file.said() | (here.said() if here is not None else {}) | song.said()

    def reader_of(self, house: str) -> PageWishes:
        """Whom the pages of a house are for."""
        here = self.house_of(house)
        values: dict[str, Any] = {}
        for given in (self.file, here):
            if given is not None:
                said = given.model_fields_set
                values |= {name: getattr(given, name) for name in PageWishes.model_fields if name in said}
        return PageWishes.model_construct(**values)

    def beside(self, file: str) -> Path:
        """The path of a file that it names."""
        return self.path.parent / file


def _same_file(given: str | Path, name: str, path: Path) -> bool:
    """Whether a house that somebody gives is the one that a setlist calls ``name``, which lies at ``path``."""
    return str(given) == name or os.path.abspath(given) == os.path.abspath(path)


def load_setlist(path: str | Path) -> Setlist:
    """The setlist in the TOML file ``path``. Raises ShowError with every problem and what to write instead: misspelt
    songs are among them where it is not usable anyway."""
    text = read_text(path, ShowError)
    try:
        return Setlist(Path(path), text, read_entries(SetlistFile, text, str(path), ShowError, "setlist"))
    except ShowError as fault:
        raise ShowError(in_order((*fault.problems, *_absent_songs(Path(path), text)), str(path))) from None


def _absent_songs(path: Path, text: str) -> Iterator[Problem]:
    """The songs of an unusable setlist that are not there, where others have almost their names."""
    with suppress(ValueError, RecursionError):
        songs = tomllib.loads(text).get("song")
        for number, song in enumerate(songs if isinstance(songs, list) else ()):
            file = song.get("song") if isinstance(song, dict) else None
            if isinstance(file, str) and (advice := song_meant(path.parent / file)).startswith("Did you mean"):
                where = place(text, ("song", number, "song"))
                yield Problem(str(path), where, f"there is no file '{file:.200}'", advice)


def setlist_schema() -> dict[str, Any]:
    """The JSON Schema of setlist files, for editors."""
    return SetlistFile.model_json_schema(by_alias=True)
