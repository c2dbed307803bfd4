"""A look at a house: its dark walls, the photo and its camera."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from eavesong.frames.description import PropRow
from eavesong.preview.outlook import Outlook, camera_of, through
from eavesong.preview.subject import Subject
from eavesong.preview.view import VIEWS
from eavesong.preview.walls import faces_of, front_of, painted
from eavesong.scene.sight import PhotoPlace, Sight

EAVES = [[0.1 * at, 3.0, 0.0] for at in range(101)]
RIDGE = [[0.1 * at, 6.0, -4.0] for at in range(101)]
PATH = [[5.0, 0.1, 1.0 + 0.1 * at] for at in range(50)]


def house(photo=None):
    rows = [("eaves", EAVES, ("eaves",)), ("ridge", RIDGE, ("ridge",)), ("path", PATH, ("path",))]
    props, first = [], 0
    for name, places, tags in rows:
        props.append(PropRow(name, first, len(places), tags, "line"))
        first += len(places)
    metres = np.array(EAVES + RIDGE + PATH, np.float32)
    return Subject(metres, tuple(props), np.array([10.0, 6.0, 10.0]), Sight(photo=photo or PhotoPlace()))


def covered(view, size=(640, 360)):
    """How much of a picture is house at a place in metres."""
    look = Outlook(house(), VIEWS[view])
    share, _ = painted(look.faces, look.projection(size), size)

    def at(*place):
        columns, rows = look.projection(size).place(np.array([place]))
        return share[int(rows[0]), int(columns[0])]

    return at


def test_from_the_street_the_house_is_what_lies_below_eaves_and_ridge():
    at = covered("street")
    assert at(5, 1.5, 0) == 1  # the wall
    assert at(5, 4.5, -2) == 1  # the roof between eaves and ridge
    assert at(5, 7.0, -4) == 0  # the sky
    assert at(-1.0, 1.5, 0) == 0  # beside the house
    assert at(5, 0.1, 3.0) == 0  # the path before it


@pytest.mark.parametrize("view", ["corner", "plan"])
def test_corner_and_plan_keep_house_and_ground(view):
    at = covered(view)
    assert at(5, 4.5, -2) == 1
    assert at(5, 0.0, 4.0) == 0


def test_the_front_is_where_the_walls_are_and_a_house_without_walls_has_none():
    assert front_of(house()) in (0.0, -2.0, -4.0)
    bare = Subject(np.array(PATH, np.float32), (PropRow("path", 0, 50, ("path",), "line"),), np.ones(3), Sight())
    assert front_of(bare) is None
    assert faces_of(bare, 0.0) == []


@pytest.fixture
def jpeg(tmp_path):
    Image.new("RGB", (400, 300), "white").save(tmp_path / "house.png")
    return tmp_path / "house.png"


def test_four_corners_place_the_house_in_its_photo(jpeg):
    """A pinhole at (5, 1.6, 14) that looks straight ahead, 300 elements of focal length: similar triangles."""

    def seen(places):
        off = np.asarray(places, float) - [5, 1.6, 14]
        return np.stack([200 - 300 * off[:, 0] / off[:, 2], 150 + 300 * off[:, 1] / off[:, 2]], axis=1)

    corners = np.array([[0, 0, 0], [10, 0, 0], [10, 3, 0], [0, 3, 0], [0, 6, -4], [10, 6, -4]], float)
    look = Outlook(house(PhotoPlace(clicks=(seen(corners), corners))), photo=jpeg)
    projection = through(look.camera, 0, 0, 400)
    places = np.array(EAVES + RIDGE + PATH)
    np.testing.assert_allclose(np.stack(projection.place(places), axis=1), seen(places), atol=2)
    scene, _ = look.backdrop((640, 360))
    assert scene[180, 320].mean() > 0.02  # the white photo, dimmed
    # What stands three quarters of the photo beyond an edge of it is seen in no picture; all else is, beside it.
    subject, near, far = house(PhotoPlace(clicks=(seen(corners), corners))), [20.0, 1.0, 0.0], [60.0, 1.0, 0.0]
    assert seen([near, far])[:, 0].tolist() == pytest.approx([521, 1379], abs=1)
    look = Outlook(replace(subject, metres=np.array([*places, near, far], np.float32)), photo=jpeg)
    assert look.beside().tolist() == [False] * len(places) + [False, True]
    for size in ((640, 360), (360, 640)):
        within = np.stack(look.projection(size).place(np.array([*places, near])), axis=1)
        assert (within.min() >= 0, (within.max(axis=0) <= size).tolist()) == (True, [True, True])
    assert not Outlook(house(PhotoPlace()), photo=jpeg).beside().any()


def test_corners_that_fit_no_camera_leave_the_photo_out_where_nobody_can_be_asked(jpeg):
    clicks = np.array([[0, 0], [100, 0], [200, 0], [300, 0]], float)
    place = PhotoPlace(clicks=(clicks, np.zeros((4, 3))))
    assert Outlook(house(place), photo=jpeg).photo is None
    with pytest.raises(ValueError, match="lie on one line"):
        camera_of(place, (400, 300))


def test_a_photo_from_straight_ahead_lies_where_it_is_told(jpeg):
    place = PhotoPlace(box=(np.array([2.0, 0.0, 0.0]), np.array([8.0, 4.0, 0.0])))
    look = Outlook(house(place), photo=jpeg)
    scene, _ = look.backdrop((640, 360))
    plain, _ = Outlook(house()).backdrop((640, 360))
    columns, rows = look.projection((640, 360)).place(np.array([[5.0, 2.0, 0.0], [-0.5, 2.0, 0.0]]))
    inside, outside = ((int(row), int(column)) for row, column in zip(rows, columns, strict=True))
    assert scene[inside].mean() > 0.02
    np.testing.assert_allclose(scene[outside], plain[outside])


def test_what_a_page_is_told_can_be_written_as_json(jpeg):
    import json

    told = json.loads(json.dumps(Outlook(house(), photo=jpeg).told()))
    assert told["eye"][1] == pytest.approx(1.6)
    assert len(told["faces"]) > 4
    assert told["photo_box"] == [[0.0, 0.0, told["photo_box"][0][2]], [10.0, 6.0, told["photo_box"][0][2]]]
