"""Songs whose strokes and lead are known: what is heard in them, kept between runs, and their truth."""

from __future__ import annotations

import hashlib
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
from known import Known, ear_path, keep_ear, lasting, songs_of
from numpy.typing import NDArray

from eavesong.music import bands, ear, tones
from eavesong.music.ear import ear_meters
from eavesong.music.sound import open_sound
from eavesong.music.tones import tones_meter

Floats = NDArray[np.float64]


def heard_of(song: Known, kept: Path) -> tuple[NDArray[np.float16], NDArray[np.uint8]]:
    """The fine bands (f, 64) and the tones (g, 176) of a song, from the folder of kept ones if they are there."""
    path = heard_path(song, kept)
    if not path.exists():
        with open_sound(song.audio) as sound:
            fine, heard = bands.gather(sound, [ear_meters(sound.rate)[0], tones_meter(sound.rate)])
        kept.mkdir(parents=True, exist_ok=True)
        np.savez(path, fine=fine, tones=heard)
    with np.load(path) as entries:
        return entries["fine"], entries["tones"]


def heard_path(song: Known, kept: Path) -> Path:
    """Where in the folder of kept ones the bands and tones of a song stand."""
    sources = b"".join(Path(module.__file__).read_bytes() for module in (bands, ear, tones))
    where = str(song.audio.resolve()).encode()
    return kept / f"{song.set.name}-{song.name}-{hashlib.sha256(sources + where).hexdigest()[:12]}.npz"


def hear(song: Known, kept: Path) -> None:
    """Keep what `known.ear_of` and, where strokes or a lead are known, `heard_of` want of a song: heard once."""
    with open_sound(song.audio) as sound:
        meters = [*ear_meters(sound.rate), lasting(sound.rate), tones_meter(sound.rate)]
        fine, chroma, duration, heard = bands.gather(sound, meters)
    keep_ear(ear_path(song, kept), fine, chroma, duration)
    if truth_path(song, "events").exists() or truth_path(song, "lead").exists():
        np.savez(heard_path(song, kept), fine=fine, tones=heard)


def _be_kept(song: Known, kept: Path) -> None:
    if not heard_path(song, kept).exists():
        heard_of(song, kept)


def all_heard(folders: list[Path], kept: Path, what: str, jobs: int = 1) -> list[Known]:
    """The songs of these sets of which ``what`` (``events`` or ``lead``) is known, each heard and kept."""
    songs = [song for song in songs_of(folders) if truth_path(song, what).exists()]
    with ProcessPoolExecutor(jobs) as pool:
        list(pool.map(_be_kept, songs, [kept] * len(songs), chunksize=4))
    return songs


def truth_path(song: Known, what: str) -> Path:
    """Where the truth of a song stands."""
    return song.set / "truth" / f"{song.name}.{what}.txt"


def events_of(song: Known) -> dict[str, Floats]:
    """The seconds (n,) of each event by its label."""
    rows = [line.split("\t") for line in truth_path(song, "events").read_text().splitlines()]
    labels = {label for _, label in rows}
    return {label: np.array([float(time) for time, other in rows if other == label]) for label in labels}


def lead_of(song: Known) -> Floats:
    """The notes of the lead (n, 3): begin, end, MIDI pitch."""
    return np.loadtxt(truth_path(song, "lead"), ndmin=2)
