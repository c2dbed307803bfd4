"""Glare: near lights look brighter, and a crowd of lights in one spot never becomes a ball."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.preview.glare import CROWD, FAR, NEAR, held, shares
from eavesong.preview.view import FRONT, STREET, project

SIZE = (1280, 720)


def spot(count):
    """Lights in one place of the picture."""
    return np.full(count, 640.0), np.full(count, 360.0), np.ones(count)


@given(st.integers(1, 5000))
def test_a_spot_glows_at_most_like_a_small_crowd_and_never_less_for_one_more(count):
    glow, more = (held(*spot(many), SIZE).sum() for many in (count, count + 1))
    assert glow <= 1.5 * CROWD  # up to which it depends on where the squares begin
    assert more >= glow


def test_a_light_alone_is_left_as_it_is():
    assert held(*spot(1), SIZE)[0] > 0.99


def test_lights_of_a_wall_are_held_alike():
    """A grid of lights: those inside keep the same share, so that no pattern appears that is not there."""
    columns, rows = (each.ravel() for each in np.meshgrid(np.arange(200, 800, 8.0), np.arange(200, 500, 8.0)))
    kept = held(columns, rows, np.ones(len(columns)), SIZE)
    inside = (columns > 240) & (columns < 760) & (rows > 240) & (rows < 460)
    assert kept[inside].min() == pytest.approx(kept[inside].max(), rel=0.01)


def test_near_lights_look_brighter_within_bounds():
    row = np.array([[5.0 * at, 0.1, 2.0 * at] for at in range(8)], np.float32)
    projection = project(row, SIZE, STREET)
    looks = shares(projection, row, SIZE)
    assert (np.diff(looks) > 0).all()
    assert looks.min() >= FAR
    assert looks.max() <= NEAR


def test_seen_flat_all_lights_look_alike():
    far = np.array([[5.0 * x, 3.0, z] for x in range(4) for z in (0.0, 9.0)], np.float32)
    looks = shares(project(far, SIZE, FRONT), far, SIZE)
    np.testing.assert_allclose(looks, 1.0, atol=0.05)
