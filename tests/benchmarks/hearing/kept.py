"""What the benchmark of sections needs of each song, measured once and kept: powers, chroma, and beat-wise sound."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from eavesong.music.bands import Powers
from eavesong.music.grid import BeatGrid

Floats = NDArray[np.float64]
NOT_MUSIC = ("silence", "end")
"""Labels in the truth that are no section of the music."""
RATE, HOP = 22_050, 512


@dataclass(frozen=True, eq=False)
class Song:
    """A song of a set with its truth."""

    name: str
    powers: Powers
    chroma: NDArray[np.float32]
    """(g, 24) at 10 Hz, as `eavesong.music.ear.Ear` has it."""
    pitches: Floats
    """(beats, 252): constant-Q amplitude in dB, median of each beat, 36 bins an octave from C1."""
    timbre: Floats
    """(beats, 13): mean MFCCs of each beat."""
    beats: Floats
    downbeats: Floats
    intervals: Floats
    """(sections, 2) in seconds, music alone."""
    labels: list[str]

    @property
    def grid(self) -> BeatGrid:
        """The true beats, without sections."""
        return grid_of(self.beats, self.downbeats, self.powers.duration)


def grid_of(beats: Floats, downbeats: Floats, duration: float) -> BeatGrid:
    """A grid of beats (n,) in seconds, the bars beginning at those nearest to the downbeats (m,)."""
    first = {int(np.argmin(np.abs(beats - downbeat))) for downbeat in downbeats}
    positions, position = [], len(beats) - 1 - min(first) if first else 0
    before = min(first)
    for index in range(len(beats)):
        if index in first:
            position = 1
        elif index < before:
            position = index + 4 - before % 4 if before < 4 else index + 1
        else:
            position += 1
        positions.append(position)
    return BeatGrid(tuple(beats), tuple(positions), (), duration)


def songs_of(folder: Path) -> list[str]:
    """The names of the songs in a set that have sound and truth."""
    names = sorted(path.name.removesuffix(".sections.lab") for path in (folder / "truth").glob("*.sections.lab"))
    return [name for name in names if (folder / "audio" / f"{name}.wav").is_file()]


def song_of(folder: Path, name: str, kept: Path, alone: bool = False) -> Song:
    """A song of the set in ``folder``; what takes long to measure is kept in the folder ``kept``."""
    path = kept / f"{folder.name}-{name}{'-alone' * alone}.npz"
    truth = folder / "truth" / name
    beats = np.loadtxt(f"{truth}.beats.txt", ndmin=1)
    downbeats = np.loadtxt(f"{truth}.downbeats.txt", ndmin=1)
    rows = [line.split(None, 2) for line in Path(f"{truth}.sections.lab").read_text().splitlines() if line.strip()]
    rows = [row for row in rows if row[2].strip().lower() not in NOT_MUSIC]
    if not path.is_file():
        kept.mkdir(parents=True, exist_ok=True)
        _keep(path, folder / "audio" / f"{name}.wav", beats, alone)
    with np.load(path) as entries:
        powers = Powers(
            *(entries[key] for key in ("bands", "weighted", "bass", "mid", "treble")), float(entries["duration"])
        )
        chroma, pitches, timbre = entries["chroma"], entries["pitches"].astype(float), entries["timbre"].astype(float)
    intervals = np.array([[float(row[0]), float(row[1])] for row in rows])
    return Song(name, powers, chroma, pitches, timbre, beats, downbeats, intervals, [row[2].strip() for row in rows])


def _keep(path: Path, audio: Path, beats: Floats, alone: bool) -> None:
    from eavesong.music.bands import gather, powers_meter
    from eavesong.music.ear import ear_meters
    from eavesong.music.sound import open_sound

    with open_sound(audio) as sound:
        powers, _, chroma = gather(sound, [powers_meter(sound.rate), *ear_meters(sound.rate)])
    pitches, timbre = (np.zeros((0, 0), np.float32),) * 2 if alone else _beatwise(audio, beats)
    draft = path.with_suffix(".part.npz")
    np.savez(
        draft,
        **{key: getattr(powers, key) for key in ("bands", "weighted", "bass", "mid", "treble")},
        duration=powers.duration,
        chroma=chroma,
        pitches=pitches,
        timbre=timbre,
    )
    draft.rename(path)


def _beatwise(audio: Path, beats: Floats) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """The pitches (beats, 252) and the timbre (beats, 13) of each beat, by librosa."""
    import librosa

    samples, _ = librosa.load(audio, sr=RATE, mono=True)
    pitches = np.abs(librosa.cqt(samples, sr=RATE, hop_length=HOP, bins_per_octave=36, n_bins=7 * 36))
    frames = librosa.util.fix_frames(librosa.time_to_frames(beats, sr=RATE, hop_length=HOP), x_min=0, x_max=None)
    decibels = librosa.amplitude_to_db(pitches, ref=np.max)
    timbre = librosa.feature.mfcc(y=samples, sr=RATE, n_mfcc=13, hop_length=HOP)
    told = (librosa.util.sync(decibels, frames, aggregate=np.median), librosa.util.sync(timbre, frames))
    return told[0].T.astype(np.float32), told[1].T.astype(np.float32)
