"""Whether a frames file is up to date: made from the very content that is there now, by the version that matters.

Content is compared, by SHA-256, and never the time at which a file was touched. Nothing is listened to or compiled.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import EavesongError, FramesError

if TYPE_CHECKING:
    from eavesong.batch.plan import Task
    from eavesong.frames import FramesFile
    from eavesong.layout import Layout
    from eavesong.show import Show

NEW = "not rendered yet"
FORCED = "asked for again"


def why_due(task: Task, show: Show, layout: Layout) -> str:
    """Why a task has to be done; empty where its frames file is up to date.

    Raises AudioError or BeatsError for a song or beats text that cannot be read.
    """
    from eavesong.frames import open_frames

    if not Path(task.out).is_file():
        return NEW
    if task.again:
        return FORCED
    try:
        with open_frames(task.out) as file:
            return ", ".join(_changes(file, task, show, layout))
    except FramesError as fault:
        return f"its frames file {fault.problems[0].found}"


def _changes(file: FramesFile, task: Task, show: Show, layout: Layout) -> Iterator[str]:
    """What has changed since ``file`` was made, in words."""
    from eavesong.music.sound import sound_hash
    from eavesong.render.render import frame_range, source_hashes
    from eavesong.render.version import renderer_hash

    hashes = file.hashes
    sources = source_hashes(show, song_given(task, show))
    effects = {f"effect {name}": effect.text for name, effect in show.effects.items()}
    made_with = {name for name in hashes if name.startswith("effect ")}
    checks = {
        "the show": hashes.get("show") == _digest(show.text),
        "an effect": made_with == set(effects) and all(hashes[name] == _digest(text) for name, text in effects.items()),
        "the layout": hashes.get("layout files") == layout.content_hash,
        "the beats": hashes.get("beats file") == sources["beats file"],
        "the sections": hashes.get("sections file") == sources["sections file"],
        "the events": hashes.get("events file", sources["events file"]) == sources["events file"],
        "the frame rate": file.frame_rate == task.frame_rate,
        "the song": hashes.get("audio") == sound_hash(task.song) and file.song == Path(task.song).name,
    }
    yield from (f"{what} changed" for what, same in checks.items() if not same)
    whole = (0, file.frame_count) == (
        round(file.start * file.frame_rate),
        frame_range(file.song_seconds, file.frame_rate, None, None)[1],
    )
    if "renderer" not in hashes or not whole:
        yield "it holds only a part, or was dimmed or softened"
    elif hashes["renderer"] != renderer_hash():
        yield "another version of eavesong made it"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def song_given(task: Task, show: Show) -> str | None:
    """The song to give to the renderer; None where it is the show's own, whose named beats then count."""
    own = show.song is not None and Path(show.song).resolve() == Path(task.song).resolve()
    return None if own else task.song


def stored_share(task: Task) -> float | None:
    """Bytes that the frames of a task's present file take, as a share of their full size; None where there is none."""
    from eavesong.frames import open_frames

    try:
        with open_frames(task.out) as file:
            return file.stored_bytes / (file.frame_count * file.channel_count)
    except EavesongError:
        return None
