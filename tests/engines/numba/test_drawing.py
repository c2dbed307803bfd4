"""The fast engine's view of a scene: addresses of kernels, planes and weights, tile by tile."""

import numpy as np

from eavesong.engines.numba import Drawing
from eavesong.kernels.exact import TILE
from support import cue, even_grid, line, points, scene_on

GRID = even_grid(120, bars=4)


def test_a_tile_that_a_cue_does_not_light_has_no_address():
    house = points(line(3 * TILE))
    weight = np.zeros(house.pixel_count, np.float32)
    weight[TILE + 5 : TILE + 9] = 1
    drawing = Drawing(scene_on([cue("x", house, GRID, weight=weight)], house, grid=GRID))
    assert (drawing.places[0, 0] != 0).tolist() == [False, True, False]
    lit = drawing.block(0, 1).reshape(-1, 3).any(axis=1)
    assert np.flatnonzero(lit).tolist() == [TILE + 5, TILE + 6, TILE + 7, TILE + 8]


def test_cues_that_light_whole_tiles_share_one_plane_of_weights():
    house = points(line(2 * TILE))
    drawing = Drawing(scene_on([cue("x", house, GRID), cue("y", house, GRID)], house, grid=GRID))
    assert len(np.unique(drawing.places[:, 1])) == 1


def test_a_scene_without_cues_is_dark():
    assert not Drawing(scene_on([], points(line(10)), grid=GRID)).block(0, 3).any()
