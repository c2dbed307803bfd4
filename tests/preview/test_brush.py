"""Loops of pictures in numpy: blurred, enlarged and toned as they should be."""

import numpy as np
import pytest

from eavesong.colours import srgb_encode
from eavesong.preview.brush import blur, double, toned
from eavesong.preview.glow import half_bell

GREY = np.linspace(0, 6, 2000, dtype=np.float32)[:, None].repeat(3, axis=1)


def test_a_blur_keeps_the_light_it_spreads():
    canvas = np.zeros((41, 3, 41), np.float32)
    canvas[20, :, 20] = 1
    blur(canvas, half_bell(2.0), half_bell(3.0))
    np.testing.assert_allclose(canvas.sum(axis=(0, 2)), 1, rtol=1e-5)
    rows, columns = np.indices((41, 41)) - 20
    assert (canvas[:, 0] * columns**2).sum() == pytest.approx(4, rel=0.05)  # variance: 2 across, 3 down
    assert (canvas[:, 0] * rows**2).sum() == pytest.approx(9, rel=0.05)


def test_twice_as_large_is_linear_between_elements():
    """A slope stays a slope, away from the edges."""
    small = np.arange(8, dtype=np.float32)[None, None].repeat(4, axis=0).repeat(3, axis=1)
    fine = np.zeros((8, 3, 16), np.float32)
    double(small, fine)
    np.testing.assert_allclose(np.diff(fine[3, 0, 1:-1]), 0.5, atol=1e-6)


def test_the_tone_is_srgb_of_a_film_that_saturates():
    """IEC 61966-2-1 of 1 - exp(-light), within 0.2 of 255 where nothing bleeds; grey stays grey."""
    dim = GREY[GREY[:, 0] <= 1]
    np.testing.assert_allclose(toned(dim), srgb_encode(1 - np.exp(-dim.astype(np.float64))), atol=0.2 / 255 + 1e-6)


def test_more_light_is_never_shown_darker():
    assert (np.diff(toned(GREY)[:, 0]) > -0.3 / 255).all()


def test_a_colour_too_bright_bleeds_to_white():
    red = np.array([[4.0, 0, 0], [0.9, 0, 0]], np.float32)
    assert toned(red)[0, 1] > 0.2
    assert toned(red)[1, 1] == pytest.approx(0, abs=1e-3)
