"""Listening to a song once: its beat grid, its signals and what light answers to, kept for the next time."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.errors import OutputError
from eavesong.files import tell_no_cache, user_cache, whole_file
from eavesong.music.grid import BeatGrid, Section
from eavesong.music.kinds import with_kinds
from eavesong.music.reading import NO_WISHES, Reading, Wishes
from eavesong.music.recount import with_sections
from eavesong.music.signals import NAMES, Signals
from eavesong.music.texts import read_events, read_grid, read_sections
from eavesong.sources import fingerprint

if TYPE_CHECKING:
    from collections.abc import Mapping
    from contextlib import AbstractContextManager

    from eavesong.music.events import Events
    from eavesong.music.sketch import Sketch


@dataclass(frozen=True, eq=False)
class Sounding:
    """What a song sounds like."""

    signals: Signals
    duration: float
    """Seconds."""
    audio_hash: str
    """SHA-256 of the song's file."""
    sketch: Sketch | None
    """What its events are found in; None where nobody has asked for it yet."""


@dataclass(frozen=True, eq=False)
class Heard(Sounding):
    """What a song sounds like, and the beats heard in it."""

    readings: tuple[Reading, ...]
    """The most likely one first; the others compete with it."""

    @property
    def grid(self) -> BeatGrid:
        """The beats and sections of the first reading."""
        return self.readings[0].grid


def hear(song_path: str | Path) -> Sounding:
    """The signals of a song, measured the first time it is heard; its beats are not looked for.

    Kept as `listen` keeps its results. Raises AudioError when the song cannot be read.
    """
    from eavesong.music.sound import sound_hash

    audio_hash = sound_hash(song_path)
    sounding = _recall(_kept_at(audio_hash), audio_hash)
    if sounding is None:
        sounding = _measure(song_path, audio_hash)
        _keep(_kept_at(audio_hash), sounding)
    return sounding


def listen(song_path: str | Path, *, cache: bool = True) -> Heard:
    """The signals and the beat grid of a song, analysed when it is listened to for the first time.

    The analysis is kept in the user's cache under the hash of the song's file; with ``cache=False`` it is neither
    read nor written. Raises AudioError when the song cannot be read.
    """
    from eavesong.music.sound import sound_hash

    audio_hash = sound_hash(song_path)
    if not cache:
        return _analyse(song_path, audio_hash)
    heard = _recall(_kept_at(audio_hash), audio_hash)
    if not isinstance(heard, Heard):
        heard = _analyse(song_path, audio_hash)
        _keep(_kept_at(audio_hash), heard)
    return heard


def events_for(song: str | Path, grid: BeatGrid, texts: bool = True) -> Events:
    """What light answers to in ``song``, whose beats are ``grid``: what is heard, unless a text says otherwise; without
    ``texts``, what is heard.

    Where a text called like the song with ``.events`` lies beside it, its events win over those heard of every label
    that it names. Raises BeatsError for a bad text, AudioError for a song that cannot be read.
    """
    from eavesong.music.answers import find_events

    text = events_text_for(song) if texts else None
    written = read_events(text) if text else None
    sounding = _sketched(song)
    assert sounding.sketch is not None
    found = find_events(sounding.sketch, sounding.signals, grid)
    return found.given_way(written) if written else found


def events_text_for(song: str | Path) -> Path | None:
    """The events text that counts for ``song``: the one beside it, else None."""
    return _beside(song, ".events")


def _sketched(song_path: str | Path) -> Sounding:
    """The song with its sketch, made the first time it is asked for."""
    from eavesong.music.sound import sound_hash

    audio_hash = sound_hash(song_path)
    sounding = _recall(_kept_at(audio_hash), audio_hash)
    if sounding is None or sounding.sketch is None:
        sounding = _measure(song_path, audio_hash, sketched=True)
        _keep(_kept_at(audio_hash), sounding)
    return sounding


def _kept_at(audio_hash: str) -> Path:
    return user_cache() / "songs" / f"{audio_hash}.npz"


@dataclass(frozen=True, eq=False)
class Timed:
    """A song as shows need it: what it sounds like, and its beat grid."""

    sounding: Sounding
    grid: BeatGrid


def timed(song: str | Path, beats: str | Path | None = None, sections: str | Path | None = None) -> Timed:
    """What ``song`` sounds like, and its beat grid; its file is read once. See `beats_for`."""
    beats, sections = texts_for(song, beats, sections)
    if beats:
        known = hear(song) if sections else listen(song)
        grid = read_grid(beats, sections, known.duration)
        if isinstance(known, Heard) and not grid.sections:
            grid = with_sections(grid, known.grid.sections)
        return Timed(known, with_kinds(grid, known.signals))
    heard = listen(song)
    if sections:
        return Timed(heard, with_kinds(replace(heard.grid, sections=read_sections(sections)), heard.signals))
    return Timed(heard, heard.grid)


def beats_for(song: str | Path, beats: str | Path | None = None, sections: str | Path | None = None) -> BeatGrid:
    """The beat grid of ``song``: texts win over analysis.

    ``beats`` and ``sections`` are texts somebody named (``beats`` perhaps JAMS, which may hold sections too); else
    those called like the song with ``.beats`` and ``.sections`` are used if they are there; else the analysis.
    Sections from the analysis begin at the nearest downbeat of the beats text; sections whose text
    gives no kind get the one that is heard.

    Raises BeatsError for a bad text, AudioError for a song that cannot be read.
    """
    return timed(song, beats, sections).grid


def texts_for(
    song: str | Path, beats: str | Path | None = None, sections: str | Path | None = None
) -> tuple[str | Path | None, str | Path | None]:
    """The beats and the sections text that count for ``song``: those named, else those beside it, else None."""
    return beats or _beside(song, ".beats"), sections or _beside(song, ".sections")


def _beside(song: str | Path, suffix: str) -> Path | None:
    path = Path(song)
    text = path.parent / f"{path.stem}{suffix}"  # with_suffix() fails where there is no name, as in "."
    return text if os.path.isfile(text) else None  # Path.is_file() fails where the name is too long for a file


def listen_again(song_path: str | Path, wishes: Wishes) -> Heard:
    """The song heard with what somebody knows about it; nothing is kept.

    Raises AudioError when the song cannot be read.
    """
    from eavesong.music.sound import sound_hash

    return _analyse(song_path, sound_hash(song_path), wishes)


def _analyse(song_path: str | Path, audio_hash: str, wishes: Wishes = NO_WISHES) -> Heard:
    from eavesong.music.bands import gather, powers_meter
    from eavesong.music.ear import Ear, ear_meters
    from eavesong.music.signals import signals_of
    from eavesong.music.sketch import sketch_of
    from eavesong.music.sound import open_sound
    from eavesong.music.tones import tones_meter
    from eavesong.music.track import track

    with _one_thread(), open_sound(song_path) as sound:
        meters = [powers_meter(sound.rate), *ear_meters(sound.rate), tones_meter(sound.rate)]
        powers, fine, chroma, tones = gather(sound, meters)
        del meters
        signals, sketch = signals_of(powers), sketch_of(powers, fine, tones)
        ears = [Ear(fine, chroma, powers.duration)]
        del fine, chroma, tones  # long songs: what is not needed any more is let go
        found = track(powers, ears.pop(), wishes)
    readings = tuple(replace(reading, grid=with_kinds(reading.grid, signals)) for reading in found)
    return Heard(signals, powers.duration, audio_hash, sketch, readings)


def _measure(song_path: str | Path, audio_hash: str, sketched: bool = False) -> Sounding:
    """The signals of a song and, where ``sketched``, what its events are found in."""
    from eavesong.music.bands import gather, measure, powers_meter
    from eavesong.music.signals import signals_of
    from eavesong.music.sound import open_sound

    with _one_thread(), open_sound(song_path) as sound:
        if not sketched:
            powers = measure(sound)
            return Sounding(signals_of(powers), powers.duration, audio_hash, None)
        from eavesong.music.ear import ear_meters
        from eavesong.music.sketch import sketch_of
        from eavesong.music.tones import tones_meter

        meters = [powers_meter(sound.rate), ear_meters(sound.rate)[0], tones_meter(sound.rate)]
        powers, fine, tones = gather(sound, meters)
        return Sounding(signals_of(powers), powers.duration, audio_hash, sketch_of(powers, fine, tones))


def _one_thread() -> AbstractContextManager[Any]:
    """While this lasts, matrices are multiplied by one thread: ours are small, and threads that wait for each other by
    spinning took three times the processor's time, and as much longer wherever another program wanted a core."""
    from threadpoolctl import threadpool_limits

    limits: AbstractContextManager[Any] = threadpool_limits(1, user_api="blas")
    return limits


def _keep(path: Path, sounding: Sounding) -> None:
    """Keep what was heard for the next time; a cache that is full costs the song nothing."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _write(path, sounding)
    except (OSError, OutputError) as fault:
        tell_no_cache(str(fault))


def _write(path: Path, sounding: Sounding) -> None:
    signals = sounding.signals
    entries: dict[str, Any] = {name: getattr(signals, name) for name in NAMES}
    entries |= {
        "version": np.array(fingerprint(__name__)),
        "audio_hash": np.array(sounding.audio_hash),
        "duration": np.array(sounding.duration),
        "frame_rate": np.array(signals.frame_rate),
        "spectrum": signals.spectrum,
    }
    if sounding.sketch is not None:
        from eavesong.music.sketch import kept_sketch

        entries |= {f"sketch_{name}": value for name, value in kept_sketch(sounding.sketch).items()}
    if isinstance(sounding, Heard):
        entries["readings"] = np.array(json.dumps([asdict(reading) for reading in sounding.readings]))
    with whole_file(path) as draft, open(draft, "wb") as file:
        np.savez(file, **entries)


def _recall(path: Path, audio_hash: str) -> Sounding | None:
    """What was kept at ``path``, or None when nothing is there or it is damaged or of another version."""
    try:
        # Reading an entry checks its CRC-32, so a damaged file cannot give wrong numbers.
        with np.load(path, allow_pickle=False) as kept:
            entries = {name: kept[name] for name in kept.files}
        if str(entries["version"]) != fingerprint(__name__) or str(entries["audio_hash"]) != audio_hash:
            return None
        return _sounding(entries, audio_hash)
    except Exception:  # a damaged zip, header or entry raises whatever it happens to meet
        return None


def _sounding(entries: Mapping[str, Any], audio_hash: str) -> Sounding:
    duration = float(entries["duration"])
    signals = Signals(
        float(entries["frame_rate"]), **{name: entries[name] for name in NAMES}, spectrum=entries["spectrum"]
    )
    kept = {name.removeprefix("sketch_"): value for name, value in entries.items() if name.startswith("sketch_")}
    sketch = None
    if kept:
        from eavesong.music.sketch import sketch_kept

        sketch = sketch_kept(kept)
    if "readings" not in entries:
        return Sounding(signals, duration, audio_hash, sketch)
    readings = tuple(_reading(kept) for kept in json.loads(str(entries["readings"])))
    return Heard(signals, duration, audio_hash, sketch, readings)


def _reading(kept: dict[str, Any]) -> Reading:
    grid = kept["grid"]
    sections = tuple(Section(**section) for section in grid["sections"])
    beats = BeatGrid(tuple(grid["times"]), tuple(grid["positions"]), sections, grid["duration"])
    return Reading(beats, kept["confidence"], tuple(kept["sure"]), kept["about"])
