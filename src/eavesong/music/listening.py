"""Listening to a song once: its beat grid and signals, kept for the next time."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.files import user_cache, whole_file
from eavesong.music.grid import CLOSEST, BeatGrid, Section
from eavesong.music.signals import NAMES, Signals
from eavesong.music.texts import read_grid, read_sections

if TYPE_CHECKING:
    from collections.abc import Mapping

VERSION = 1
"""Of the analysis: raised whenever the same sound would give another grid or other signals."""


@dataclass(frozen=True, eq=False)
class Heard:
    """What a song sounds like."""

    grid: BeatGrid
    signals: Signals
    duration: float
    """Seconds."""
    audio_hash: str
    """SHA-256 of the song's file."""


def listen(song_path: str | Path, *, cache: bool = True) -> Heard:
    """The beat grid and the signals of a song, analysed when it is heard for the first time.

    The analysis is kept in the user's cache under the hash of the song's file; with ``cache=False`` it is neither
    read nor written. Raises AudioError when the song cannot be read.
    """
    from eavesong.music.sound import sound_hash

    audio_hash = sound_hash(song_path)
    if not cache:
        return _analyse(song_path, audio_hash)
    kept = user_cache() / "songs" / f"{audio_hash}.npz"
    heard = _recall(kept, audio_hash)
    if heard is None:
        heard = _analyse(song_path, audio_hash)
        _keep(kept, heard)
    return heard


def beats_for(song: str | Path, beats: str | Path | None = None, sections: str | Path | None = None) -> BeatGrid:
    """The beat grid of ``song``: texts win over analysis.

    ``beats`` and ``sections`` are texts somebody named; else those called like the song with ``.beats`` and
    ``.sections`` are used if they are there; else the analysis. Sections from the analysis begin at the nearest
    downbeat of the beats text. Raises BeatsError for a bad text, AudioError for a song that cannot be read.
    """
    beats, sections = texts_for(song, beats, sections)
    heard = listen(song)
    if beats:
        grid = read_grid(beats, sections, heard.duration)
        return grid if sections else _with_sections(grid, heard.grid.sections)
    if sections:
        return BeatGrid(heard.grid.times, heard.grid.positions, read_sections(sections), heard.duration)
    return heard.grid


def texts_for(
    song: str | Path, beats: str | Path | None = None, sections: str | Path | None = None
) -> tuple[str | Path | None, str | Path | None]:
    """The beats and the sections text that count for ``song``: those named, else those beside it, else None."""
    return beats or _beside(song, ".beats"), sections or _beside(song, ".sections")


def _beside(song: str | Path, suffix: str) -> Path | None:
    path = Path(song).with_suffix(suffix)
    return path if path.is_file() else None


def _with_sections(grid: BeatGrid, sections: tuple[Section, ...]) -> BeatGrid:
    """``grid`` with ``sections`` whose inner boundaries are moved to its nearest downbeats."""
    if not sections:
        return grid
    downbeats = np.array(grid.downbeats)
    starts: dict[float, str] = {}
    for section in sections:
        start = float(downbeats[np.argmin(np.abs(downbeats - section.start))]) if starts else section.start
        starts.setdefault(start, section.label)
    edges = pairwise([*sorted(starts), sections[-1].end])
    moved = [Section(start, end, starts[start]) for start, end in edges if end - start > CLOSEST]
    return BeatGrid(grid.times, grid.positions, tuple(moved), grid.duration)


def _analyse(song_path: str | Path, audio_hash: str) -> Heard:
    from eavesong.music.bands import measure
    from eavesong.music.signals import signals_of
    from eavesong.music.sound import open_sound
    from eavesong.music.track import track

    with open_sound(song_path) as sound:
        powers = measure(sound)
    return Heard(track(powers), signals_of(powers), powers.duration, audio_hash)


def _keep(path: Path, heard: Heard) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    grid, signals = heard.grid, heard.signals
    with whole_file(path) as draft, open(draft, "wb") as file:
        np.savez(
            file,
            version=np.array(VERSION),
            audio_hash=np.array(heard.audio_hash),
            duration=np.array(heard.duration),
            times=np.array(grid.times),
            positions=np.array(grid.positions),
            edges=np.array([(section.start, section.end) for section in grid.sections]).reshape(-1, 2),
            labels=np.array([section.label for section in grid.sections], dtype=np.str_),
            frame_rate=np.array(signals.frame_rate),
            spectrum=signals.spectrum,
            **{name: getattr(signals, name) for name in NAMES},
        )


def _recall(path: Path, audio_hash: str) -> Heard | None:
    """What was kept at ``path``, or None when nothing is there or it is damaged or of another version."""
    try:
        # Reading an entry checks its CRC-32, so a damaged file cannot give wrong numbers.
        with np.load(path, allow_pickle=False) as kept:
            entries = {name: kept[name] for name in kept.files}
        if int(entries["version"]) != VERSION or str(entries["audio_hash"]) != audio_hash:
            return None
        return _heard(entries, audio_hash)
    except Exception:  # a damaged zip, header or entry raises whatever it happens to meet
        return None


def _heard(entries: Mapping[str, Any], audio_hash: str) -> Heard:
    sections = tuple(
        Section(float(start), float(end), str(label))
        for (start, end), label in zip(entries["edges"], entries["labels"], strict=True)
    )
    duration = float(entries["duration"])
    grid = BeatGrid(tuple(entries["times"]), tuple(entries["positions"]), sections, duration)
    signals = Signals(
        float(entries["frame_rate"]), **{name: entries[name] for name in NAMES}, spectrum=entries["spectrum"]
    )
    return Heard(grid, signals, duration, audio_hash)
