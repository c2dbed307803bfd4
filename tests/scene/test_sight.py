"""How a layout says that its house is looked at: units, the frame's corner, and what cannot be read."""

import numpy as np
import pytest

from eavesong.scene.sight import sight_in

FOOT = 0.3048
"""International yard and pound agreement, 1959."""


def test_lengths_are_metres_and_places_are_counted_from_the_frame():
    tables = {
        "units": "ft", "street": {"height": 6.0, "distance": 50.0, "aside": -3.0, "field": 55.0},
        "photo": {"file": "a.jpg", "from": [0.0, 0.0, 1.0], "to": [30.0, 20.0, 1.0]},
    }  # fmt: skip
    sight = sight_in(tables, (1.0, -0.5, 2.0))
    stand = sight.standpoint
    assert (stand.height, stand.distance, stand.aside, stand.field) == pytest.approx(
        (6 * FOOT, 50 * FOOT, -3 * FOOT, 55)
    )
    low, high = sight.photo.box
    np.testing.assert_allclose(low, [-1, 0.5, FOOT - 2])
    np.testing.assert_allclose(high - low, [30 * FOOT, 20 * FOOT, 0])
    assert sight.ground == 0.5  # the ground is y = 0 of the layout, half a metre above the frame's corner


def test_frames_that_do_not_say_where_they_begin_are_taken_at_the_frame_of_their_layout():
    tables = {"frame": {"from": [-2.0, 1.0, 0.0], "to": [9.0, 9.0, 9.0]}}
    assert sight_in(tables, None).ground == -1.0
    assert sight_in({}, None).ground == 0.0


@pytest.mark.parametrize(
    "tables",
    [
        {"street": 7, "photo": 7}, {"street": {"height": -1}}, {"photo": {"file": "../../x.jpg"}},
        {"photo": {"corners": [1]}}, {"photo": "house.jpg"}, {"units": "furlong"},
    ],
)  # fmt: skip
def test_what_cannot_be_read_counts_as_not_said(tables):
    sight = sight_in(tables, (0.0, 0.0, 0.0))
    assert (sight.standpoint.height, sight.standpoint.distance) == (1.6, None)
    assert (sight.photo.box, sight.photo.clicks, sight.photo.camera) == (None, None, None)


def test_corners_and_cameras():
    corners = [{"at": [10 * n, 20], "house": [n, 2.0]} for n in range(4)]
    clicks, places = sight_in({"photo": {"file": "a.jpg", "corners": corners}}, (1, 0, 0)).photo.clicks
    assert clicks.tolist() == [[0, 20], [10, 20], [20, 20], [30, 20]]
    assert places.tolist() == [[-1, 2, 0], [0, 2, 0], [1, 2, 0], [2, 2, 0]]
    camera = {"at": [3.0, 1.6, 12.0], "turn": [0.0, 5.0, 0.0], "focal": 0.8}
    photo = sight_in({"photo": {"file": "a.jpg", "camera": camera}}, (1, 0, 0)).photo
    assert photo.eye.tolist() == [2, 1.6, 12]
