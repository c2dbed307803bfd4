"""Residuals and their derivatives, by differences and by hand."""

from dataclasses import replace

import numpy as np
import pytest

from eavesong.survey.camera import turned
from eavesong.survey.known import UPRIGHT, Wall
from eavesong.survey.misfit import Misfit, normal
from eavesong.survey.start import starts


@pytest.fixture
def everything(plain):
    """What is known of the plain house with every kind of wall and line."""
    walls = (*plain.known.walls[:2], Wall("garage", like=0, set_back=(-1.8, 0.01)), Wall("side", heading=None),
             Wall("roof", like=0, pitch=None))  # fmt: skip
    on = np.concatenate([plain.known.on, [[3, 3], [6, 3], [9, 4], [12, 4]]])
    ground = replace(walls[1], tilted=True)
    view = replace(plain.known.views[0], centre_spread=50.0)
    return replace(plain.known, views=(view,), walls=(walls[0], ground, *walls[2:]), on=on,
                   along=np.array([[0, 1, 4, 5], [8, 9, 8, 12]]))  # fmt: skip


def test_derivatives_are_the_differences(everything):
    start = starts(everything)[0]
    misfit = Misfit(everything, start.turns)
    here = start.unknowns + np.random.default_rng(1).normal(0, 1e-2, len(start.unknowns))
    _, slope = misfit.of(here)
    for entry in misfit.at.free():
        step = np.zeros_like(here)
        step[entry] = 1e-6
        moved = (misfit.of(here + step)[0] - misfit.of(here - step)[0]) / 2e-6
        assert slope[:, entry] == pytest.approx(moved, rel=1e-4, abs=2e-2)


def test_the_truth_has_no_misfit_but_noise(plain):
    """Residuals of the truth are those of clicks and tapes, about one standard deviation each."""
    misfit = Misfit(plain.known, [plain.lens.turn])
    unknowns = np.zeros(misfit.at.count)
    view = unknowns[misfit.at.view(0)]
    view[0], view[1], view[5:8] = np.log(plain.lens.focal), plain.lens.k, plain.lens.place - [0, 0, 0]
    view[8:10] = plain.lens.centre
    shift = plain.house.places["door bl"][0]
    view[5] -= shift
    unknowns[misfit.at.pitch(0)] = unknowns[misfit.at.pitch(2)] = UPRIGHT
    unknowns[misfit.at.offset(2)] = 1.8
    unknowns[misfit.at.points_at :] = plain.truth.ravel()
    residuals, _ = misfit.of(unknowns)
    clicks = residuals[misfit.rows_of["clicks"]]
    assert np.sqrt((clicks**2).mean()) == pytest.approx(1.0, abs=0.35)
    for kind in ("on", "same"):
        assert residuals[misfit.rows_of[kind]] == pytest.approx(0, abs=1e-6)
    assert np.abs(residuals[misfit.rows_of["measures"]]).max() < 4


@pytest.mark.parametrize(
    ("heading", "pitch", "wanted"),
    [(0, 90, [0, 0, 1]), (90, 90, [1, 0, 0]), (0, 0, [0, 1, 0]), (0, 30, [0, np.sqrt(3) / 2, 0.5])],
)
def test_normals_by_hand(heading, pitch, wanted):
    """A front faces the street; turned by 90 degrees, right; a roof of 30 degrees rises away from the street."""
    assert normal(np.radians(heading), np.radians(pitch), False)[0] == pytest.approx(wanted, abs=1e-12)


def test_turns_of_cameras_may_be_far(plain):
    """The small turn is counted from where the camera is, so half a turn is no pole."""
    assert Misfit(plain.known, [turned(3.0, 0, 0)]).turns[0].shape == (3, 3)
