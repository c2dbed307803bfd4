"""Finding the beats of a song in its powers."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.files import user_cache
from eavesong.music.bands import FRAME_RATE
from eavesong.music.grid import BeatGrid
from eavesong.music.parts import find_sections
from eavesong.music.reading import NO_WISHES, Reading, Wishes
from eavesong.music.signals import rises

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.bands import Powers

    Floats = NDArray[np.float64]

LATENESS = 0.009
"""Seconds from an onset to the rise it leaves: half a frame, half the window's fall, and the slowness of attacks.
Between what clicks (7 ms) and bass drums under a bass (11 ms) ask for."""
PLAIN_TEMPO = 120.0
"""Beats a minute of the plain pulse that stands in where no beat can be heard."""
FEWEST = 4
"""Beats that make a pulse; with fewer the plain one is used."""
THREE_IS_CLEARER = 1.3
"""How much clearer accents on every third beat must be than those on every fourth: most songs are in four."""


def track(powers: Powers, wishes: Wishes = NO_WISHES) -> tuple[Reading, ...]:
    """The readings of a song."""
    grid = _track(powers)
    return (Reading(grid, 0.5, (0.5,) * grid.beat_count, ""),)


def _track(powers: Powers) -> BeatGrid:
    """The beat grid of a song: beats by librosa's tracker, downbeats where the bass is strongest, sections.

    Where fewer than four beats are heard, as in silence, it is 120 a minute in bars of four from 0 s on.
    """
    times = _beats(rises(powers.bands))
    if len(times) < FEWEST:
        return _plain(powers.duration)
    metre, phase = _metre(_accents(powers, times))
    positions = tuple((k - phase) % metre + 1 for k in range(len(times)))
    bare = BeatGrid(tuple(np.round(times, 6)), positions, (), powers.duration)
    return BeatGrid(bare.times, positions, find_sections(powers, bare), powers.duration)


def _plain(duration: float) -> BeatGrid:
    count = max(2, int(duration * PLAIN_TEMPO / 60) + 1)
    times = tuple(beat * 60.0 / PLAIN_TEMPO for beat in range(count))
    return BeatGrid(times, tuple(beat % 4 + 1 for beat in range(count)), (), duration)


def _beats(rise: Floats) -> Floats:
    """Seconds of the beats that librosa's tracker (Ellis 2007) finds in the rises (f,), corrected for lateness."""
    if not rise.any():
        return np.zeros(0)
    _, frames = _librosa_beat().beat_track(onset_envelope=rise, sr=FRAME_RATE, hop_length=1, units="frames", trim=False)
    return _refined(np.unique(frames).astype(np.float64), rise)


def _refined(frames: Floats, rise: Floats) -> Floats:
    """Seconds of beats given in frames, each moved to the middle of the rise around it.

    A frame is 10 ms; the middle of the rises within 30 ms is finer, and does not jump.
    """
    around = frames.astype(np.int64)[:, None] + np.arange(-3, 4)
    weight = rise[np.clip(around, 0, len(rise) - 1)] ** 2
    total = weight.sum(axis=1)
    middle = np.where(total > 0, (weight * around).sum(axis=1) / np.maximum(total, 1e-12), frames)
    times = np.maximum(middle / FRAME_RATE - LATENESS, 0.0)
    return times[np.append(True, np.diff(times) > 0.1)] if len(times) else times


def _accents(powers: Powers, times: Floats) -> Floats:
    """How much bass begins at each beat (n,), in powers of ten."""
    low = rises(powers.bands[:, :8])
    around = np.round(times * FRAME_RATE).astype(np.int64)[:, None] + np.arange(-2, 6)
    return np.asarray(low[np.clip(around, 0, len(low) - 1)].sum(axis=1))


def _metre(accents: Floats) -> tuple[int, int]:
    """Beats in a bar, 4 or 3, and which beat is the first downbeat: where accents stand out most."""
    four, phase_of_four = _clearest(accents, 4)
    three, phase_of_three = _clearest(accents, 3)
    return (3, phase_of_three) if three > four * THREE_IS_CLEARER else (4, phase_of_four)


def _clearest(accents: Floats, metre: int) -> tuple[float, int]:
    means = [float(accents[phase::metre].mean()) for phase in range(metre)]
    phase = int(np.argmax(means))
    return (means[phase] - float(np.mean(means))) * np.sqrt(len(accents) / metre), phase


@cache
def _librosa_beat() -> Any:
    """librosa's beat module, loaded and compiled by one process at a time.

    Its functions are compiled when first called and kept in a cache on disk, which breaks for good when several
    processes fill it at once; a broken one is cleared and filled anew.
    """
    with _locked(user_cache() / "librosa.lock"):
        import librosa

        try:
            _warm(librosa.beat)
        except Exception:  # whatever a damaged cache makes of itself
            for damaged in _compiled(Path(librosa.__file__).parent):
                damaged.unlink(missing_ok=True)
            _warm(librosa.beat)
        return librosa.beat


def _warm(beat: Any) -> None:
    pulse = np.zeros(600)
    pulse[::50] = 1.0
    beat.beat_track(onset_envelope=pulse, sr=FRAME_RATE, hop_length=1, units="frames", trim=False)


def _compiled(package: Path) -> Iterator[Path]:
    """The files numba keeps of librosa's compiled functions: beside its modules, or where nothing can be written
    there, or where the user wants it otherwise, in folders that are called after theirs."""
    import platformdirs

    names = {"librosa", *(folder.name for folder in package.rglob("*") if folder.is_dir())}
    roots = [os.environ.get("NUMBA_CACHE_DIR"), platformdirs.user_cache_dir("numba", appauthor=False)]
    elsewhere = [folder for root in roots if root for name in names for folder in Path(root).glob(f"{name}_*")]
    for folder in [package, *elsewhere]:
        yield from folder.rglob("*.nbi")
        yield from folder.rglob("*.nbc")


@contextlib.contextmanager
def _locked(path: Path) -> Iterator[None]:
    """Hold the lock file at ``path``; where the system has no such locks, go on without."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    with open(path, "w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield
