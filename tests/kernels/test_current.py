"""Currents and gains over blocks of frames, against plain sums."""

import numpy as np

from eavesong.kernels import current

RANDOM = np.random.default_rng(6)
FRAMES = RANDOM.integers(0, 256, (9, 35), dtype=np.uint8)
FOUR = [[4 * n, 4 * n + 1, 4 * n + 2, 4 * n + 3] for n in range(5)]
THREE = [[3 * n + 20, 3 * n + 21, 3 * n + 22, -1] for n in range(5)]
PLACES = np.array(FOUR + THREE)
AMPERES = RANDOM.random((10, 4)).astype(np.float32)
IDLE = RANDOM.random(10).astype(np.float32)


def expected():
    """(f, n) amperes."""
    drive = np.where(PLACES >= 0, FRAMES[:, PLACES], 0).astype(np.float64)
    return (drive * AMPERES).sum(axis=2) + IDLE


def test_currents_are_sums_by_group_and_extremes_by_pixel():
    group = np.array([0, 0, 1, 1, 1, 2, 2, 2, 0, 0], np.int32)
    weight = RANDOM.random(10).astype(np.float32)
    totals, drops = np.zeros((9, 3)), np.zeros((9, 3))
    sums, peaks = np.zeros(10), np.zeros(10, np.float32)
    for first, last in ((0, 4), (4, 10)):
        current.currents(FRAMES, PLACES, AMPERES, IDLE, weight, group, first, last, totals, drops, sums, peaks)
    amperes, member = expected(), group[:, None] == np.arange(3)
    np.testing.assert_allclose(totals, amperes @ member, rtol=1e-5)
    np.testing.assert_allclose(drops, (amperes * weight) @ member, rtol=1e-5)
    np.testing.assert_allclose(sums, amperes.sum(axis=0), rtol=1e-5)
    np.testing.assert_allclose(peaks, amperes.max(axis=0), rtol=1e-5)


def test_drive_currents_leave_out_what_pixels_draw_in_the_dark():
    channels = RANDOM.random(35).astype(np.float32)
    totals = np.zeros((9, 2))
    channels[20:] = channels[20]
    current.drive_currents(FRAMES, channels, np.array([[0, 12, 1, 0], [12, 20, 0, 0], [20, 35, 1, 1]]), totals)
    each = FRAMES * channels.astype(np.float64)
    np.testing.assert_allclose(totals[:, 0], each[:, 12:20].sum(axis=1), rtol=1e-5)
    np.testing.assert_allclose(totals[:, 1], each.sum(axis=1) - each[:, 12:20].sum(axis=1), rtol=1e-5)


def test_bytes_are_scaled_down_and_rounded_down():
    frames = FRAMES.copy()
    gains = np.ones((9, 2), np.float32)
    gains[3:, 1] = 0.3
    current.scale(frames, np.array([[0, 20, 0, 0], [20, 35, 1, 0]]), gains)
    assert np.array_equal(frames[:3], FRAMES[:3])
    assert np.array_equal(frames[:, :20], FRAMES[:, :20])
    assert np.array_equal(frames[3:, 20:], np.floor(FRAMES[3:, 20:] * np.float32(0.3)).astype(np.uint8))
