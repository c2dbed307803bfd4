"""Contrast shrunk towards a mean, against the mean written out."""

import numpy as np
import pytest

from eavesong.kernels.shrink import shrink


@pytest.mark.parametrize(("first", "width"), [(0, 10), (40, 20), (70, 20), (50, 1)])
def test_bytes_go_towards_the_triangular_mean_around_them(first, width):
    """At the beginning and at the end the film is taken to stand still; where a weight is 0 a byte stays."""
    random = np.random.default_rng(width)
    raw, weights = random.integers(0, 256, (100, 2500), dtype=np.uint8), random.random((30, 1250), np.float32)
    weights[:, ::3] = 0
    pixel_of, rows = np.arange(2500) // 2, raw[first : first + 30].copy()
    shrink(raw, first, width, weights, pixel_of, 0.05, rows)
    around = np.pad(raw.astype(float), ((width, width), (0, 0)), mode="edge")
    triangle = (width - np.abs(np.arange(-width + 1, width))) / width**2
    mean = np.stack([triangle @ around[first + f + 1 : first + f + 2 * width] for f in range(30)])
    own = raw[first : first + 30]
    expected = own + weights[:, pixel_of] * 0.95 * (mean - own)
    assert np.abs(rows - expected).max() <= 0.501  # rounded to whole bytes
    assert np.array_equal(rows[:, pixel_of % 3 == 0], own[:, pixel_of % 3 == 0])
