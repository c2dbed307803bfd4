"""A pixel's colour in a frame depends on nothing but the cues, its place and the frame's musical time.

Any range of frames, any subset of props, any size of block, any number of threads, in any order, wherever the pixel
stands among the others: the same bytes.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from eavesong.easing import LINEAR
from eavesong.kernels.exact import TILE
from eavesong.language import effect_names, load_effect
from eavesong.scene.timeline import Span
from eavesong.scene.values import WINDOW
from support import Sound, cue, effect, even_grid, frames_of, line, points, scattered

GRID = even_grid()
FIRST, COUNT = WINDOW - 20, 41
"""Frames on both sides of the border between two windows."""


def house(*sizes, seed=3):
    """Props of these sizes in one frame, the same places for the same sizes whatever stands beside them."""
    props = {f"prop {index}": scattered(size, seed + index) for index, size in enumerate(sizes)}
    return points(props)


SIZES = (700, 1, 1300, 64, 400)
HOUSE = house(*SIZES)

EVERYTHING = effect(
    "s = hash(seed, floor(2 * beat)) + noise(3 * x, 2 * y, t) * spectrum(y)\n"
    "level = 0.6 * band(wrap(4 * u - beat), 0, 0.3) + 0.5 * s * bass + 0.2 * sin(7 * X + t) * exp(-cue_beat / 8)\n"
    "colour = mix(palette(fract(turn + 0.1 * bar)), hsl(360 * px + 40 * t, 0.9, 0.5), smoothstep(0, 1, py))"
)


def stack(layout):
    """Three cues over each other, fading in and out around the frames looked at."""
    spans = (Span(20.0, 25.6, 5.6, 0.0, LINEAR, LINEAR, True), Span(25.6, 40.0, 0.0, 3.0, LINEAR, LINEAR, True))
    every_other = (np.arange(layout.pixel_count) % 2).astype(np.float32)
    return [
        cue(EVERYTHING, layout, GRID, spans=spans),
        cue("hash(seed) * fract(beat)", layout, GRID, blend="screen", opacity=0.7, weight=every_other),
        cue("edge(y, fract(beat / 3))", layout, GRID, blend="multiply", opacity=0.5),
    ]


@pytest.fixture(scope="module")
def frames():
    return frames_of(stack(HOUSE), HOUSE, grid=GRID, signals=Sound())


@pytest.fixture(scope="module")
def whole(frames):
    """All frames in one block."""
    block = frames.block(FIRST, COUNT)
    assert len(np.unique(block)) > 200  # something to tell apart
    assert (block[1:] != block[:-1]).any(axis=1).all()
    return block


@pytest.mark.parametrize("size", [1, 7, 64])
def test_blocks_of_any_size(frames, whole, size):
    blocks = [frames.block(FIRST + at, min(size, COUNT - at)) for at in range(0, COUNT, size)]
    np.testing.assert_array_equal(np.concatenate(blocks), whole)


def test_frames_in_any_order(whole):
    fresh = frames_of(stack(HOUSE), HOUSE, grid=GRID, signals=Sound())
    order = np.random.default_rng(1).permutation(COUNT)
    for at in order:
        np.testing.assert_array_equal(fresh.block(FIRST + int(at), 1)[0], whole[at])


@pytest.mark.parametrize("workers", [1, 2, 3, 8])
def test_any_number_of_threads(workers, whole):
    fresh = frames_of(stack(HOUSE), HOUSE, grid=GRID, signals=Sound())
    with ThreadPoolExecutor(workers) as pool:
        rows = list(pool.map(lambda at: fresh.block(FIRST + at, 3), range(0, COUNT - 2)))
    for at, row in enumerate(rows):
        np.testing.assert_array_equal(row, whole[at : at + 3])


@pytest.mark.parametrize("props", [(0,), (1,), (2, 4), (0, 1, 2, 3, 4)])
def test_any_subset_of_props(props, whole):
    """Chosen props have the bytes they have in the whole house; the others stay dark."""
    some = frames_of(stack(HOUSE), HOUSE, grid=GRID, signals=Sound(), props=props).block(FIRST, COUNT)
    lit = np.isin(np.repeat(HOUSE.pixels.prop, 3), props)
    np.testing.assert_array_equal(some[:, lit], whole[:, lit])
    assert not some[:, ~lit].any()


@pytest.mark.parametrize("before", [0, 1, 5, 1000, TILE, 3 * TILE + 17])
def test_a_prop_has_its_bytes_wherever_it_stands_among_the_pixels(before):
    """In another place of another tile, beside other pixels, at the end of a tile that is filled up."""
    prop = scattered(300, seed=77)

    def bytes_behind(count):
        props = ({"before": scattered(count, seed=5)} if count else {}) | {"prop": prop}
        layout = points(props)
        return frames_of(stack_of_whole(layout), layout, grid=GRID, signals=Sound()).block(FIRST, 9)[:, 3 * count :]

    def stack_of_whole(layout):
        return [replace(each, weight=np.ones(layout.pixel_count, np.float32)) for each in stack(layout)]

    np.testing.assert_array_equal(bytes_behind(before), bytes_behind(333))


def test_every_pixel_of_a_tile_runs_the_same_vector_code():
    """No pixels are left over behind the widest registers (16 floats of AVX-512), four of them at a time."""
    assert TILE % 64 == 0


def test_other_cues_change_nothing_on_pixels_they_do_not_light():
    alone = cue(EVERYTHING, HOUSE, GRID)
    elsewhere = np.zeros(HOUSE.pixel_count, np.float32)
    elsewhere[:TILE] = 1
    beside = cue("fract(t)", HOUSE, GRID, weight=elsewhere)
    one = frames_of([alone], HOUSE, grid=GRID, signals=Sound()).block(FIRST, 5)
    two = frames_of([beside, alone, beside], HOUSE, grid=GRID, signals=Sound()).block(FIRST, 5)
    np.testing.assert_array_equal(one[:, 3 * TILE :], two[:, 3 * TILE :])
    assert (one != two).any()


def test_a_cue_that_is_not_on_changes_nothing():
    later = (Span(100.0, 110.0, 0.0, 0.0, LINEAR, LINEAR, True),)
    dark = cue("1", HOUSE, GRID, spans=later)
    base = frames_of([cue(EVERYTHING, HOUSE, GRID)], HOUSE, grid=GRID).block(FIRST, 3)
    np.testing.assert_array_equal(
        frames_of([cue(EVERYTHING, HOUSE, GRID), dark], HOUSE, grid=GRID).block(FIRST, 3), base
    )


def test_the_same_places_have_the_same_colours_on_another_house():
    """Houses of 1 and 100 metres: normalised places, seeds and colours are the same."""
    small, large = points(scattered(500)), points(100 * scattered(500), size=(100, 100, 100))
    what = effect(
        "level = band(x, fract(beat / 4), 0.3) + 0.3 * hash(seed) + 0.3 * noise(5 * y, beat)\n"
        "colour = palette(length(x - 0.5, y - 0.5, z - 0.5))"
    )
    np.testing.assert_array_equal(
        frames_of(what, small, grid=GRID).block(0, 40), frames_of(what, large, grid=GRID).block(0, 40)
    )


def test_a_place_has_its_colour_whichever_prop_it_belongs_to():
    """The same pixels wired as one prop, as many, and in another order."""
    places = scattered(200)
    order = np.random.default_rng(2).permutation(200)
    what = effect("level = hash(seed, floor(beat))\ncolour = hsl(360 * x, y, fract(z + t))")
    one = frames_of(what, points(places)).block(0, 20)
    many = frames_of(what, points({str(n): places[n : n + 1] for n in range(200)})).block(0, 20)
    mixed = frames_of(what, points(places[order])).block(0, 20).reshape(20, -1, 3)
    np.testing.assert_array_equal(one, many)
    np.testing.assert_array_equal(one.reshape(20, -1, 3)[:, order], mixed)


@pytest.mark.parametrize("name", effect_names())
def test_effects_that_ship_are_pure(name):
    """Every one in one block, frame by frame, and behind 1,000 other pixels."""
    prop = np.concatenate([line(60), line(60, axis=1)])
    alone, behind = points({"prop": prop}), points({"others": scattered(1000), "prop": prop})
    what = load_effect(name)
    frames = frames_of(what, alone, grid=GRID, signals=Sound())
    block = frames.block(FIRST, 24)
    np.testing.assert_array_equal(np.concatenate([frames.block(FIRST + k, 1) for k in range(24)]), block)
    np.testing.assert_array_equal(frames_of(what, behind, grid=GRID, signals=Sound()).block(FIRST, 24)[:, 3000:], block)
