"""Frames that lay elsewhere before: where a setlist calls its folder, a song or a house otherwise now, what was asked
for and wished then is known by its last report, which names them."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import EavesongError
from eavesong.leftovers import fitting_name

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.season.plan import Task
    from eavesong.season.setlist import Setlist


def report_of(setlist: Path) -> Path:
    """Where a batch writes its report, unless it is told otherwise."""
    return setlist.with_name(fitting_name(f"{setlist.stem}.report.json"))


@dataclass(frozen=True)
class _Made:
    """Frames that the last report names, and nobody makes any more: they are still there."""

    song: str
    layout: str
    out: str


def with_earlier(setlist: Setlist, tasks: Sequence[Task], layouts: Mapping[str, Layout]) -> tuple[Task, ...]:
    """The tasks, each that has no frames yet with those of the same song on the same house that lie elsewhere.

    The house is the same by its layout file, or by its title where that file is in the setlist no more; the song by its
    name, or by its sound.
    """
    fresh = [task for task in tasks if not os.path.isfile(task.out)]
    made = list(_made(setlist, tasks)) if fresh else []
    if not made:
        return tuple(tasks)
    named: dict[tuple[str, str], str] = {}
    by_layout: dict[str, list[str]] = {}
    for each, houses in zip(made, _houses(made, tasks, layouts), strict=True):
        for layout in houses:
            named.setdefault((layout, Path(each.song).name), each.out)
            by_layout.setdefault(layout, []).append(each.out)
    found = {
        task.number: named.get((task.layout, Path(task.song).name))
        or _of_sound(task.song, by_layout.get(task.layout, ()))
        for task in fresh
    }
    return tuple(replace(task, earlier=found.get(task.number, "")) for task in tasks)


def _made(setlist: Setlist, tasks: Sequence[Task]) -> Iterator[_Made]:
    now, folder = {task.out for task in tasks}, setlist.path.resolve().parent
    with suppress(OSError, ValueError, TypeError, LookupError):
        told = json.loads(report_of(setlist.path).read_text(encoding="utf-8"))
        for song in told["songs"]:
            out = str(song["out"])
            there = Path(out).resolve().is_relative_to(folder)  # else of the folder that this one is a copy of
            if there and out not in now and os.path.isfile(out):
                yield _Made(str(song["song"]), str(song["layout"]), out)


def _houses(made: Sequence[_Made], tasks: Sequence[Task], layouts: Mapping[str, Layout]) -> Iterator[tuple[str, ...]]:
    """Of each of these, the layouts of the setlist that are of its house."""
    here = {task.layout for task in tasks}
    titles: dict[str, str] = {}
    for each in made:
        if each.layout in here:
            yield (each.layout,)
            continue
        if each.layout not in titles:
            with suppress(EavesongError, OSError):
                titles[each.layout] = house_of(each.out).title
        yield tuple(layout for layout in here if layouts[layout].title == titles.get(each.layout))


def house_of(frames: str) -> Layout:
    """The house that these frames were made for."""
    from eavesong.frames import open_frames
    from eavesong.scene import Reopened

    with open_frames(frames) as file:
        return Reopened(file).layout


def grown_from(earlier: Layout, layout: Layout) -> bool:
    """Whether a layout may be of the same house as one of another title: it has most of its props."""
    names = [{prop.name for prop in each.props} for each in (earlier, layout)]
    return 2 * len(names[0] & names[1]) > max(map(len, names))


def _of_sound(song: str, frames: Sequence[str]) -> str:
    """The first of these frames that were made to the sound in this file, whatever it was called; empty for none."""
    from eavesong.music.sound import sound_hash
    from eavesong.season.said import said

    for out in frames:
        with suppress(EavesongError, OSError):
            if said(out).hashes.get("audio") == sound_hash(song):
                return out
    return ""
