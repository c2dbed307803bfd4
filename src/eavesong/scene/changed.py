"""Which files frames were made from are others by now: the show, its own effects, texts beside the song, the layout.

Only what is named by a path from the frames' folder on is looked at, and only compared with what the frames file holds:
one from a stranger could name any.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from eavesong.errors import EavesongError, FramesError
from eavesong.files import content_hash, parse_toml, read_text
from eavesong.music.made_for import PARTS

if TYPE_CHECKING:
    from eavesong.frames import FramesFile
    from eavesong.scene.order import Order

NAMED = ("beats", "sections")
"""Of PARTS, those for which a show may name a text."""


def changed_files(frames: FramesFile, order: Order | None) -> tuple[str, ...]:
    """The paths, from the folder of the frames file, of what is there and is not what these frames were made from; none
    where they do not tell their ``order``."""
    if order is None:
        return ()
    texts = frames.texts
    pairs = [(order.show, texts.get("show")), *_effects(order.show, texts), (order.layout, texts.get("layout"))]
    folder = frames.path.parent
    changed = (path for path, text in pairs if path.endswith(".toml") and _is_other(folder, path, text))
    return tuple(dict.fromkeys([*changed, *_changed_texts(frames, order)]))


def _effects(show: str, texts: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """The effects of a show's own, which lie beside it, and what they were."""
    for name, text in texts.items():
        effect = name.removeprefix("effect ")
        if effect != name and effect.endswith(".toml") and not os.path.isabs(effect):
            yield _beside(show, effect), text


def _is_other(folder: Path, path: str, text: str | None) -> bool:
    now = None if text is None else _text_at(folder, path)
    return now is not None and now != text


def _text_at(folder: Path, path: str) -> str | None:
    """The text at a relative path; None where there is none, as on a computer that has nothing but frames."""
    with suppress(FramesError):
        return None if Path(path).is_absolute() else read_text(folder / path, FramesError)
    return None


def _changed_texts(frames: FramesFile, order: Order) -> Iterator[str]:
    """The beats, sections and events that count for the song of these frames, and are others than those of then."""
    for part, path in _texts_that_count(frames, order):
        made_with = frames.hashes.get(f"{part} file")
        now = None if made_with is None else _text_at(frames.path.parent, path)
        if now is not None and content_hash(now) != made_with:
            yield path


def _texts_that_count(frames: FramesFile, order: Order) -> Iterator[tuple[str, str]]:
    """Where each of PARTS lies: where the show says, if the song is its own; else beside the song."""
    show: Mapping[str, Any] = {}
    with suppress(EavesongError):
        show = parse_toml(frames.texts.get("show", ""), "show", FramesError)
    own, song = show.get("song"), order.song or frames.song_path
    its_own = order.song is None or (isinstance(own, str) and _beside(order.show, own) == os.path.normpath(order.song))
    for part in PARTS:
        named = show.get(part) if its_own and part in NAMED else None
        if isinstance(named, str):
            yield part, _beside(order.show, named)
        elif song:
            yield part, f"{os.path.splitext(song)[0]}.{part}"


def _beside(file: str, name: str) -> str:
    return os.path.normpath(Path(file).parent / name)
