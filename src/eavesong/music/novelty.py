"""Where something begins: curves a hundred times a second from the fine bands, and how notes change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.ear import CHROMA_RATE, FINE_BANDS, HIGHEST, LOWEST, Ear

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

EDGES = (30.0, 130.0, 400.0, 1_500.0, 5_000.0, 20_000.0)
"""Hz between which each novelty curve hears."""
CURVES = len(EDGES) - 1
RANGE = 5.0
"""Powers of ten below the song's top in which a rise counts."""
LAG = 2
"""Frames over which a rise is measured."""
USUAL = 4.0
"""Seconds of the running mean that a curve is divided by."""
AT_ONCE = 1 << 15
"""Frames taken together: memory stays small in long recordings."""


def novelty(ear: Ear) -> Singles:
    """Five curves (f, 5) of how much begins in each frame, from bass to treble, 1 being usual for the seconds around.

    The rise of each band's level over its neighbours two frames before (Boeck & Widmer 2013, SuperFlux: vibrato does
    not count), divided by its own running mean, so that quiet passages count as loud ones do; 0 in silence.
    """
    rises = np.concatenate([_rises(ear.fine, _floor(ear), start) for start in range(0, len(ear.fine), AT_ONCE)])
    return _adapted(rises)


def _floor(ear: Ear) -> float:
    """The level that counts as nothing: so far below the song's top."""
    loudest = ear.fine[:: max(1, len(ear.fine) // 50_000)].max(axis=1)
    return max(0.0, float(np.percentile(loudest, 99)) - RANGE) if len(loudest) else 0.0


def _rises(fine: NDArray[np.float16], floor: float, start: int) -> Singles:
    level = np.maximum(fine[max(0, start - LAG) : start + AT_ONCE].astype(np.float32) - np.float32(floor), 0.0)
    before = level.copy()
    before[:, 1:] = np.maximum(before[:, 1:], level[:, :-1])
    before[:, :-1] = np.maximum(before[:, :-1], level[:, 1:])
    rise = np.zeros_like(level)
    rise[LAG:] = np.maximum(0.0, level[LAG:] - before[:-LAG])
    rise = rise[min(start, LAG) :]
    middles = np.geomspace(LOWEST, HIGHEST, FINE_BANDS)
    groups = np.searchsorted(np.array(EDGES), middles, side="right") - 1
    return np.stack([rise[:, groups == curve].mean(axis=1) for curve in range(CURVES)], axis=1)


def _adapted(rises: Singles) -> Singles:
    """Each curve (f, 5) divided by its mean over the seconds around, which is at least a fifth of the song's."""
    even = np.empty_like(rises)
    for curve, least in enumerate(np.maximum(0.2 * rises.mean(axis=0), 1e-4)):
        usual = np.maximum(running_mean(rises[:, curve], round(USUAL * FRAME_RATE)), least)
        even[:, curve] = rises[:, curve] / usual.astype(np.float32)
    return even


def running_mean(values: NDArray[np.floating], width: int) -> Floats:
    """The mean of ``values`` (f, ...) over ``width`` frames around each, fewer at the ends."""
    total = np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0, dtype=np.float64)])
    now = np.arange(len(values))
    begin, end = np.maximum(now - width // 2, 0), np.minimum(now + width // 2 + 1, len(values))
    count = (end - begin).reshape(-1, *[1] * (values.ndim - 1))
    return np.asarray((total[end] - total[begin]) / count)


def note_change(notes: Floats) -> Singles:
    """How much notes (g, c) change (g,) ten times a second, 0 to 1: one minus the likeness of the half seconds around.

    Row i stands between the frames before i and those from i on.
    """
    reach = CHROMA_RATE // 2
    total = np.concatenate([np.zeros((1, notes.shape[1])), np.cumsum(notes, axis=0)])
    now = np.arange(len(notes))
    before = total[now] - total[np.maximum(now - reach, 0)]
    after = total[np.minimum(now + reach, len(notes))] - total[now]
    return (1.0 - likeness(before, after)).astype(np.float32)


def notes_of(ear: Ear) -> Floats:
    """The notes (g, 24) compressed, so that quiet notes count too: bass and upper pitch classes."""
    top = max(1e-9, float(np.percentile(ear.chroma, 99.5)))
    return np.log1p(1e3 * ear.chroma.astype(np.float64) / top)


def likeness(one: NDArray[np.floating], other: NDArray[np.floating]) -> Floats:
    """Cosine of the rows of two tables (n, c), 1 where either is empty."""
    product = (one * other).sum(axis=1)
    size = np.sqrt((one**2).sum(axis=1) * (other**2).sum(axis=1))
    return np.where(size > 1e-12, product / np.maximum(size, 1e-12), 1.0)
