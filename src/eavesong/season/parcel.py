"""All files that one task needs, as bytes: for workers that cannot see the folders of whoever started the batch."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import LayoutError
from eavesong.files import parse_toml, read_text
from eavesong.music.listening import events_text_for, texts_for
from eavesong.render.render import beside

if TYPE_CHECKING:
    from eavesong.season.plan import Task
    from eavesong.show import Show


@dataclass(frozen=True)
class Parcel:
    """A task and its files, by their places below a common folder."""

    task: Task
    """Its paths are those below the common folder."""
    files: Mapping[str, bytes]


def packed(task: Task, show: Show) -> Parcel:
    """The parcel of a task: its song with its texts, its show with its effects, its layout with its points.

    What is looked at besides, and its page, are for whoever has the frames in the end.
    """
    paths = sorted({os.path.abspath(path) for path in _files_of(task, show) if Path(path).is_file()})
    root = os.path.commonpath([os.path.dirname(path) for path in paths])
    inside = {path: os.path.relpath(path, root) for path in (task.song, task.show, task.layout)}
    files = {os.path.relpath(path, root): Path(path).read_bytes() for path in paths}
    order = replace(task.order, song=inside[task.song], show=inside[task.show], layout=inside[task.layout])
    inner = replace(
        task, order=order, out=Path(task.out).name, written=beside(task.order, task.out), page="", findings="none"
    )
    return Parcel(inner, files)


def unpacked(parcel: Parcel, folder: Path) -> Task:
    """Lay the files of a parcel into ``folder``; the task with its paths there."""
    for name, data in parcel.files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    task = parcel.task
    song, show, layout = (str(folder / name) for name in (task.song, task.show, task.layout))
    made = folder / "made"
    made.mkdir(exist_ok=True)
    order = replace(task.order, song=song, show=show, layout=layout)
    return replace(task, order=order, out=str(made / task.out))


def _files_of(task: Task, show: Show) -> Iterator[str | Path]:
    yield from (task.song, task.show, task.layout)
    yield from (path for path in (*texts_for(task.song), events_text_for(task.song)) if path)
    yield from (path for path in (show.song, show.beats, show.sections) if path and _is_own(task, show))
    yield from (Path(task.show).parent / name for name in show.effects if name.endswith(".toml"))
    props = parse_toml(read_text(task.layout, LayoutError), task.layout, LayoutError).get("prop", [])
    yield from (Path(task.layout).parent / prop["file"] for prop in props if isinstance(prop.get("file"), str))


def _is_own(task: Task, show: Show) -> bool:
    return show.song is not None and os.path.abspath(show.song) == task.song
