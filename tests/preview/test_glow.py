"""Glows: every light's bell adds up to its share, wherever it stands and on whatever canvas."""

import numpy as np
import pytest

from eavesong.preview.brush import stamp
from eavesong.preview.glow import BLOCK, half_bell, halvings, reached, shape_at, stamps


def drawn(columns, rows, level, sigma, share=1.0):
    """The canvas (h, 3, w), halved ``level`` times, of a picture 128 by 128 with white lights."""
    shape = shape_at((128, 128), level)
    canvas = np.zeros(shape, np.float32)
    places = (np.asarray(values, np.float32) for values in (columns, rows))
    own = stamps(*places, shape, level, sigma, share)
    stamp(own, np.ones((len(columns), 3), np.float32), canvas)
    return canvas


@pytest.mark.parametrize("sigma", [0, 1.5, 3.0])
@pytest.mark.parametrize("level", [0, 1, 2])
def test_a_bell_gives_all_of_its_share(level, sigma):
    """An element of a halved canvas stands for four of the one before, so its sum is a quarter."""
    canvas = drawn([64.3], [63.8], level, sigma * 2**level, 0.6)
    np.testing.assert_allclose(canvas.sum(axis=(0, 2)) * 4**level, 0.6, rtol=1e-5)


@pytest.mark.parametrize("at", [(40.5, 30.5), (40.9, 30.1)])
def test_its_middle_is_where_the_light_is(at):
    canvas = drawn([at[0]], [at[1]], 0, 2.0)[:, 0].astype(np.float64)
    rows, columns = np.indices(canvas.shape) + 0.5
    assert (canvas * columns).sum() / canvas.sum() == pytest.approx(at[0], abs=0.02)
    assert (canvas * rows).sum() / canvas.sum() == pytest.approx(at[1], abs=0.02)


def test_half_a_bell_is_half_of_one_that_adds_up_to_1():
    half = half_bell(3.0).astype(np.float64)
    assert 2 * half.sum() - half[0] == pytest.approx(1, abs=1e-6)
    assert half[3] / half[0] == pytest.approx(np.exp(-0.5), rel=1e-5)  # one standard deviation away


def test_canvases_are_halved_while_they_can_hold_the_bell():
    assert [halvings(sigma) for sigma in (0.5, 1.2, 2.4, 9.7)] == [0, 0, 1, 3]
    assert shape_at((1280, 720), 3) == (90, 3, 160)


@pytest.mark.parametrize("sigma", [0.0, 1.0, 25.0])
def test_the_blocks_that_light_reaches_are_those_in_which_a_bell_lies(sigma: float) -> None:
    """Wherever something is stamped, and nowhere else; 25 elements are wider than a block."""
    columns, rows = np.random.default_rng(8).uniform((0, 0), (300, 40), (25, 2)).T.astype(np.float32)
    own = stamps(columns, rows, (40, 3, 300), 0, sigma, 1.0)
    canvas = np.zeros((40, 3, 320), np.float32)
    flat = np.zeros(40 * 3 * 300, np.float32)
    for first, across, down in zip(own.first.astype(int), own.across, own.down, strict=True):
        for row in range(len(down)):
            at = first + 3 * row * 300
            flat[at : at + len(across)] = 1
    canvas[:, :, :300] = flat.reshape(40, 3, 300)
    assert np.array_equal(reached(own, 40), canvas[:, 0].reshape(40, 5, BLOCK).any(axis=2))
