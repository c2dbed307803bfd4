"""Vanishing points, against worked examples and OpenCV."""

from dataclasses import replace

import numpy as np
import pytest

from eavesong.survey.camera import Lens, turned
from eavesong.survey.directions import along_wall, level_pairs, turns_of, upright_pairs
from eavesong.survey.known import Known, PhotoView, Wall
from eavesong.survey.start import starts
from survey_houses import camera, known_of, plain_house


def rectangle(clicks, size, focal, spread):
    """What is known of a rectangle on the front whose corners are clicked: left, right, right above, left above."""
    return Known(
        views=(PhotoView("photo", *size, focal, spread),), points=("a", "b", "c", "d"),
        walls=(Wall("front", offset=0.0),),
        click_view=np.zeros(4, np.int64), click_point=np.arange(4), clicks=np.array(clicks, float),
        click_give=np.full(4, 0.1), on=np.array([[n, 0] for n in range(4)]),
        same=np.array([[0, 1, 1], [3, 2, 1], [0, 3, 0], [0, 3, 2], [1, 2, 0], [1, 2, 2]]),
        along=np.zeros((0, 4), np.int64), measure_ends=np.array([[0, 1]]), lengths=np.array([2.0]),
        measure_give=np.array([0.001]), hold=(0, 1),
    )  # fmt: skip


def test_the_focal_length_from_a_rectangle():
    """Zhang & He, "Whiteboard scanning and image enhancement" (MSR-TR-2003-39): two vanishing points of a rectangle
    give the focal length, f² = -(v1 - c) (v2 - c). A rectangle 2.0 x 1.2 with f = 1000 and c = (960, 540), turned by
    25 and 15 degrees; corners computed from their formulas, given to a ten-thousandth."""
    corners = [(793.3333, 440.0), (1117.6436, 423.6028), (1133.6259, 642.8487), (821.6980, 629.0094)]
    above = [corners[3], corners[2], corners[1], corners[0]]  # y goes down in a picture
    likeliest = turns_of(rectangle(above, (1920, 1080), 1100.0, 0.5), 0)[0]
    assert likeliest.focal == pytest.approx(1000.0, rel=0.02)


def test_the_start_has_the_rectangles_shape():
    """The same rectangle: 2.0 wide as measured, and then 1.2 high (its ratio is 1.66667)."""
    corners = [(793.3333, 440.0), (1117.6436, 423.6028), (1133.6259, 642.8487), (821.6980, 629.0094)]
    known = rectangle([corners[3], corners[2], corners[1], corners[0]], (1920, 1080), 1000.0, 0.001)
    start = starts(known)[0]
    points = start.unknowns[-12:].reshape(4, 3)
    assert np.linalg.norm(points[1] - points[0]) == pytest.approx(2.0, abs=0.02)
    assert np.linalg.norm(points[3] - points[0]) == pytest.approx(1.2, abs=0.02)


@pytest.mark.parametrize("yaw", [-40, -12, 0, 7, 35])
def test_the_cameras_turn_is_found(yaw):
    house, rng = plain_house(), np.random.default_rng(1)
    lens = camera(house, 80, yaw, rng)
    known = known_of(house, [replace(lens, k=0.0)], [], rng, exif=True, click=0.1)
    found = turns_of(known, 0)[0]
    off = np.arccos((np.trace(found.turn @ lens.turn.T) - 1) / 2)
    assert np.degrees(off) < 0.5


def test_the_house_is_not_seen_from_behind(plain):
    assert all(turn.turn[2, 2] < 0 for turn in turns_of(plain.known, 0))


def test_a_view_of_the_horizon_gives_the_pitch():
    """Where uprights alone are known, the yaw is open and is tried from several sides."""
    lens = Lens(2000.0, 0.0, turned(0.3, 0.1, 0.0), np.array([0, 1.6, 12.0]), np.array([2000.0, 1500.0]))
    feet = np.array([[-3, 0, 0], [0, 0, 1], [3, 0, -1], [4, 0, 2]], float)
    points = np.concatenate([feet, feet + np.array([0, 2.5, 0])])
    known = rectangle(lens.see(points)[:4], (4000, 3000), 2000.0, 0.01)
    same = np.array([[n, n + 4, axis] for n in range(4) for axis in (0, 2)])
    known = replace(known, points=tuple("abcdefgh"), clicks=lens.see(points), click_view=np.zeros(8, np.int64),
                    click_point=np.arange(8), click_give=np.full(8, 0.1), on=np.zeros((0, 2), np.int64),
                    same=same)  # fmt: skip
    pitches = [np.degrees(np.arcsin(turn.turn[2, 1])) for turn in turns_of(known, 0)]
    assert pitches == pytest.approx([np.degrees(0.1)] * len(pitches), abs=0.5)
    assert len(pitches) > 1


def test_which_lines_are_known(plain):
    names = plain.known.points
    level = {(names[a], names[b]) for a, b, _ in level_pairs(plain.known)}
    assert ("eave l", "eave r") in level
    assert ("base l", "base r") in level  # on front and ground both
    assert ("garage bl", "garage br") in level
    assert ("arch 0", "arch 1") not in level
    assert (names.index("tree foot"), names.index("tree top")) in set(upright_pairs(plain.known))


def test_along_a_wall():
    assert along_wall(0.0) == pytest.approx([1, 0, 0])
    assert along_wall(np.pi / 2) == pytest.approx([0, 0, -1])
