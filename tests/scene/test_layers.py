"""Layers: cues as arrays in tiles, the same bits whatever else is on the house."""

from dataclasses import replace

import numpy as np

from eavesong.kernels.exact import TILE
from eavesong.scene.layers import flat_parameters, layers_of
from support import cue, even_grid, line, points

GRID = even_grid(120, bars=4)


def test_planes_hold_what_the_program_reads_of_each_pixel():
    house = points(line(TILE + 10))
    (layer,) = layers_of([cue("x * x", house, GRID)], house, np.ones(house.pixel_count, bool))
    assert layer.tiles.tolist() == [0, 1]
    (square,) = layer.planes.transpose(1, 0, 2).reshape(1, -1)[:, : house.pixel_count]
    np.testing.assert_allclose(square, house.pixels.x**2, rtol=1e-6)


def test_only_tiles_that_are_lit_in_part_keep_weights():
    house = points(line(2 * TILE))
    weight = np.ones(house.pixel_count, np.float32)
    weight[:3] = 0
    (layer,) = layers_of([cue("x", house, GRID, weight=weight)], house, np.ones(house.pixel_count, bool))
    assert layer.partial.tolist() == [True, False]
    assert layer.weights.shape == (1, TILE)
    assert layer.weights[0, :4].tolist() == [0, 0, 0, 1]


def test_cues_that_light_nothing_are_no_layers():
    house = points(line(4))
    none, dim = np.zeros(4, np.float32), cue("x", house, GRID, opacity=0.0)
    cues = [cue("x", house, GRID, weight=none), dim, cue("x", house, GRID, spans=()), cue("y", house, GRID)]
    assert [layer.cue for layer in layers_of(cues, house, np.ones(4, bool))] == [cues[3]]


def test_a_colour_is_three_parameters():
    assert flat_parameters({"a": 1.0, "b": (0.1, 0.2, 0.3)}) == {"a": 1.0, "b.0": 0.1, "b.1": 0.2, "b.2": 0.3}


def test_of_other_layers_is_taken_what_is_the_same():
    """Arrays of a cue that is as it was, numbers of frames of one that lights other pixels; nothing of another one."""
    house = points(line(4))
    all_of_it = np.ones(house.pixel_count, bool)
    half = np.array([1, 1, 0, 0], np.float32)
    same, elsewhere, brighter = (cue(level, house, GRID) for level in ("x * beat", "x + beat", "x"))
    before = layers_of([same, elsewhere, brighter], house, all_of_it)
    moved = replace(elsewhere, weight=half)
    cues = [replace(same, name="renamed"), moved, replace(brighter, opacity=0.5)]
    after = layers_of(cues, house, all_of_it, before)
    assert after[0].planes is before[0].planes
    assert after[0].cue.name == "renamed"
    assert after[1].windows is before[1].windows
    assert after[1].weights.tolist() == [[1, 1, *[0] * (TILE - 2)]]
    assert after[2].windows is not before[2].windows
    for one, other in zip(after, layers_of(cues, house, all_of_it), strict=True):
        assert one.planes.tobytes() == other.planes.tobytes()
        assert one.weights.tobytes() == other.weights.tobytes()
        assert one.first_scalar == other.first_scalar


def test_on_another_house_no_places_are_taken():
    here, there = points(line(4)), points(line(4) / 2)
    before = layers_of([cue("x", here, GRID)], here, np.ones(4, bool))
    (layer,) = layers_of([cue("x", there, GRID)], there, np.ones(4, bool), before, same_places=False)
    assert layer.planes.tolist() != before[0].planes.tolist()
