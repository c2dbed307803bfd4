"""The camera against OpenCV's, whose model has the same pinhole and first radial term."""

import cv2
import numpy as np
import pytest

from eavesong.survey.camera import Lens, cross_matrix, small_turn, turned, turns_of


@pytest.fixture
def lens():
    return Lens(2600.0, -0.07, turned(0.2, -0.05, 0.02), np.array([1.0, 1.6, 11.0]), np.array([2000.0, 1500.0]))


@pytest.fixture
def points():
    return np.random.default_rng(2).uniform([-5, 0, -3], [5, 5, 4], (40, 3))


def matrix_of(lens):
    return np.array([[lens.focal, 0, lens.centre[0]], [0, lens.focal, lens.centre[1]], [0, 0, 1.0]])


def test_a_point_is_seen_where_opencv_sees_it(lens, points):
    """cv2.projectPoints: Y = R X + t with t = -R C."""
    turn, _ = cv2.Rodrigues(lens.turn)
    shift = -lens.turn @ lens.place
    seen, _ = cv2.projectPoints(points, turn, shift, matrix_of(lens), np.array([lens.k, 0, 0, 0]))
    assert lens.see(points) == pytest.approx(seen[:, 0], abs=1e-6)


def test_a_ray_goes_through_what_is_seen(lens, points):
    rays = lens.rays(lens.see(points))
    towards = points - lens.place
    assert rays == pytest.approx(towards / np.linalg.norm(towards, axis=1)[:, None], abs=1e-9)


def test_slopes_are_the_differences(lens, points):
    _, by_seen, by_lens = lens.slopes(points)
    step = 1e-6
    for axis in range(3):
        moved = (lens.see(points + step * np.eye(3)[axis]) - lens.see(points - step * np.eye(3)[axis])) / (2 * step)
        assert (by_seen @ lens.turn)[:, :, axis] == pytest.approx(moved, abs=1e-3)
    nearer = Lens(lens.focal * np.exp(step), lens.k, lens.turn, lens.place, lens.centre)
    assert by_lens[:, :, 0] == pytest.approx((nearer.see(points) - lens.see(points)) / step, abs=1e-2)


@pytest.mark.parametrize("w", [[0.3, -0.5, 0.2], [1e-9, 0, 0], [0.0, 0.0, 3.0]])
def test_a_small_turn_is_rodrigues_formula(w):
    turn, jacobian = small_turn(np.array(w))
    assert turn == pytest.approx(cv2.Rodrigues(np.array(w))[0], abs=1e-9)
    step = 1e-6
    for axis in range(3):
        moved = small_turn(np.array(w) + step * np.eye(3)[axis])[0] @ turn.T
        assert jacobian[:, axis] == pytest.approx((moved - moved.T)[[2, 0, 1], [1, 2, 0]] / 2 / step, abs=1e-5)


def test_the_cross_product():
    a, b = np.array([1.0, 2, 3]), np.array([-4.0, 0.5, 2])
    assert cross_matrix(a) @ b == pytest.approx(np.cross(a, b))


def test_a_camera_faces_the_house():
    """Straight on it looks to -z with y upwards; turned to the left by 30 degrees it looks that way."""
    assert turned(0, 0, 0) == pytest.approx(np.diag([1, -1, -1]))
    assert turned(np.pi / 6, 0, 0)[2] == pytest.approx([-0.5, 0, -np.sqrt(3) / 2])
    assert turned(0, np.pi / 6, 0)[2] == pytest.approx([0, 0.5, -np.sqrt(3) / 2])


@pytest.mark.parametrize("angles", [(0.0, 0.0, 0.0), (0.4, -0.2, 0.1), (-1.2, 0.9, -0.3), (3.0, 0.1, 0.0)])
def test_turns_are_found_again(angles):
    assert turns_of(turned(*angles)) == pytest.approx(angles)
