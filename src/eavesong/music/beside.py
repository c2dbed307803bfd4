"""How each candidate of a song stands beside its others: what is best for a song decides, not what is good as such.

A path of beats that drifts to the off-beat in one passage and back in another gathers more than one that stays on the
beat, in music that leans on the off-beat. But where a machine plays, beats are exactly even, and a path that is not
betrays itself beside one that is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

NEAR = 2.5
"""Frames from even beats within which a beat counts when they are fitted again."""
EVEN = 2.0
"""Frames within which nine beats of ten lie where they are even all through."""
SAME = 0.03
"""Share by which two tempi may differ and be one."""
MOST_RIGHT, MOST_SHARE = 3.0, 0.5
"""Differences, in log odds and in shares, beyond which nothing more is told."""
LEAST = -5.0
COUNT = 10
"""Figures that describe how a candidate stands."""


def evenness(beats: Floats) -> tuple[float, float]:
    """Frames between the even beats that lie nearest to ``beats`` (n,), and from them to all but a tenth of these."""
    number = np.arange(len(beats))
    step, start = np.polyfit(number, beats, 1)
    away = np.abs(beats - start - step * number)
    near = away < NEAR
    if near.mean() > 0.6:
        step, start = np.polyfit(number[near], beats[near], 1)
        away = np.abs(beats - start - step * number)
    return float(step), float(np.percentile(away, 90))


def evens(candidates: list[Floats]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which candidates (m,) are even all through, and, for each (m, m), which even ones share its tempo."""
    fits = np.array([evenness(beats) for beats in candidates])
    even = fits[:, 1] < EVEN
    usual = np.array([float(np.median(np.diff(beats))) for beats in candidates])
    return even, even & (np.abs(fits[:, 0] / usual[:, None] - 1) < SAME)


def beside(candidates: list[Floats], told: Floats) -> Floats:
    """How each of ``candidates`` (m arrays of frames) stands beside the others (m, 10).

    ``told`` (m, 5) is what is told of each: what speaks for it, how right its beats are, the pulse on them and gathered
    by them, its log odds there, and its chances. Each is given as what it falls short of the song's best; then whether
    beats are even, and what an uneven candidate gathers less or more than an even one of its tempo.
    """
    even, same = evens(candidates)
    right, share = told[:, 1], told[:, 2]
    table = np.zeros((len(candidates), COUNT))
    table[:, :5] = told - told.max(axis=0)
    table[:, 5] = even
    for one in np.flatnonzero(~even & same.any(axis=1)):
        table[one, 6] = 1.0
        table[one, 7] = np.clip(right[same[one]].max() - right[one], -MOST_RIGHT, MOST_RIGHT)
        table[one, 8] = np.clip(share[same[one]].max() - share[one], -MOST_SHARE, MOST_SHARE)
    if even.any():
        table[even, 9] = np.clip(right[even] - right[even].max(), LEAST, 0.0)
    return table
