"""Steps of colour from frame to frame, against what they add up to."""

import numpy as np
import pytest

from eavesong.kernels.calls import exact_steps, rounded_steps

LIGHT = np.random.default_rng(8).integers(0, 256, (20, 30, 3), np.uint8)
ROOTS = (255 * np.sqrt(np.arange(256) / 255)).astype(np.float32)


def room():
    frames, pixels = LIGHT.shape[:2]
    return np.empty((3, pixels), np.uint8), np.empty((pixels, frames - 1), np.int32)


def added_up(first, keys):
    """The three planes (f, n, 3) modulo 256 that a beginning and its steps stand for."""
    steps = np.stack([keys >> 16, keys >> 8 & 255, keys & 255], axis=-1)
    return np.cumsum(np.concatenate([first.T[:, None], steps], axis=1), axis=1, dtype=np.uint8).swapaxes(0, 1)


def test_exact_steps_add_up_to_the_light():
    first, keys = room()
    exact_steps(LIGHT, first, keys)
    assert np.array_equal(added_up(first, keys), LIGHT)


@pytest.mark.parametrize(("luma", "chroma"), [(3, 6), (16, 32)])
def test_rounded_steps_are_off_by_no_more_than_what_is_let_pass(luma, chroma):
    """Y = (R + 2 G + B) / 4, Co = R - B, Cg = G - (R + B) / 2 (YCoCg, Malvar and Sullivan 2003), in steps."""
    first, keys = room()
    rounded_steps(LIGHT, ROOTS, luma, chroma, 0.8, first, keys)
    r, g, b = np.moveaxis(ROOTS[LIGHT].astype(float), -1, 0)
    wanted = np.stack([(r + 2 * g + b) / 4 / luma, (r - b) / chroma, (g - (r + b) / 2) / chroma], axis=-1)
    off = added_up(first, keys).astype(int) - wanted
    off -= 256 * np.round(off / 256)  # bytes tell steps modulo 256
    assert np.abs(off).max() <= 0.8 + 1e-3
    assert np.abs(off[0]).max() <= 0.5 + 1e-3


def test_a_colour_that_stays_within_its_step_is_kept():
    light = np.full((9, 4, 3), 120, np.uint8)
    light[::2] += 1
    first, keys = np.empty((3, 4), np.uint8), np.empty((4, 8), np.int32)
    rounded_steps(light, ROOTS, 12, 24, 0.8, first, keys)
    assert not keys.any()
