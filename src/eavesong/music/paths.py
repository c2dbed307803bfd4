"""Paths of beats through a novelty curve: the best in each range of tempo, by dynamic programming."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import types

from eavesong.kernels.store import kept

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Frames = NDArray[np.int64]

FIRST, FARTHEST = -128, 127
"""What stands where a path begins, among the steps by which the period changed at each beat, and the largest of these:
they are kept in a byte, as there is one for every frame and period."""


def best_path(reward: Floats, shortest: int, longest: int, stiffness: float) -> Frames:
    """The frames (n,) of the beats that gather most reward, between ``shortest`` and ``longest`` frames apart.

    A beat counts its ``reward`` (f,) times the interval before it, so the sum is the mean reward at beats over time
    and does not favour many beats over few. A change from one interval to the next costs ``stiffness`` per unit of
    the logarithm of their ratio (cf. Ellis 2007; Krebs, Boeck & Widmer 2015), and is at most a sixteenth.
    """
    longest = min(longest, max(shortest + 1, len(reward) - 1))
    periods = np.arange(shortest, longest + 1)
    if len(reward) <= shortest:
        return np.zeros(0, np.int64)
    score, came = _traced(np.ascontiguousarray(reward, np.float64), periods, stiffness)
    return np.asarray(_followed(score, came, periods))


def _trace(reward, periods, stiffness):  # type: ignore[no-untyped-def]
    frames, count = len(reward), len(periods)
    held = periods[-1] + 1  # rows of scores that are looked back at: the rest is overwritten
    score = np.full((held, count), -1e30, np.float32)
    came = np.full((frames, count), FIRST, np.int8)
    steps = np.log(periods.astype(np.float64))
    for frame in range(frames):
        row = frame % held
        for index in range(count):
            period = periods[index]
            if frame < period:
                score[row, index] = frame * reward[frame]
                continue
            before = row - period if row >= period else row - period + held
            reach = min(FARTHEST, max(1, period // 16))
            best, chosen = np.float32(-1e30), index
            for other in range(max(0, index - reach), min(count, index + reach + 1)):
                value = score[before, other] - stiffness * abs(steps[index] - steps[other])
                if value > best:
                    best, chosen = value, other
            score[row, index] = best + period * reward[frame]
            came[frame, index] = chosen - index
    return score, came


def _back(score, came, periods):  # type: ignore[no-untyped-def]
    frames, count = came.shape
    held = len(score)
    best, frame, index = np.float32(-1e30), 0, 0
    for last in range(max(0, frames - periods[-1]), frames):
        for other in range(count):
            # The stretch after the last beat counts as the beats before it do, or early ends would lose nothing.
            if last >= frames - periods[other] and score[last % held, other] > best:
                best, frame, index = score[last % held, other], last, other
    beats = np.empty(frames, np.int64)
    found = 0
    while True:
        beats[found] = frame
        found += 1
        step = came[frame, index]
        if step == FIRST:
            break
        frame, index = frame - periods[index], index + step
    return beats[:found][::-1].copy()


_SCORE, _CAME, _WHOLE = types.float32[:, ::1], types.int8[:, ::1], types.int64[::1]
_traced = kept(_trace, types.Tuple((_SCORE, _CAME))(types.float64[::1], _WHOLE, types.float64))
_followed = kept(_back, _WHOLE(_SCORE, _CAME, _WHOLE))
