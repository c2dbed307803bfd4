"""Where in a setlist something stands that cannot be: files that are not there, times and props that are none."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from eavesong.errors import EavesongError, LayoutError, Problem
from eavesong.statements import place
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.season.setlist import Setlist, Song

Key = tuple[str | int, ...]


def with_places(setlist: Setlist, errors: Iterable[EavesongError]) -> list[EavesongError]:
    """The errors, where a file that is not there with the line of the setlist that names it."""
    return [type(error)(_placed(setlist, problem) for problem in error.problems) for error in errors]


def _placed(setlist: Setlist, problem: Problem) -> Problem:
    if problem.place or os.path.exists(problem.file):
        return problem
    for key, file in _files(setlist):
        if os.path.abspath(setlist.beside(file)) == problem.file:
            return replace(problem, place=f"named in {setlist.path.name}, {place(setlist.text, key)}")
    return problem


def _files(setlist: Setlist) -> Iterator[tuple[Key, str]]:
    """Every show and layout that the setlist names, and where."""
    head = setlist.file
    yield from ((("layout",), file) for file in head.layout or ())
    if head.show:
        yield ("show",), head.show
    for index, house in enumerate(head.houses):
        yield ("house", index, "layout"), house.layout
    for index, song in enumerate(head.songs):
        yield from ((("song", index, "layout"), file) for file in song.layout or ())
        if song.show:
            yield ("song", index, "show"), song.show


def doubts(setlist: Setlist) -> Iterator[str]:
    """All that is odd with a setlist and may be meant: a line for each."""
    yield from (*passed_over(setlist), *read_twice(setlist), *half_listed(setlist))


def passed_over(setlist: Setlist) -> Iterator[str]:
    """Shows that lie beside their songs, called like them, while the setlist's own show is taken; a line for each."""
    for song in setlist.file.songs:
        if song.show is None and setlist.file.show and song.song:
            beside = PurePosixPath(song.song).with_suffix(".show.toml")
            if str(beside) != setlist.file.show and os.path.isfile(setlist.beside(str(beside))):
                advice = f'Write show = "{beside}" below its [[song]] to take that one.'
                yield f"{song.name}: '{setlist.file.show}' is taken, not '{beside}' beside the song. {advice}"


def read_twice(setlist: Setlist) -> Iterator[str]:
    """Houses whose pages are for the same reader, as where a [[house]] was copied; a line for each reader. Silent where
    each is called by a word of the reader's name: ``fir-home`` and ``fir-cottage`` are Mr Fir's."""
    readers: dict[str, list[str]] = {}
    for house in setlist.file.houses if setlist.file.pages else ():
        if house.reader:
            readers.setdefault(house.reader, []).append(setlist.name_of(house.layout))
    for reader, names in readers.items():
        words = [word for word in re.findall(r"\w+", reader.casefold()) if len(word) > 2]
        theirs = any(all(word in re.findall(r"[^\W_]+", name.casefold()) for name in names) for word in words)
        if len(names) > 1 and not theirs:
            yield f"The pages of {' and '.join(names)} are all for '{reader}'. Was 'for' left as it was copied?"


def half_listed(setlist: Setlist) -> Iterator[str]:
    """Houses that are on one list alone, where both the [[house]] and the lists of some songs say who gets what: those
    that songs name and no [[house]] tells of, and those that most of a song's houses leave out; a line for each.

    Whoever takes a house off, or adds one, may forget one of the two places.
    """
    file = setlist.file
    told = [house.layout for house in file.houses]
    if not told or file.layout or all(song.layout for song in file.songs):
        return
    for house in dict.fromkeys(each for song in file.songs for each in song.layout or () if each not in told):
        songs = ", ".join(song.name for song in file.songs if house in (song.layout or ()))
        yield (
            f"The house '{house}' has no [[house]], and is named by {songs} alone: others are not made for it. "
            "Take it out there, if it is gone; or write a [[house]] for it."
        )
    sounds: dict[str, list[Song]] = {}
    for song in file.songs:
        sounds.setdefault(song.song or song.name, []).append(song)
    for versions in sounds.values():
        got = {each for song in versions for each in setlist.layouts_of(song)}
        missing = [house for house in told if house not in got]
        if missing and 2 * len(missing) < len(told):
            yield (
                f"{versions[0].name} is made for {len(told) - len(missing)} of {len(told)} houses, and not for "
                f"{', '.join(missing)}: its 'layout' lists them one by one. Add what is meant there."
            )


def idle_places(setlist: Setlist, file: str) -> str:
    """Where an idle look may lie, from the setlist: ``'hut/look.h5' or 'frames/hut/look.h5' or 'look.h5'``."""
    folder = setlist.beside("")
    return " or ".join(f"'{Path(os.path.relpath(path, folder)).as_posix()}'" for path in setlist.idle_places(file))


def misfits(setlist: Setlist, layouts: Mapping[str, Layout]) -> Iterator[Problem]:
    """Times of a song that end before they begin, and names of props that a house has not got.

    layouts: by their absolute paths, those that could be read.
    """
    from eavesong.scene.scene import chosen_props

    for index, song in enumerate(setlist.songs):
        for house in setlist.layouts_of(song):
            said = setlist.said(song, house)
            start, stop = said.get("start") or 0.0, said.get("stop")
            if stop is not None and stop <= start:
                key = _key(setlist, index, song, house, "stop")
                found = f"'{song.name}' would end at {clock_text(stop)}, and begin at {clock_text(start)}"
                yield Problem(str(setlist.path), place(setlist.text, key), found, "Let 'to' be later than 'from'.")
            layout = layouts.get(os.path.abspath(setlist.beside(house)))
            try:
                if layout is not None:
                    chosen_props(layout, said.get("props", ()))
            except LayoutError as fault:
                key = _key(setlist, index, song, house, "props")
                more = (
                    f"Or give '{house}' its own 'props' below a [[house]] with its layout." if key == ("props",) else ""
                )
                for each in fault.problems:
                    found, advice = f"{each.found} on '{house}'", f"{each.instead} {more}".strip()
                    yield Problem(str(setlist.path), place(setlist.text, key), found, advice)


def _key(setlist: Setlist, index: int, song: Song, house: str, name: str) -> Key:
    """Where a term of a song on a house is asked for."""
    word = {"stop": "to", "start": "from"}.get(name, name)
    if name in song.said():
        return ("song", index, word)
    houses = [each.layout for each in setlist.file.houses]
    here = setlist.house_of(house)
    if here is not None and name in here.said():
        return ("house", houses.index(house), word)
    return (word,)
