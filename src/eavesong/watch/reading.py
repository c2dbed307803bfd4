"""Reading what a show stands on, again and again: what has not changed since the last time is not read anew.

What reads is imported where it is used, in the thread that reads: meanwhile the page is served.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from eavesong.errors import EavesongError, EffectError, LayoutError, Problem, ShowError
from eavesong.files import parse_toml, read_text

if TYPE_CHECKING:
    from collections.abc import Hashable

    from eavesong.language import Effect
    from eavesong.layout import Layout
    from eavesong.scene import HeardSong, Order, Scene
    from eavesong.show import Show

Mark = tuple[int, ...]
"""Tells a file from what it was: time stamps in nanoseconds, size and number; empty for one that is not there."""

_POINTS = re.compile(r"\bfile\s*=\s*[\"']([^\"'\n]{1,400})[\"']")
_EFFECTS = re.compile(r"\beffect\s*=\s*[\"']([^\"'\n]{1,400}\.toml)[\"']")
EFFECTS_KEPT = 400
"""Effects that are kept read; a show of very many effect files that are saved very often begins again."""


class Reader:
    """The files of one order, read into scenes. Not safe to use from several threads at once."""

    def __init__(self, order: Order, effect: Path | None = None) -> None:
        """effect: a file that is read for the effect of its name, wherever the show lies."""
        self.order, self.effect = order, effect
        self._effects: dict[tuple[str, str], Effect] = {}
        self._layout: tuple[Hashable, Layout] | None = None
        self._song: tuple[Hashable, HeardSong] | None = None
        self._last: Scene | None = None
        self.read: dict[Path, Mark] = {}
        """Every file that the last scene stood on or asked for, there or not, and its mark just before it was read."""
        self._noted: dict[Path, Mark] = {}

    def scene(self, texts: Mapping[Path, str] | None = None) -> Scene:
        """The scene as the files are now, with ``texts`` standing in for what some of them hold.

        Raises what `eavesong.scene.make_scene` raises, with every problem of the show and the house at once.
        """
        self._noted = {}
        self._note(Path(self.order.show), Path(self.order.layout))
        try:
            return self._scene(texts or {})
        finally:
            self.read = self._noted

    def _scene(self, texts: Mapping[Path, str]) -> Scene:
        from eavesong.scene import scene_of

        problems: list[Problem] = []
        errors: list[EavesongError] = []
        show = layout = None
        try:
            show = self._read_show(texts)
        except EavesongError as fault:
            errors.append(fault)
            problems += fault.problems
        try:
            layout = self._read_layout()
        except EavesongError as fault:
            errors.append(fault)
            problems += fault.problems
        if show is not None:
            self._note(*(path for path in (show.song, show.beats, show.sections) if path))
        if show is None or layout is None:
            raise type(errors[0])(problems)
        self._last = scene_of(show, layout, self.order, self._hear(show), self._last)
        return self._last

    def folders(self) -> set[Path]:
        """Where files lie that the last scene stood on or asked for, whether they are there or not."""
        return {Path(name).parent for path in self.read for name in (os.path.abspath(path), os.path.realpath(path))}

    def outdated(self) -> bool:
        """Whether some file is not as it was when it was read."""
        return any(mark_of(path) != mark for path, mark in self.read.items())

    def _note(self, *paths: Path) -> None:
        for path in paths:
            self._noted.setdefault(path, mark_of(path))

    def _read_show(self, texts: Mapping[Path, str]) -> Show:
        from eavesong.show import load_show

        path = Path(self.order.show)
        text = texts[path] if path in texts else read_text(path, ShowError)
        self._note(*(path.parent / name for name in _EFFECTS.findall(text)))  # also those that are not there

        def load(name: str, beside: Path) -> Effect:
            """The effect of that name, its text noted."""
            return self._effect(name, beside, texts)

        return load_show(path, load=load, text=text)

    def _effect(self, name: str, beside: Path, texts: Mapping[Path, str]) -> Effect:
        """The effect, as `load_effect`; read from its text only where that has changed."""
        from eavesong.language import load_effect, parse_effect

        if not name.endswith(".toml"):
            return self._known((name, ""), lambda: load_effect(name, beside))
        alone = self.effect is not None and name == self.effect.name
        path = self.effect if alone and self.effect is not None else beside / name
        self._note(path)
        text = texts[path] if path in texts else read_text(path, EffectError)
        if alone:
            return self._known((str(path), text), lambda: parse_effect(text, path.stem, str(path)))
        return self._known((str(path), text), lambda: load_effect(name, beside))

    def _known(self, key: tuple[str, str], load: Any) -> Effect:
        if key not in self._effects:
            if len(self._effects) >= EFFECTS_KEPT:
                self._effects.clear()
            self._effects[key] = load()
        return self._effects[key]

    def _read_layout(self) -> Layout:
        from eavesong.layout import load_layout

        path = Path(self.order.layout)
        try:
            text = read_text(path, LayoutError)
        except LayoutError:  # reading it as a layout says what is wrong
            text = ""
        points = [path.parent / name for name in _POINTS.findall(text)]
        self._note(*points)
        key = (text, *((file, mark_of(file)) for file in points))
        if self._layout is None or self._layout[0] != key or not text:
            self._layout = None
            self._layout = (key, load_layout(path))
        return self._layout[1]

    def _hear(self, show: Show) -> HeardSong:
        from eavesong.scene import heard_song

        song = Path(self.order.song) if self.order.song else show.song
        files = [] if song is None else list(_texts_of(song))
        files += [] if self.order.song else [path for path in (show.beats, show.sections) if path]
        self._note(*files)
        key = (song, show.beats, show.sections, *((file, mark_of(file)) for file in files))
        if self._song is None or self._song[0] != key or song is None:
            self._song = None
            self._song = (key, heard_song(show, self.order.song))
        return self._song[1]


def _texts_of(song: Path) -> Iterator[Path]:
    """A song and the texts that would count for it if they lay beside it."""
    yield song
    for suffix in (".beats", ".sections", ".events"):
        yield song.parent / f"{song.stem}{suffix}"


def mark_of(path: Path) -> Mark:
    """What tells a file from what it was before it was saved."""
    try:
        told = path.stat()
    except (OSError, ValueError):
        return ()
    return (told.st_mtime_ns, told.st_ctime_ns, told.st_size, told.st_ino, told.st_mode)


def is_effect(path: Path) -> bool:
    """Whether the text at ``path`` is an effect's and not a show's, by what stands at its top; False for neither."""
    try:
        tables = parse_toml(read_text(path, EffectError), path.name, EffectError)
    except EffectError:
        return not path.name.endswith(".show.toml") and "code" in _head(path)
    return "cue" not in tables and ("code" in tables or "code" in (tables.get("parameters") or ()))


def _head(path: Path) -> str:
    try:
        if not os.path.isfile(path):  # opening a pipe would wait for somebody who writes
            return ""
        with open(path, encoding="utf-8", errors="replace") as file:
            return file.read(20_000)
    except OSError:
        return ""
