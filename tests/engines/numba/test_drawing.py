"""The fast engine's view of a scene: addresses of kernels, planes and weights, tile by tile."""

from dataclasses import replace

import numpy as np
import pytest

from eavesong.engines.numba import Drawing, drawing
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


@pytest.mark.parametrize("order", ["RGB", "GRB", "BRG", "RGBW"])
def test_bytes_are_the_same_whether_or_not_tiles_are_written_at_once(order, monkeypatch):
    """Whole tiles, a tile that two strings of different curves share, and one that is not full."""
    house = points(line(5 * TILE + 40))
    count, width = house.pixel_count, len(order)
    gamma = np.where(np.arange(count) < 2 * TILE + 100, 1.0, 2.2).astype(np.float32)
    patch = replace(
        house.patch,
        channel_count=width * count + 7,
        channel_start=7 + width * np.arange(count),
        channel_width=np.full(count, width, np.int8),
        orders=(order,),
        gamma=gamma,
    )
    house = replace(house, patch=patch)

    def drawn(fast):
        monkeypatch.setattr(drawing, "looks_up_fast", lambda: fast)
        cues = [cue("x * fract(beat)", house, GRID), cue("hash(u, t)", house, GRID, blend="screen")]
        made = Drawing(scene_on(cues, house, grid=GRID))
        return made.block(3, 9), made.rows.at_once.tolist()

    (one, slow), (other, at_once) = drawn(False), drawn(True)
    assert not any(slow)
    assert at_once == ([True, True, False, True, True, False] if width == 3 else [False] * 6)
    np.testing.assert_array_equal(one, other)
    assert len(np.unique(one)) > 200
