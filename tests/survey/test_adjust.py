"""The solution against OpenCV's on the same correspondences, and against the truth."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from eavesong.survey.adjust import adjust, pushed, readjust
from eavesong.survey.known import UNKNOWN_FOCAL, UNKNOWN_FOCAL_SPREAD, Wall, focal_in_pixels
from survey_houses import SIX, camera, known_of, plain_house, truth_of


@pytest.fixture(scope="module")
def solved(plain):
    return adjust(plain.known)[0]


def test_the_camera_stands_where_opencv_puts_it(plain, solved):
    """cv2.solvePnP with the points and the lens found: the place that fits the same clicks best."""
    lens = solved.lens(0)
    matrix = np.array([[lens.focal, 0, lens.centre[0]], [0, lens.focal, lens.centre[1]], [0, 0, 1.0]])
    ok, turn, shift = cv2.solvePnP(solved.points, plain.known.clicks, matrix, np.array([lens.k, 0, 0, 0]))
    assert ok
    turn = cv2.Rodrigues(turn)[0]
    # Not to the last digit: tape and planes pull at the points here, not only clicks.
    assert -turn.T @ shift[:, 0] == pytest.approx(lens.place, abs=0.02)
    assert turn == pytest.approx(lens.turn, abs=2e-3)


def test_the_lens_is_the_one_opencv_calibrates():
    """cv2.calibrateCamera with the true points of two views, focal length and first radial term free: so much must
    come out without the points being known."""
    house, rng = plain_house(), np.random.default_rng(11)
    lenses = [replace(camera(house, 75, yaw, rng), k=-0.06) for yaw in (20, -20)]
    known = known_of(house, lenses, SIX, rng)
    solved = adjust(known)[0]
    truth = truth_of(house, known.points).astype(np.float32)
    for view in range(2):
        mine = known.click_view == view
        seen = known.clicks[mine].astype(np.float32)[:, None]
        matrix = np.array([[2500.0, 0, 2000], [0, 2500, 1500], [0, 0, 1]])
        fixed = cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_FIX_ASPECT_RATIO
        fixed |= cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3
        found = cv2.calibrateCamera([truth[known.click_point[mine]]], [seen], (4000, 3000), matrix, None, flags=fixed)
        lens = solved.lens(view)
        assert lens.focal == pytest.approx(found[1][0, 0], rel=0.015)
        assert lens.k == pytest.approx(found[2].ravel()[0], abs=0.02)


def test_without_noise_the_truth_comes_out():
    house, rng = plain_house(), np.random.default_rng(4)
    known = known_of(house, [camera(house, 80, 15, rng)], SIX, rng, click=0.02, tape=1e-4)
    assert adjust(known)[0].points == pytest.approx(truth_of(house, known.points), abs=0.02)


def test_a_plain_start_is_not_needed(plain, solved):
    """The errors stay within a few of their own standard errors."""
    errors = np.sqrt(np.maximum(np.diag(solved.point_covariance), 1e-8)).reshape(-1, 3)
    assert np.abs((solved.points - plain.truth) / errors).max() < 4.5


def test_all_is_as_large_as_the_tape_says(plain, solved):
    """Twice as long measures make a house twice as large, all else equal."""
    double = readjust(
        replace(plain.known, lengths=2 * plain.known.lengths, measure_give=2 * plain.known.measure_give), solved
    )
    assert double.points == pytest.approx(2 * solved.points, rel=0.02, abs=0.02)


def test_a_turned_wall_and_a_roof_are_found():
    """Their angles were not told: 40 degrees to the right and a pitch of 35."""
    house, rng = plain_house(), np.random.default_rng(8)
    house.walls += [Wall("bay", heading=None), Wall("roof", like=0, pitch=None)]
    along = np.array([np.cos(np.radians(40)), 0, -np.sin(np.radians(40))])
    foot = np.array([-1.9, 0.0, 2.4])
    house.rectangle("bay", -1.2, 0.0, 0, 2.2, 3, lambda a, y: foot + a * along + [0, y, 0])
    for name, x, back in (("ridge l", -3.0, 3.0), ("ridge r", 3.0, 3.0)):
        house.put(name, (x, 2.6 + back * np.tan(np.radians(35)), -back), 4)
    house.on += [("eave l", 4), ("eave r", 4)]
    house.level.append(("ridge l", "ridge r"))
    known = known_of(house, [camera(house, 80, -10, rng)], SIX, rng, exif=True)
    solved = adjust(known)[0]
    at = solved.misfit.at
    assert np.degrees(solved.heading(3)) == pytest.approx(40, abs=4)
    assert np.degrees(solved.unknowns[at.pitch(4)]) == pytest.approx(35, abs=5)


def test_a_cropped_photo_has_its_centre_elsewhere():
    """600 picture elements cut off at the left: the centre of the lens is found there."""
    house, rng = plain_house(), np.random.default_rng(6)
    lenses = [camera(house, 75, yaw, rng) for yaw in (18, -18)]
    known = known_of(house, lenses, SIX, rng)
    views = tuple(
        replace(view, width=3400, centre_spread=500.0, focal=focal_in_pixels(UNKNOWN_FOCAL, 3400, 3000),
                focal_spread=UNKNOWN_FOCAL_SPREAD)
        for view in known.views
    )  # fmt: skip
    cropped = replace(known, views=views, clicks=known.clicks - [600.0, 0.0])
    solved = adjust(cropped)[0]
    for view in range(2):
        assert solved.lens(view).centre[0] == pytest.approx(2000 - 600, abs=150)
    assert np.median(np.linalg.norm(solved.points - truth_of(house, known.points), axis=1)) < 0.06


def test_a_sloping_ground_is_found():
    """A lawn that falls by 4 in 100 towards the street; the feet of the front are level."""
    house, rng = plain_house(), np.random.default_rng(9)
    house.walls[1] = replace(house.walls[1], tilted=True)
    for name in ("arch 0", "arch 1", "arch 2", "tree foot", "path a", "path b", "garage bl", "garage br"):
        x, _, z = house.places[name]
        house.places[name] = (x, -0.04 * z, z)
    lenses = [camera(house, 75, yaw, rng) for yaw in (15, -15)]
    known = known_of(house, lenses, SIX, rng)
    solved = adjust(known)[0]
    at = solved.misfit.at
    assert solved.unknowns[at.pitch(1)] == pytest.approx(-0.04, abs=0.01)
    assert solved.unknowns[at.heading(1)] == pytest.approx(0.0, abs=0.01)


def test_what_is_pushed_stays_on_the_way(solved):
    way = np.zeros(solved.points.size)
    way[3 * solved.known.points.index("tree foot") + 2] = 1.0
    moved = pushed(solved, way, 0.1)
    assert way @ (moved.points - solved.points).ravel() == pytest.approx(0.1, abs=1e-3)
    assert moved.cost > solved.cost
