"""Contrast shrunk towards a mean, against the mean written out."""

import numpy as np
import pytest

from eavesong.kernels.calls import shrink, weigh
from eavesong.kernels.planes import COLUMNS


@pytest.mark.parametrize(("first", "width"), [(0, 10), (40, 20), (70, 20), (50, 1)])
def test_bytes_go_towards_the_triangular_mean_around_them(first, width):
    """At the beginning and at the end the film is taken to stand still; where a weight is 0 a byte stays."""
    random = np.random.default_rng(width)
    raw, weights = random.integers(0, 256, (100, 2500), dtype=np.uint8), random.random((30, 1250), np.float32)
    weights[:, ::3] = 0
    pixel_of, rows = np.arange(2500) // 2, raw[first : first + 30].copy()
    scratch = np.full((4, COLUMNS), np.nan, np.float32)
    for begin, end in ((0, 1100), (1100, 2500)):
        shrink(raw, first, width, weights, pixel_of, 0.05, rows, scratch, begin, end)
    around = np.pad(raw.astype(float), ((width, width), (0, 0)), mode="edge")
    triangle = (width - np.abs(np.arange(-width + 1, width))) / width**2
    mean = np.stack([triangle @ around[first + f + 1 : first + f + 2 * width] for f in range(30)])
    own = raw[first : first + 30]
    expected = own + weights[:, pixel_of] * 0.95 * (mean - own)
    assert np.abs(rows - expected).max() <= 0.501  # rounded to whole bytes
    assert np.array_equal(rows[:, pixel_of % 3 == 0], own[:, pixel_of % 3 == 0])


def test_contrast_shrinks_wholly_in_the_second_up_to_a_flagged_frame_and_less_around_it():
    """By the words of the kernel's promise, frame by frame: the distance to the second that ends with a flag."""
    random = np.random.default_rng(3)
    second, fade, count, n = 8, 4, 60, 40
    ahead = second - 1 + fade
    flagged = random.random((count + ahead, n)) < 0.01
    since, weights = np.full(n, ahead, np.int32), np.empty((count, n), np.float32)
    until = np.full((count + 1, n), -1, np.int32)
    for first, last in ((0, 15), (15, n)):
        weigh(flagged.view(np.uint8), ahead + second, second, fade, since, until, weights, first, last)
    for p in range(n):
        flags = np.flatnonzero(flagged[:, p])
        for f in range(count):
            away = min((max(flag - second + 1 - f, f - flag, 0) for flag in flags), default=fade)
            assert weights[f, p] == np.float32(max(0, 1 - away / fade))
