"""Shows for songs of a setlist that have none: drafted once, kept beside the song, and theirs from then on."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from eavesong.errors import EavesongError
from eavesong.files import write_whole
from eavesong.words import typed

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.season.plan import Task


def drafted_name(song: str) -> str:
    """How the show that is drafted for a ``song`` is called: as the song, in its folder."""
    return str(PurePosixPath(song).with_suffix(".show.toml"))


def is_another_show(show: Path, drafted: Path) -> bool:
    """Whether frames that were made from ``show`` are not of the ``drafted`` one: by its name, or by where it lies;
    one that is not there, as where frames and songs alone were carried, goes by its name."""
    return show.name != drafted.name or (show.is_file() and show.resolve() != drafted.resolve())


def draft_missing(
    tasks: Iterable[Task], layouts: Mapping[str, Layout], say: Callable[[str], None] = lambda line: None
) -> dict[str, str]:
    """Draft the show of every song that has none yet, and say so; why it could not be done, by show.

    A show that is for one house is drafted for it, one for several houses for any. What is there already stays as it
    is, for somebody may have changed it.
    """
    houses: dict[tuple[str, str], set[str]] = {}
    for task in tasks:
        missing = task.show == drafted_name(task.song) and not os.path.exists(task.show)
        if missing and os.path.isfile(task.song) and os.path.getsize(task.song):
            houses.setdefault((task.show, task.song), set()).add(task.layout)
    faults = {}
    for (show, song), wanted in houses.items():
        house = layouts[next(iter(wanted))] if len(wanted) == 1 else None
        try:
            _draft(show, song, house)
            meant = f"'{house.title}'" if house is not None else f"any house, as it is for {len(wanted)}"
            told = f"{Path(song).name} names no show. It is for {meant}, lies beside the song, and is yours to change"
            say(f"drafted     {Path(show).name}: {told}")
            _say_doubt(song, say)
        except EavesongError as fault:
            faults[show] = f"no show could be drafted for it: {fault.problems[0].found}"
            say(f"left out    {Path(song).name}: {faults[show]}")
    return faults


def _say_doubt(song: str, say: Callable[[str], None]) -> None:
    """A word where the beats that were drafted to are doubtful."""
    from eavesong.music import doubt_of

    if how := doubt_of(song):
        look = f"eavesong beats {typed(song)} --picture --click clicks.wav"
        say(f"{'':<12}how sure its beats are: {how}. Look and listen: {look}")


def _draft(show: str, song: str, layout: Layout | None) -> None:
    from eavesong.draft import draft_song

    write_whole(Path(show), draft_song(song, layout))
