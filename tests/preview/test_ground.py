"""What lights spill on the ground: where it lies, how wide, and that all of it comes from somewhere."""

import numpy as np
import pytest

from eavesong.preview import brush
from eavesong.preview.glow import shape_at
from eavesong.preview.ground import SPREADS, Ground
from eavesong.preview.view import View, project

SIZE = (640, 640)
LEVEL = 1
LIGHTS = np.array(
    [[0.0, 0.2, 0.0], [10.0, 4.0, 0.0], [0.0, 0.2, 10.0], [-9.0, 0.0, -9.0], [19.0, 0.0, 19.0]], np.float32
)
"""The last two stay dark: they make the picture wide enough for what the others spill."""


@pytest.fixture(scope="module")
def lit():
    """The light (h, w) that each of the lights spills, seen from straight above."""
    projection = project(LIGHTS, SIZE, View(0, 90, flat=True))
    shape = shape_at(SIZE, LEVEL)
    ground = Ground(LIGHTS, 0.0, projection, SIZE, LEVEL, np.ones(shape[::2], np.float32))
    spots = []
    for light in np.eye(5, dtype=np.float32)[:3]:
        canvas = np.zeros(shape, np.float32)
        ground.spill(np.repeat(light[:, None], 3, axis=1), brush, canvas)
        spots.append(canvas[:, 1].astype(np.float64))
    return projection, ground, spots


def spread_of(spot):
    """Centre and standard deviation along the rows, in elements of the canvas."""
    columns = np.arange(spot.shape[1]) + 0.5
    weights = spot.sum(axis=0)
    centre = (weights * columns).sum() / weights.sum()
    return centre, np.sqrt((weights * (columns - centre) ** 2).sum() / weights.sum())


def test_light_falls_below_its_lamp_and_spreads_as_far_as_is_said(lit):
    """A bell of so many metres; cells of the map and elements of the canvas add a little (sum of variances)."""
    projection, ground, spots = lit
    for which, (metres, _) in ((0, SPREADS[0]), (1, SPREADS[1])):
        column, _ = projection.place(LIGHTS[which : which + 1] * [1, 0, 1])
        element = 2**LEVEL / projection.focal * (projection.eye[1])  # metres of the ground that one shows
        centre, sigma = spread_of(spots[which])
        assert centre == pytest.approx(column[0] / 2**LEVEL, abs=0.6)
        assert sigma * element == pytest.approx(np.hypot(metres, ground.cell / 2), rel=0.08)


def test_equal_lamps_spill_equal_light_wherever_they_stand(lit):
    _, _, spots = lit
    assert spots[0].sum() == pytest.approx(spots[2].sum(), rel=0.02)


def test_no_light_falls_on_what_a_wall_hides():
    projection = project(LIGHTS, SIZE, View(20, 40))
    shape = shape_at(SIZE, LEVEL)
    free = np.ones(shape[::2], np.float32)
    free[:, : shape[2] // 2] = 0
    canvas = np.zeros(shape, np.float32)
    Ground(LIGHTS, 0.0, projection, SIZE, LEVEL, free).spill(np.ones((5, 3), np.float32), brush, canvas)
    assert not canvas[..., : shape[2] // 2].any()
    assert canvas[..., shape[2] // 2 :].any()
