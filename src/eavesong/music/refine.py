"""Moving beats from frames to the moments at which their sounds begin."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from eavesong.music.bands import FRAME_RATE
from eavesong.music.ear import WINDOW
from eavesong.music.grid import LATEST

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LATENESS = 0.009
"""Seconds from an onset to the rise it leaves in the powers: half a frame, half the window's fall, and the slowness of
attacks. Between what clicks (7 ms) and bass drums under a bass (11 ms) ask for."""
CENTRE = WINDOW / 2
"""Seconds from an onset to the rise it leaves in the fine bands: half their window."""
REACH = 4
"""Frames within which a beat's sound is looked for."""
CLEAR = 0.4
"""Share of the usual rise at beats that a rise must have to move its beat."""
CLOSEST = 0.1
"""Seconds beats are apart at least."""
EARLY = 0.03
"""Seconds by which a beat may come before the sound begins: what measuring leaves."""
SMOOTHED = 9
"""Beats through which a parabola is laid: players do not change their tempo twice in four beats."""
EVEN, FARTHEST_EVEN = 0.012, 0.05
"""Seconds by which most beats, and the first and last of them, may lie off even ones and still be even ones measured
with noise. A player drifts further within a minute, and slows at the end."""
MOST_EVEN, END = 0.8, 8
"""Share of the beats that must lie so, and how many the first and last are. The others may have been found on other
notes: in the breaks of dance music nobody strikes the beat."""
FEWEST_CLEAR = 0.4
"""Share of the beats at which something has to begin for the others to be placed by them."""
FARTHEST_UNHEARD = 0.3
"""Beats by which one at which nothing begins may have been found off its place."""
FEWEST_EVEN = 24
"""Beats from which that can be told."""
STRAY = 0.012
"""Seconds by which beats may lie off that curve and still be taken for steady ones that were measured with noise."""


def refined(frames: Floats, rise: Floats, begin: float, end: float) -> tuple[Floats, NDArray[np.int64]]:
    """Seconds (m,) of beats given in frames of the fine bands (n,), and which of them (m,) were kept: those from
    ``begin`` to ``end`` seconds, where there is sound.

    Each beat moves to the middle of the highest rise near it in the powers' ``rise`` (f,), which is finer than a
    frame and is not blurred by the fine bands' window; where little begins it moves as its neighbours do.
    """
    expected = frames / FRAME_RATE - CENTRE + LATENESS
    moved, clear = _moves(expected * FRAME_RATE, rise)
    times = _evened(_steadied(expected + moved / FRAME_RATE - LATENESS), clear)
    kept = np.flatnonzero((times >= begin - EARLY) & (times < min(end, LATEST)))
    times = np.maximum(times[kept], 0.0)
    apart = np.append(True, np.diff(times) > CLOSEST) if len(times) else np.zeros(0, bool)
    return times[apart], kept[apart]


def _steadied(times: Floats) -> Floats:
    """Beats (n,) without the jitter of measuring, wherever all around lie close to a smooth curve."""
    if len(times) < SMOOTHED:
        return times
    smooth = smoothed(times)
    stray = np.pad(np.abs(smooth - times), SMOOTHED // 2, mode="edge")
    steady = sliding_window_view(stray, SMOOTHED).max(axis=1) < STRAY
    return np.asarray(np.where(steady, smooth, times))


def _evened(times: Floats, clear: NDArray[np.bool_]) -> Floats:
    """Beats (n,) exactly as far apart as each other, where they are measured to be so all through: a machine's.

    clear: (n,) at which something begins. Where nothing does, in a break or under a soft sound, a beat is where the
    others say that it is, unless it was found far from there.
    """
    if clear.sum() < FEWEST_EVEN or clear.mean() < FEWEST_CLEAR:
        clear = np.ones(len(times), bool)
    if len(times) < FEWEST_EVEN:
        return times
    all_beats = np.arange(len(times))
    beats, seen = all_beats[clear], times[clear]
    half = len(beats) // 2
    # Medians first: a break in which other notes were followed must not tilt the line.
    slope = float(np.median((seen[half:] - seen[:-half]) / (beats[half:] - beats[:-half])))
    start = float(np.median(seen - slope * beats))
    for within in (2 * EVEN, EVEN, EVEN):
        near = np.abs(start + slope * beats - seen) < within
        if near.mean() < MOST_EVEN:
            return times
        slope, start = np.polyfit(beats[near], seen[near], 1)
    stray = np.abs(start + slope * beats - seen)
    ends = max(stray[:END].max(), stray[-END:].max())
    if (stray < EVEN).mean() < MOST_EVEN or np.median(stray) > EVEN / 2 or ends > FARTHEST_EVEN:
        return times
    even = np.asarray(start + slope * all_beats)
    return even if np.abs(even - times).max() < FARTHEST_UNHEARD * slope else times


def smoothed(values: Floats) -> Floats:
    """Each of ``values`` (n,), nine at least, on the parabola through the nine around it (Savitzky & Golay 1964).

    The first and last four lie on the parabola through the first and last nine.
    """
    half = SMOOTHED // 2
    offsets = np.arange(-half, half + 1)
    # What gives a parabola's values at the nine places from nine values: the projection onto 1, x and x squared.
    onto = np.vander(offsets, 3) @ np.linalg.pinv(np.vander(offsets, 3))
    inner = np.convolve(values, onto[half], mode="valid")
    return np.concatenate([onto[:half] @ values[:SMOOTHED], inner, onto[half + 1 :] @ values[-SMOOTHED:]])


def _moves(expected: Floats, rise: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Frames (n,) by which each beat moves, and at which of them (n,) something begins."""
    around = np.rint(expected).astype(np.int64)[:, None] + np.arange(-REACH, REACH + 1)
    nearby = rise[np.clip(around, 0, len(rise) - 1)]
    top = nearby.argmax(axis=1)
    close = np.abs(np.arange(2 * REACH + 1) - top[:, None]) <= 2
    weight = np.where(close, nearby, 0.0) ** 2
    total = weight.sum(axis=1)
    middle = (weight * around).sum(axis=1) / np.maximum(total, 1e-12)
    height = nearby.max(axis=1)
    clear = height > CLEAR * np.median(height)
    moves = middle - expected
    if not clear.any():
        return np.zeros(len(expected)), clear
    beats = np.arange(len(expected))
    return np.asarray(np.where(clear, moves, np.interp(beats, beats[clear], moves[clear]))), clear
