"""The plain engine on scenes whose light is known by analysis."""

import numpy as np
import pytest

from eavesong.engines.plain import Drawing
from support import cue, effect, even_grid, line, points, scene_on

GRID = even_grid(120, bars=4)


def test_a_constant_level_is_that_light_everywhere():
    light = Drawing(scene_on("0.25", points(line(5)))).light(np.array([0.0, 3.0]))
    np.testing.assert_allclose(light, 0.25)


def test_a_ramp_across_the_house_is_each_pixels_place():
    house = points(line(8))
    light = Drawing(scene_on("x", house)).light(np.zeros(1))
    np.testing.assert_allclose(light[0, :, 0], house.pixels.x, atol=1e-7)


@pytest.mark.parametrize(
    ("blend", "expected"),
    [("source-over", 0.5), ("multiply", 0.4), ("screen", 0.9), ("plus-lighter", 1.0), ("difference", 0.3)],
)
def test_two_constants_blend_by_the_standards_formula(blend, expected):
    """W3C Compositing and Blending Level 1, 9.1, for 0.5 over 0.8; plus-lighter is Level 2's sum."""
    house = points(line(2))
    grey = cue("0.8", house, GRID)
    half = cue(effect("level = 1\ncolour = linear_rgb(0.5, 0.5, 0.5)"), house, GRID, blend=blend)
    light = Drawing(scene_on([grey, half], house, grid=GRID)).light(np.zeros(1))
    np.testing.assert_allclose(light, expected)


def test_frames_are_drawn_in_portions_of_any_size(monkeypatch):
    scene = scene_on("fract(x + beat / 4)", points(line(7)))
    whole = Drawing(scene).block(0, 9)
    monkeypatch.setattr("eavesong.engines.plain.drawing.AT_ONCE", 14)
    np.testing.assert_array_equal(Drawing(scene).block(0, 9), whole)
