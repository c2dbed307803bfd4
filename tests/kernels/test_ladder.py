"""Ladders over blocks of frames, against frames solved one by one."""

import numpy as np
import pytest

from eavesong.kernels.ladder import solve_frames
from eavesong.kernels.planes import FRAMES as TILE
from eavesong.limits.ladder import Ladder

RANDOM = np.random.default_rng(6)
FRAMES = RANDOM.integers(0, 256, (2 * TILE + 5, 35), dtype=np.uint8)
FOUR = [[4 * n, 4 * n + 1, 4 * n + 2, 4 * n + 3] for n in range(5)]
THREE = [[3 * n + 20, 3 * n + 21, 3 * n + 22, -1] for n in range(5)]
PLACES = np.array(FOUR + THREE)
AMPERES = (RANDOM.random((10, 4)) / 1000).astype(np.float32)
IDLE = RANDOM.random(10).astype(np.float32)
ORDER = np.array([9, 8, 7, 0, 1, 2, 3, 4, 5, 6])
CIRCUITS = (
    Ladder(12.0, np.array([0.2, 0.1]), np.array([0]), np.array([0.5])),
    Ladder(5.0, np.array([0.1, 0.3, 0.2, 0.1, 0.2, 0.4]), np.array([0, 5]), np.array([0.0, 0.2])),
)


def expected():
    """(f, n) amperes."""
    drive = np.where(PLACES >= 0, FRAMES[:, PLACES], 0).astype(np.float64)
    return (drive * AMPERES).sum(axis=2) + IDLE


@pytest.mark.parametrize("cut", [0, 7, TILE, 30])
def test_each_frame_is_solved_as_it_is_by_itself(cut):
    starts, count = np.array([0, 3, 10]), len(FRAMES)
    factors = np.ascontiguousarray(np.concatenate([ladder.factors() for ladder in CIRCUITS], axis=1))
    spare = RANDOM.random(10)
    totals, short = np.zeros((2, count)), np.zeros((2, count))
    sums, peaks = np.zeros(10), np.zeros(10, np.float32)
    for first, last in ((0, cut), (cut, count)):
        solve_frames(
            FRAMES, first, last, PLACES, AMPERES, IDLE, ORDER, starts, factors, spare, totals, short, sums, peaks,
            np.full((5 + 7, TILE), np.nan),
        )  # fmt: skip
    amperes = expected()
    for c, ladder in enumerate(CIRCUITS):
        pixels = ORDER[starts[c] : starts[c + 1]]
        drops = ladder.drops(amperes[:, pixels].T)
        allowed = spare[starts[c] : starts[c + 1], None]
        np.testing.assert_allclose(totals[c], amperes[:, pixels].sum(axis=1), rtol=1e-5)
        np.testing.assert_allclose(short[c], (drops - allowed).max(axis=0), atol=1e-5)
    np.testing.assert_allclose(sums, amperes.sum(axis=0), rtol=1e-5)
    np.testing.assert_allclose(peaks, amperes.max(axis=0), rtol=1e-5)
