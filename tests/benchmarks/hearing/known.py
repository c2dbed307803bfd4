"""Songs with known beats: the sets in folders, their truth, and what was heard in them, kept between runs.

A set is a folder with ``audio/NAME.wav`` and ``truth/NAME.beats.txt``, ``truth/NAME.downbeats.txt`` (a time in seconds
a line, as ``mir_eval.io.load_events`` reads) and, where sections are known, ``truth/NAME.sections.lab``.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

import mir_eval
import numpy as np
from numpy.typing import NDArray

from eavesong.music import bands, ear
from eavesong.music.ear import Ear, ear_meters
from eavesong.music.sound import open_sound

Floats = NDArray[np.float64]
SUFFIXES = (".wav", ".flac", ".ogg", ".mp3")


@dataclass(frozen=True)
class Known:
    """A song whose beats are known."""

    set: Path
    audio: Path

    @property
    def name(self) -> str:
        """As the files are called."""
        return self.audio.stem

    @property
    def beats(self) -> Floats:
        """Seconds (n,)."""
        return self._events("beats")

    @property
    def downbeats(self) -> Floats:
        """Seconds (m,)."""
        return self._events("downbeats")

    def _events(self, what: str) -> Floats:
        lines = (self.set / "truth" / f"{self.name}.{what}.txt").read_text().split("\n")
        return np.array([float(line.split()[0]) for line in lines if line.strip()])


def songs_of(folders: list[Path], apart: list[Path] | None = None) -> list[Known]:
    """The songs of these sets, in order of name, without those played from a score that a set of ``apart`` has too."""
    found = [Known(folder, audio) for folder in folders for audio in sorted((folder / "audio").iterdir())
             if audio.suffix in SUFFIXES]  # fmt: skip
    taken = {score for folder in apart or [] for score in scores_of(folder).values()}
    scores = {folder: scores_of(folder) if taken else {} for folder in folders}
    known = [song for song in found if (song.set / "truth" / f"{song.name}.downbeats.txt").exists()]
    return [song for song in known if scores[song.set].get(song.name) not in taken]


def scores_of(folder: Path) -> dict[str, str]:
    """The public score that each song of a set was played from, if its manifest names one."""
    manifest = folder / "manifest.json"
    told = json.loads(manifest.read_text()) if manifest.exists() else []
    songs = told["songs"] if isinstance(told, dict) else told
    return {song["name"]: song["score"] for song in songs if "score" in song}


def ear_of(song: Known, kept: Path) -> Ear:
    """What is heard in a song, from the folder of kept ones if it is there."""
    path = ear_path(song, kept)
    if not path.exists():
        with open_sound(song.audio) as sound:
            gathered = bands.gather(sound, [*ear_meters(sound.rate), lasting(sound.rate)])
        keep_ear(path, *gathered)
    with np.load(path) as entries:
        return Ear(entries["fine"], entries["chroma"], float(entries["duration"]))


def ear_path(song: Known, kept: Path) -> Path:
    """Where in the folder of kept ones what is heard of a song stands."""
    sources = b"".join(Path(module.__file__).read_bytes() for module in (bands, ear))
    where = str(song.audio.resolve()).encode()
    return kept / f"{song.name}-{hashlib.sha256(sources + where).hexdigest()[:12]}.npz"


def keep_ear(path: Path, fine: NDArray[np.float16], chroma: NDArray[np.float32], duration: float) -> None:
    """Keep what is heard of a song."""
    path.parent.mkdir(parents=True, exist_ok=True)
    np.savez(path, fine=fine, chroma=chroma, duration=duration)


def lasting(rate: int) -> bands.Meter:
    """A meter of nothing but how long a song is."""
    return bands.Meter(rate, 1, np.ones(64, np.float32), lambda hertz: hertz[:, None], lambda _, duration: duration)


def beat_scores(true: Floats, estimated: Floats) -> tuple[float, float, float]:
    """F within 70 ms, CMLt and AMLt by ``mir_eval.beat``, from 5 s on as that library's evaluations are."""
    reference, estimate = (mir_eval.beat.trim_beats(np.asarray(beats, float)) for beats in (true, estimated))
    if not len(reference) or not len(estimate):
        return 0.0, 0.0, 0.0
    _, correct, _, any_level = mir_eval.beat.continuity(reference, estimate)
    return mir_eval.beat.f_measure(reference, estimate), correct, any_level


def level_scores(true: Floats, estimated: Floats) -> tuple[float, float]:
    """F and CMLt as `beat_scores` has them, of beats that are all farther apart than twice the window of F: a hundred
    times as fast, for the many candidates of the many songs that are learned from."""
    true, estimated = (beats[beats >= 5.0] for beats in (true, estimated))
    if not len(true) or not len(estimated):
        return 0.0, 0.0
    near = np.abs(estimated[_nearest(true, estimated)] - true)
    f = 2 * float((near <= 0.07).sum()) / (len(true) + len(estimated))
    if len(true) < 2 or len(estimated) < 2:
        return f, 0.0
    at = _nearest(estimated, true)
    number = np.arange(len(at))
    first = (number == 0) | (at == 0)
    gap = np.where(first, true[np.minimum(at + 1, len(true) - 1)] - true[np.minimum(at, len(true) - 2)],
                   true[at] - true[at - 1])  # fmt: skip
    own = np.where(first, estimated[np.minimum(number + 1, len(at) - 1)] - estimated[np.minimum(number, len(at) - 2)],
                   estimated - estimated[number - 1])  # fmt: skip
    right = (np.abs(estimated - true[at]) / gap < 0.175) & (np.abs(1 - own / gap) < 0.175)
    return f, len(np.unique(at[right])) / max(len(true), len(estimated))


def _nearest(places: Floats, among: Floats) -> NDArray[np.int64]:
    after = np.clip(np.searchsorted(among, places), 1, len(among) - 1) if len(among) > 1 else np.zeros(len(places), int)
    before = np.maximum(after - 1, 0)
    return np.where(np.abs(places - among[before]) <= np.abs(places - among[after]), before, after)


def downbeat_f(true: Floats, estimated: Floats) -> float:
    """F of downbeats within 70 ms, from 5 s on."""
    reference, estimate = (mir_eval.beat.trim_beats(np.asarray(beats, float)) for beats in (true, estimated))
    return mir_eval.beat.f_measure(reference, estimate) if len(reference) and len(estimate) else 0.0
