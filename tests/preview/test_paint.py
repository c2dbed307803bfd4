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
    own = stamps(*places, (40, 40, 3), 0, 1.5, 1.0)
    light = random.random((30, 3), np.float32)
    ours, theirs = np.zeros((2, 40, 40, 3), np.float32)
    brush.stamp(own, light, ours)
    paint.stamp(own, light, theirs)
    np.testing.assert_allclose(theirs, ours, rtol=1e-4, atol=1e-6)


def test_canvases_are_blurred_doubled_and_enlarged_alike(random):
    small = random.random((12, 16, 3), np.float32)
    for loops in ("blur", "double", "enlarge"):
        drawn = []
        for hand in (brush, paint):
            canvas = np.zeros((36, 48, 3), np.float32)
            if loops == "blur":
                canvas[:12, :16] = small
                hand.blur(canvas, half_bell(1.5), half_bell(2.5))
            elif loops == "double":
                canvas = canvas[:24, :32].copy()
                hand.double(small, canvas)
            else:
                hand.enlarge(small, 3, 0, canvas)
            drawn.append(canvas)
        np.testing.assert_allclose(drawn[1], drawn[0], rtol=1e-4, atol=1e-5, err_msg=loops)


def test_pictures_are_developed_alike_to_one_step_of_255(random):
    canvas, half = 2 * random.random((24, 32, 3), np.float32), random.random((12, 16, 3), np.float32)
    dark, grain = 0.1 * random.random((24, 3, 32), np.float32), random.random((64, 32), np.float32)
    ours, theirs = np.zeros((2, 24, 32, 3), np.uint8)
    brush.develop(canvas.copy(), half, dark, grain, ours)
    paint.develop(canvas.copy(), half, dark, grain, theirs)
    assert np.abs(ours.astype(int) - theirs.astype(int)).max() <= 1
