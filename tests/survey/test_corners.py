"""The camera of a photo from four corners: pictures are made by the pinhole's own formula, and led back."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.errors import MisfitError
from eavesong.survey.corners import lens_of_corners

SIZE = (4000, 3000)
FRONT = np.array([[0, 0, 0], [9, 0, 0], [9, 5.4, 0], [0, 5.4, 0]], float)
OTHERS = np.array([[4.5, 8, -3], [2, 0.5, 4], [12, 1, 1]], float)


def picture(places, eye, yaw=0.0, pitch=0.0, focal=3000.0):
    """Where a pinhole at ``eye``, turned to the right and upwards, sees places: similar triangles, nothing else."""
    c, s = np.cos(yaw), np.sin(yaw)
    right, ahead = np.array([c, 0, s]), np.array([s * np.cos(pitch), np.sin(pitch), -c * np.cos(pitch)])
    up = np.cross(right, ahead)
    off = places - np.asarray(eye, float)
    across, rise, depth = off @ right, off @ up, off @ ahead
    return np.stack([2000 + focal * across / depth, 1500 - focal * rise / depth], axis=1)


@settings(max_examples=25, deadline=None)
@given(st.floats(-5, 14), st.floats(0.8, 3), st.floats(10, 22), st.floats(-0.1, 0.15))
def test_what_the_camera_saw_is_seen_again(across, height, away, pitch):
    """Also places that nobody pointed at lie where the photo shows them, within a hundredth of its width."""
    yaw = np.arctan2(4.5 - across, away)
    seen = picture(FRONT, (across, height, away), yaw, pitch)
    lens = lens_of_corners(seen, FRONT, SIZE)
    assert np.abs(lens.see(FRONT) - seen).max() < 0.001 * SIZE[0]
    off = lens.see(OTHERS) - picture(OTHERS, (across, height, away), yaw, pitch)
    assert np.abs(off).max() < 0.02 * SIZE[0]


def test_more_corners_tell_the_focal_length():
    places, eye = np.concatenate([FRONT, OTHERS]), (-3.0, 1.6, 14.0)
    lens = lens_of_corners(picture(places, eye, 0.5, focal=2500.0), places, SIZE)
    assert lens.focal == pytest.approx(2500, rel=0.01)
    np.testing.assert_allclose(lens.place, eye, atol=0.1)


def test_corners_on_a_line_and_a_wrong_one_are_told():
    line = np.array([[100, 100], [900, 500], [1700, 900], [2500, 1300]], float)
    with pytest.raises(MisfitError, match="lie on one line"):
        lens_of_corners(line, FRONT, SIZE)
    seen = picture(np.concatenate([FRONT, OTHERS]), (4.0, 1.6, 15.0))
    seen[5] += [900, -700]
    with pytest.raises(MisfitError, match="off by up to"):
        lens_of_corners(seen, np.concatenate([FRONT, OTHERS]), SIZE)
