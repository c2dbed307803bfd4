"""Views: turned and raised eyes, and houses that fit into the picture."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import MisfitError
from eavesong.preview.view import STREET, VIEWS, View, parse_view, project, with_standpoint
from eavesong.scene.sight import Sight

views = st.builds(View, st.floats(-360, 360), st.floats(0, 90))


@given(views)
def test_axes_are_a_right_handed_frame(view):
    axes = view.axes()
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1)


def test_names_look_from_where_they_say():
    """+X right as seen from the street, +Y up, +Z towards the viewer."""
    np.testing.assert_allclose(VIEWS["front"].axes(), np.eye(3), atol=1e-12)
    np.testing.assert_allclose(VIEWS["plan"].axes(), [[1, 0, 0], [0, 0, -1], [0, 1, 0]], atol=1e-12)


@given(views, st.integers(0, 99))
def test_every_pixel_lies_in_the_picture(view, seed):
    metres = np.random.default_rng(seed).uniform([0, 0, 0], [20, 8, 6], (30, 3)).astype(np.float32)
    columns, rows = project(metres, (640, 360), view).place(metres)
    assert (columns >= 0).all()
    assert (columns <= 640).all()
    assert (rows >= 0).all()
    assert (rows <= 360).all()


@pytest.mark.parametrize("text", ["fornt", "30", "30,15,1", "400,0", "0,-5", "0,91", "nan,0"])
def test_what_is_no_view_is_refused(text):
    with pytest.raises(MisfitError):
        parse_view(text)


HOUSE = np.array([[x, y, z] for x in (0, 10) for y in (0, 6) for z in (0, 8)], np.float32)


def test_from_the_street_things_shrink_with_distance():
    """Similar triangles: the same width is seen as many elements as the focal length times width over distance."""
    seen = project(HOUSE, (1280, 720), STREET)
    columns, _ = seen.place(HOUSE)
    for z in (0, 8):
        (left,), (right,) = (columns[([x, 0, z] == HOUSE).all(axis=1)] for x in (0, 10))
        assert right - left == pytest.approx(seen.focal * 10 / (seen.eye[2] - z), rel=1e-4)


def test_uprights_stay_upright_and_the_horizon_is_at_the_height_of_the_eye():
    seen = project(HOUSE, (1280, 720), STREET)
    columns, _ = seen.place(HOUSE)
    for x, z in ((0, 0), (0, 8), (10, 0), (10, 8)):
        pair = columns[(HOUSE[:, [0, 2]] == [x, z]).all(axis=1)]
        assert np.ptp(pair) < 1e-3
    far = np.array([[5, 1.6, -1e7]])  # what is as high as the eye is seen at the horizon, however far away
    assert seen.place(far)[1][0] == pytest.approx(seen.horizon, abs=0.01)


def test_the_layout_and_options_say_where_the_eye_is():
    sight = with_standpoint(Sight(ground=-0.5), height=1.9, distance=22.0, aside=-2.0, field=None)
    seen = project(HOUSE, (1280, 720), STREET, sight, front=1.0)
    np.testing.assert_allclose(seen.eye, [5 - 2, 1.9 - 0.5, 1 + 22])
    wide = project(HOUSE, (1280, 720), STREET, with_standpoint(sight, field=60.0), front=1.0)
    assert 1280 / 2 / wide.focal == pytest.approx(np.tan(np.radians(30)))


def test_the_eye_never_stands_among_the_lights():
    seen = project(HOUSE, (640, 360), STREET)
    assert seen.depth(HOUSE).min() >= 4


def test_what_is_behind_the_eye_is_not_seen():
    near = with_standpoint(Sight(), distance=5.0)
    columns, _ = project(HOUSE, (640, 360), STREET, near, front=0.0).place(HOUSE)
    assert ((columns < -1000) == (HOUSE[:, 2] > 4.7)).all()
