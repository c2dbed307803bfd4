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
    found = {task.number: earlier for task in fresh if (earlier := _earlier(task, made, tasks, layouts))}
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


def _earlier(task: Task, made: Sequence[_Made], tasks: Sequence[Task], layouts: Mapping[str, Layout]) -> str:
    here = {each.layout for each in tasks}
    for each in made:
        with suppress(EavesongError, OSError):
            same = each.layout == task.layout or (
                each.layout not in here and title_of(each.out) == layouts[task.layout].title
            )
            if same and (Path(each.song).name == Path(task.song).name or _sounds_like(each.out, task.song)):
                return each.out
    return ""


def title_of(frames: str) -> str:
    """What the house of these frames was called."""
    from eavesong.frames import open_frames
    from eavesong.scene import Reopened

    with open_frames(frames) as file:
        return Reopened(file).layout.title


def _sounds_like(frames: str, song: str) -> bool:
    """Whether frames were made to the sound in this file, whatever it was called."""
    from eavesong.music.sound import sound_hash
    from eavesong.season.said import said

    return said(frames).hashes.get("audio") == sound_hash(song)
