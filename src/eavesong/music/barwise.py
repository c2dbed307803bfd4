"""The bars of a song as rows of figures: what sounds in each, what begins in it, which chords it holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.ear import CHROMA_RATE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.bands import Powers
    from eavesong.music.grid import BeatGrid

    Floats = NDArray[np.float64]

FLOOR = 1e-5
"""Power of a band against the song's strongest (-50 dB) below which changes do not count."""
SHORTEST_BAR = 0.3
"""Seconds that the last bar lasts at least; a shorter rest belongs to the bar before."""
SAME_LEVEL = 0.02
"""Powers of ten (0.2 dB) that are no difference: in a song that stays the same, noise must not count as change."""


@dataclass(frozen=True, eq=False)
class Bars:
    """n bars; each table (n, columns) in standard deviations over the song's bars, 0 in the mean."""

    edges: Floats
    """(n + 1,): seconds at which each begins, and the song's end."""
    sound: Floats
    """(n, 32): the level of every band."""
    attack: Floats
    """(n, 32): how much begins in every band."""
    chords: Floats | None
    """(n, 48): how strong every pitch class is, in the bass and above, in each half; None without a chroma."""

    def __len__(self) -> int:
        return len(self.edges) - 1


def bars_of(powers: Powers, grid: BeatGrid, chroma: NDArray[np.float32] | None = None) -> Bars:
    """The bars of ``grid`` in a song's powers and, where there is one, its ``chroma`` (g, 24) at 10 Hz.

    What comes before the first downbeat is left out; a bar that is longer than the sound ends with it.
    """
    starts = [time for time in grid.downbeats if time < powers.duration - SHORTEST_BAR]
    edges = np.array([*starts, powers.duration])
    sound, attack = _sounds(powers.bands, edges * FRAME_RATE)
    return Bars(
        edges,
        _even(sound, SAME_LEVEL),
        _even(attack, SAME_LEVEL / 2),
        None if chroma is None else _chords(chroma, edges),
    )


def _sounds(bands: NDArray[np.float32], edges: Floats) -> tuple[Floats, Floats]:
    """The mean level of each band (f, b) and how much begins in it, in powers of ten, between edges (n + 1,) in frames:
    (n, b) each. One bar at a time: the levels of a whole song would take as much memory as its bands again."""
    floor = np.float32(max(FLOOR * float(bands.max(initial=0.0)), 1e-20))
    means = np.zeros((2, len(edges) - 1, bands.shape[1]))
    for number, (first, last) in enumerate(zip(*_spans(len(bands), edges), strict=True)):
        level = np.log10(bands[max(0, first - 1) : last] + floor)
        begun = np.maximum(0.0, np.diff(level, axis=0)).sum(axis=0, dtype=np.float64)
        means[:, number] = level[min(first, 1) :].mean(axis=0, dtype=np.float64), begun / (last - first)
    return means[0], means[1]


def _chords(chroma: NDArray[np.float32], edges: Floats) -> Floats:
    """The amplitudes of the pitch classes in both halves of each bar."""
    halves = np.sort(np.concatenate([edges, (edges[1:] + edges[:-1]) / 2]))
    amplitudes = _means(np.sqrt(chroma), halves * CHROMA_RATE)
    return _even(amplitudes.reshape(len(edges) - 1, 2 * chroma.shape[1]), 0.0)


def _means(rows: NDArray[np.float32], edges: Floats) -> Floats:
    """The mean of the rows (f, c) from each edge (n + 1,), in frames, to the next: (n, c)."""
    first, last = _spans(len(rows), edges)
    means = [rows[a:b].mean(axis=0, dtype=np.float64) for a, b in zip(first, last, strict=True)]
    return np.array(means).reshape(len(first), rows.shape[1])


def _spans(count: int, edges: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The first of ``count`` rows at each edge (n + 1,) but the last, and the row where its span ends: (n,) each."""
    first = np.clip(np.round(edges[:-1]).astype(np.int64), 0, max(0, count - 1))
    return first, np.clip(np.round(edges[1:]).astype(np.int64), first + 1, max(1, count))


def _even(rows: Floats, floor: float) -> Floats:
    """Columns brought to mean 0 and one spread, so that every one counts; what hardly changes counts less."""
    if not len(rows):
        return rows
    spread = rows.std(axis=0)
    return np.asarray((rows - rows.mean(axis=0)) / (spread + 0.1 * spread.mean() + floor + 1e-9))
