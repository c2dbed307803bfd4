"""Lots and noise: spread evenly, the same each time, and between lots without a jump."""

import numpy as np

from eavesong.kernels import chance
from support import lanes


def test_lots_are_spread_evenly():
    """Kolmogorov-Smirnov against the uniform distribution (scipy), 2,000 lots."""
    from scipy import stats

    lots = lanes(chance.hash1)(np.arange(2000))
    assert stats.kstest(lots, "uniform").pvalue > 0.01
    assert lots.min() >= 0
    assert lots.max() < 1


def test_lots_of_neighbours_are_independent():
    from scipy import stats

    lots = lanes(chance.hash2)(*np.mgrid[:40, :40])
    for axis in (0, 1):
        one, other = np.delete(lots, -1, axis).reshape(-1), np.delete(lots, 0, axis).reshape(-1)
        assert abs(stats.pearsonr(one, other).statistic) < 0.1


def test_noise_has_no_jump_and_stays_in_range():
    at = np.arange(0, 8, 1 / 64, dtype=np.float32)
    noise = lanes(chance.noise1)(at)
    assert noise.min() >= -1
    assert noise.max() <= 1
    assert np.abs(np.diff(noise)).max() < 0.1
