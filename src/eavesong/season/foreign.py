"""What a song's show has to do with other songs: bars of another one that it counts, palettes that only others have."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.music.made_for import made_for
from eavesong.palettes import ALL, hexes
from eavesong.season.remarks import Remark

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.season.plan import Task
    from eavesong.show import Show


MOST_SHOWS = 3
"""Shows of which it is told which colours they have."""


def with_foreign(tasks: Sequence[Task], shows: Mapping[str, Show]) -> tuple[Task, ...]:
    """The tasks, each with what is to be said where its show was made for another song and counts its bars, beats or
    seconds.

    A show that several songs of the setlist share is for many, whatever song it names.
    """
    users: dict[str, set[str]] = {}
    for task in tasks:
        users.setdefault(task.show, set()).add(task.song)
    return tuple(
        replace(task, foreign=_remark(task, shows[task.show]))
        if task.show in shows and len(users[task.show]) == 1
        else task
        for task in tasks
    )


def with_palettes(tasks: Sequence[Task], shows: Mapping[str, Show], idle: str = "") -> tuple[Task, ...]:
    """The tasks, each with the palettes that any show for its house has, and with the colour between the songs,
    ``idle``: a house may wish another for that, too."""
    from eavesong.check import palettes_in

    of: dict[str, set[str]] = {}
    for task in tasks:
        if task.show in shows:
            of.setdefault(task.layout, set()).update(palettes_in(shows[task.show]))
    return tuple(replace(task, palettes=tuple(sorted(of.get(task.layout, set()))), idle=idle) for task in tasks)


def wishes_apart(tasks: Sequence[Task], shows: Mapping[str, Show], layouts: Mapping[str, Layout]) -> Iterator[str]:
    """What is to be said of houses that wish other colours in place of a palette which is not the same in all of the
    shows for them, as those are that drafts call by letters."""
    for path, layout in layouts.items():
        own = {task.show: shows[task.show].palettes for task in tasks if task.layout == path and task.show in shows}
        for name in (wish for wish in layout.palettes if wish != ALL):
            found = {Path(show).name: ", ".join(hexes(have[name])) for show, have in own.items() if name in have}
            if len({*found.values()}) > 1:
                told = "; ".join(f"{colours} in {show}" for show, colours in [*found.items()][:MOST_SHOWS])
                yield (
                    f"'{layout.title}' wishes others in place of '{name}', which means {told}. "
                    f"All of them are replaced; to mean one, give it a name of its own in that show"
                )


def _remark(task: Task, show: Show) -> Remark | None:
    """What is said of a show that names another song; None where it does not, or is tied to sections and kinds alone.

    Grave where the other song is there: then it was exchanged for this one.
    """
    if show.song is None or os.path.abspath(show.song) == os.path.abspath(task.song):
        return None
    if not any(cue.bars or cue.beats or cue.times for cue in show.cues):
        return None
    name, own, this = Path(task.show).name, Path(show.song).name, Path(task.song).name
    if (sound := made_for(show.text)) and sound == _sound_of(task.song):
        return None  # written for this very sound, and copied to another folder
    found = (
        f"its show counts the bars of another song, '{own}': where the music begins earlier or later in '{this}', "
        f"light comes as much too late or too early. `eavesong pack {name}` and `eavesong unpack --song {this}` carry "
        f'it over; where it fits as it is, write song = "{this}" in {name}'
    )
    return Remark(Path(show.song).is_file(), found, "song")


def _sound_of(song: str) -> str:
    """The SHA-256 of a song's sound; empty where it cannot be read, which is told elsewhere."""
    from eavesong.errors import EavesongError
    from eavesong.music.sound import sound_hash

    try:
        return sound_hash(song)
    except EavesongError:
        return ""
