"""What can be played, and what to do with something that cannot: shows, houses, songs."""

from __future__ import annotations

import os
from pathlib import Path

from eavesong.errors import FramesError, Problem, ShowError, advise
from eavesong.files import parse_toml, read_text
from eavesong.words import typed

SONGS = (".wav", ".flac", ".mp3", ".ogg", ".oga", ".opus", ".m4a", ".aac", ".aif", ".aiff")


def song_meant(path: Path) -> str:
    """What to write for a song that is not there, of those in its folder; empty for one that is."""
    if os.path.isfile(path):  # not Path.is_file, which fails for a name that no file can have
        return ""
    beside = os.listdir(path.parent) if os.path.isdir(path.parent) else ()
    return advise(path.name, [name for name in beside if name.lower().endswith(SONGS)], "song")


def is_setlist(path: Path) -> bool:
    """Whether ``path`` is to be read as a setlist; else it is a frames file.

    Raises ShowError or FramesError, with what to do instead, when it is plainly neither.
    """
    name = path.name.lower()
    if name.endswith(SONGS):
        raise FramesError(_song(path))
    if not name.endswith(".toml"):
        return False
    kind = "show" if name.endswith(".show.toml") else _kind(read_text(path, ShowError))
    if kind:
        raise ShowError({"show": _show, "layout": _layout, "effect": _effect}[kind](path))
    return True


def _song(path: Path) -> Problem:
    frames = f"{path.stem}.h5"
    song, frames = typed(path), typed(frames)
    rendered = f"eavesong render SHOW --layout HOUSE --song {song} --out {frames}"
    instead = f"Make the frames for it, and play those: {rendered} && eavesong play {frames} --song {song}"
    return Problem(str(path), "", "is a song; what is played are frames", instead)


def _show(path: Path) -> Problem:
    frames = typed(path.with_name(path.name.removesuffix(".toml").removesuffix(".show") + ".h5"))
    rendered = f"eavesong render {typed(path)} --layout HOUSE --out {frames}"
    instead = f"Make its frames for a house, and play those: {rendered} && eavesong play {frames}"
    return Problem(str(path), "", "is a show; what is played are frames", instead)


def _layout(path: Path) -> Problem:
    alone = f"eavesong identify --layout {typed(path)}"
    instead = f"Play frames that were rendered for it; to light its props one by one: {alone}"
    return Problem(str(path), "", "is a layout; what is played are frames", instead)


def _effect(path: Path) -> Problem:
    instead = "Use it in a show, render that for a house, and play the frames."
    return Problem(str(path), "", "is an effect; what is played are frames", instead)


def _kind(text: str) -> str:
    """What a TOML file describes, by its tables; empty for a setlist, and for what is none (which then says why)."""
    try:
        keys = parse_toml(text, "", ShowError)
    except ShowError:
        return ""
    if "evening" in keys or isinstance(keys.get("song"), list):
        return ""
    return next((kind for key, kind in {"cue": "show", "prop": "layout", "code": "effect"}.items() if key in keys), "")
