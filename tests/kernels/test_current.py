"""Currents and gains over blocks of frames, against plain sums."""

import numpy as np

from eavesong.kernels import calls

RANDOM = np.random.default_rng(6)
FRAMES = RANDOM.integers(0, 256, (9, 35), dtype=np.uint8)


def test_drive_currents_leave_out_what_pixels_draw_in_the_dark():
    channels = RANDOM.random(35).astype(np.float32)
    totals = np.zeros((9, 2))
    channels[20:] = channels[20]
    calls.drive_currents(FRAMES, channels, np.array([[0, 12, 1, 0], [12, 20, 0, 0], [20, 35, 1, 1]]), totals)
    each = FRAMES * channels.astype(np.float64)
    np.testing.assert_allclose(totals[:, 0], each[:, 12:20].sum(axis=1), rtol=1e-5)
    np.testing.assert_allclose(totals[:, 1], each.sum(axis=1) - each[:, 12:20].sum(axis=1), rtol=1e-5)


def test_bytes_are_scaled_down_and_rounded_down():
    frames = FRAMES.copy()
    gains = np.ones((9, 2), np.float32)
    gains[3:, 1] = 0.3
    calls.scale(frames, np.array([[0, 20, 0, 0], [20, 35, 1, 0]]), gains)
    assert np.array_equal(frames[:3], FRAMES[:3])
    assert np.array_equal(frames[:, :20], FRAMES[:, :20])
    assert np.array_equal(frames[3:, 20:], np.floor(FRAMES[3:, 20:] * np.float32(0.3)).astype(np.uint8))
