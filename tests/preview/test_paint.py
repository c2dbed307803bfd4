"""Compiled loops of pictures draw what the loops in numpy draw."""

import numpy as np
import pytest

from eavesong.preview import brush, paint
from eavesong.preview.glow import half_bell, stamps


@pytest.fixture
def random():
    return np.random.default_rng(4)


def test_lights_are_stamped_alike(random):
    places = random.uniform(0, 40, (2, 30)).astype(np.float32)
    own = stamps(*places, (40, 3, 48), 0, 1.5, 1.0)
    light = random.random((30, 3), np.float32)
    ours, theirs = np.zeros((2, 40, 3, 48), np.float32)
    brush.stamp(own, light, ours)
    paint.stamp(own, light, theirs)
    np.testing.assert_allclose(theirs, ours, rtol=1e-4, atol=1e-6)


def test_canvases_are_blurred_and_doubled_alike(random):
    small = random.random((12, 3, 16), np.float32)
    for loops in ("blur", "double"):
        drawn = []
        for hand in (brush, paint):
            canvas = np.zeros((24, 3, 31), np.float32)
            if loops == "blur":
                canvas[:12, :, :16] = small
                hand.blur(canvas, half_bell(1.5), half_bell(2.5))
            else:
                hand.double(small, canvas)
            drawn.append(canvas)
        np.testing.assert_allclose(drawn[1], drawn[0], rtol=1e-4, atol=1e-5, err_msg=loops)


def test_the_ground_is_laid_alike(random):
    """Each element of the canvas is named once; a cell of the ground lies before any."""
    ground, parts = random.random((9, 3, 7), np.float32), random.random((4, 50), np.float32)
    cells = (random.integers(0, 9, (4, 50)) * 21 + random.integers(0, 7, (4, 50))).astype(np.uintp)
    rows, columns = np.divmod(random.permutation(10 * 12)[:50], 12)
    drawn = []
    for hand in (brush, paint):
        canvas = np.ones((10, 3, 12), np.float32)
        hand.lay((rows * 36 + columns).astype(np.uintp), cells, parts, ground, canvas)
        drawn.append(canvas)
    np.testing.assert_allclose(drawn[1], drawn[0], rtol=1e-5)
    assert (drawn[0] != 1).sum() == 150


def test_pictures_are_developed_alike_to_one_step_of_255(random):
    canvas, half = 2 * random.random((24, 3, 32), np.float32), random.random((12, 3, 16), np.float32)
    dark, grain = 0.1 * random.random((24, 3, 32), np.float32), random.random((64, 32), np.float32)
    ours, theirs = np.zeros((2, 24, 32, 3), np.uint8)
    brush.develop(canvas.copy(), half, dark, grain, ours)
    paint.develop(canvas.copy(), half, dark, grain, theirs)
    assert np.abs(ours.astype(int) - theirs.astype(int)).max() <= 1
