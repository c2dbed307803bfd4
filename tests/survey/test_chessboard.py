"""Photos of a real chessboard, taken with a lens that bends: from four measured squares, all others within 1 %.

The photos are OpenCV's own samples, see photos/README.md; its corner finder clicks. A square is taken as a metre.
"""

import functools
from pathlib import Path

import cv2
import numpy as np
import pytest

from eavesong.survey.known import UNKNOWN_FOCAL, UNKNOWN_FOCAL_SPREAD, Known, PhotoView, Wall, focal_in_pixels
from eavesong.survey.solution import solve

PHOTOS = Path(__file__).parent / "photos"
NAMES = ("left01.jpg", "left03.jpg", "left09.jpg")
COLUMNS, ROWS = 9, 6


def corners_of(name):
    """(54, 2) picture elements, row by row."""
    picture = cv2.imread(str(PHOTOS / name), cv2.IMREAD_GRAYSCALE)
    found, corners = cv2.findChessboardCorners(picture, (COLUMNS, ROWS))
    assert found
    fine = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 50, 1e-4)
    return cv2.cornerSubPix(picture, corners, (5, 5), (-1, -1), fine).reshape(-1, 2).astype(float)


def board(clicks):
    """What is known of a board: it is flat, its rows are level, its columns upright, four squares are measured."""
    number = np.arange(ROWS * COLUMNS).reshape(ROWS, COLUMNS)
    same = [(row[0], other, 1) for row in number for other in row[1:]]
    same += [(column[0], other, axis) for column in number.T for other in column[1:] for axis in (0, 2)]
    count = number.size
    focal = focal_in_pixels(UNKNOWN_FOCAL, 640, 480)
    return Known(
        views=(PhotoView("board", 640, 480, focal, UNKNOWN_FOCAL_SPREAD, centre_spread=30.0),),
        points=tuple(map(str, range(count))), walls=(Wall("front", offset=0.0),),
        click_view=np.zeros(count, np.int64), click_point=np.arange(count), clicks=clicks,
        click_give=np.full(count, 0.3), on=np.array([[point, 0] for point in range(count)]), same=np.array(same),
        along=np.zeros((0, 4), np.int64), measure_ends=np.array([[0, 1], [8, 17], [45, 46], [52, 53]]),
        lengths=np.ones(4), measure_give=np.full(4, 0.002), origin=45, hold=(0, 1),
    )  # fmt: skip


@functools.cache
def solved(name):
    return solve(board(corners_of(name)))


@pytest.mark.parametrize("name", NAMES)
def test_all_squares_have_the_size_of_the_measured_ones(name):
    solution = solved(name)
    places = solution.points.reshape(ROWS, COLUMNS, 3)
    sides = np.concatenate([np.linalg.norm(np.diff(places, axis=axis), axis=2).ravel() for axis in (0, 1)])
    assert sides == pytest.approx(1.0, abs=0.01)
    assert not solution.doubts


def test_the_lens_is_that_of_opencvs_calibration():
    """OpenCV's tutorial "Camera calibration" finds about 534 to 536 picture elements and k1 of about -0.27 to -0.29 for
    this camera; here cv2.calibrateCamera on the same photos stands in for the page."""
    flat = np.array([[x, y, 0] for y in range(ROWS) for x in range(COLUMNS)], np.float32)
    clicks = [corners_of(name) for name in NAMES]
    fixed = cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3
    seen = [each.astype(np.float32)[:, None] for each in clicks]
    found = cv2.calibrateCamera([flat] * len(NAMES), seen, (640, 480), None, None, flags=fixed)
    focal, bend = found[1][0, 0], found[2].ravel()[0]
    for name in NAMES:
        solution = solved(name)
        give = solution.focal_give(0) + 0.01
        assert abs(np.log(solution.lens(0).focal / focal)) < 3 * give
        assert solution.lens(0).k == pytest.approx(bend, abs=0.06)
