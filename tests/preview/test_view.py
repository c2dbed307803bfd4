"""Views: turned and raised eyes, and houses that fit into the picture."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import MisfitError
from eavesong.preview.view import VIEWS, View, parse_view, project

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
