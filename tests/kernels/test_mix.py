"""Light of parts of the view, against a plain sum in float64."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.kernels import calls, planes

TABLES = (np.arange(256) / 255).astype(np.float32)[None]


def mix(frames, places, curves, tables, cell, area, starts, members, room, first, last, out):
    """The kernel with memory of its own, none of which it needs to find in any state but what must be zeros."""
    scratch = np.full(planes.MIXED, np.nan, np.float32)
    whole, sums = np.zeros((last - first, 3, planes.LANES), np.float32), np.zeros((last - first, cell.max() + 1, 3))
    calls.mix(frames, places, curves, tables, cell, area, starts, members, room, first, last, out, scratch, whole, sums)


@settings(max_examples=25, deadline=None)
@given(count=st.integers(1, 600), seed=st.integers(0, 999))
def test_parts_are_the_sums_of_their_cells_and_the_display_is_the_mean(count: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    frames = random.integers(0, 256, (4, 3 * count), np.uint8)
    places = np.full((count, 4), -1, np.int64)
    places[:, :3] = np.arange(3 * count).reshape(count, 3)
    cell, area = random.integers(0, 5, count).astype(np.int32), random.random(count)
    starts, members = np.array([0, 2, 5], np.int32), np.array([0, 3, 1, 2, 4], np.int32)
    cell[: min(count, 5)] = np.arange(min(count, 5))
    cell[0] = 4  # so that there are five cells
    room, out = np.array([2.0, 0.5]), np.zeros((4, 3, 3), np.float32)
    mix(frames, places, np.zeros(count, np.int16), TABLES, cell, area, starts, members, room, 1, 3, out)

    light = frames[1:3].reshape(2, count, 3) / 255
    np.testing.assert_allclose(out[1:3, :, 0], light.mean(axis=1), rtol=1e-5)
    for part, cells in enumerate(([0, 3], [1, 2, 4])):
        wanted = (light * (area * np.isin(cell, cells))[:, None]).sum(axis=1) / room[part]
        np.testing.assert_allclose(out[1:3, :, 1 + part], wanted, rtol=1e-5, atol=1e-7)
    assert not out[[0, 3]].any()  # frames that were not asked for


def test_white_is_added_to_the_other_colours_and_full_is_full() -> None:
    frames = np.array([[51, 102, 204, 102, 0, 0, 0]], np.uint8)  # one pixel with white, and a dark one without
    places = np.array([[0, 1, 2, 3], [4, 5, 6, -1]], np.int64)
    out, none = np.zeros((1, 3, 1), np.float32), np.zeros(0)
    cell, area, nothing = np.zeros(2, np.int32), np.ones(2), np.zeros(1, np.int32)
    mix(frames, places, np.zeros(2, np.int16), TABLES, cell, area, nothing, np.zeros(0, np.int32), none, 0, 1, out)
    np.testing.assert_allclose(out[0, :, 0], np.array([0.6, 0.8, 1.0]) / 2, rtol=1e-6)


def test_each_pixel_has_a_curve_of_its_own() -> None:
    tables = np.stack([np.arange(256) / 255, (np.arange(256) / 255) ** 2]).astype(np.float32)
    frames, places = np.full((1, 6), 51, np.uint8), np.array([[0, 1, 2, -1], [3, 4, 5, -1]], np.int64)
    out, nothing = np.zeros((1, 3, 1), np.float32), np.zeros(1, np.int32)
    curves = np.array([0, 1], np.int16)
    mix(frames, places, curves, tables, np.zeros(2, np.int32), np.ones(2), nothing, nothing[:0], np.zeros(0), 0, 1, out)
    np.testing.assert_allclose(out[0, :, 0], (0.2 + 0.04) / 2, rtol=1e-6)
