"""Wires: pixels in the middle of their shares, and which lie side by side."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import MisfitError
from eavesong.layout.wire import MOST_PIXELS, bundle, check_count, count_for, path_length, single, thread

RIGHT_ANGLE = np.array([[0.0, 0, 0], [3, 0, 0], [3, 4, 0]])


def test_a_path_is_as_long_as_its_pieces():
    assert path_length(RIGHT_ANGLE) == 7


def test_shares_tile_the_path():
    """Seven pixels on seven metres: one in the middle of each metre, round the corner too."""
    assert thread(RIGHT_ANGLE, 7)[[0, 2, 3, 6]].tolist() == [[0.5, 0, 0], [2.5, 0, 0], [3, 0.5, 0], [3, 3.5, 0]]


@given(st.floats(0.1, 100), st.floats(0.01, 10))
def test_no_other_count_is_nearer_to_the_pitch(length, pitch):
    count = count_for(length, None, pitch)
    assert count == 1 or abs(count - length / pitch) <= 0.5 + 1e-9


def test_a_wire_without_length_and_one_with_too_many_pixels_are_refused():
    with pytest.raises(MisfitError, match="no length"):
        single(np.zeros((2, 3)), 5, None)
    with pytest.raises(MisfitError, match="more than the"):
        check_count(MOST_PIXELS + 1)


def three_strands(**how):
    """Three upright strands of four pixels, a metre apart."""
    strands = [np.stack([np.full(4, x), np.arange(4.0), np.zeros(4)], axis=1) for x in (0.0, 1.0, 2.0)]
    return bundle(strands, [4.0] * 3, low=np.zeros(3), high=np.array([2.0, 3, 0]), **how)


@pytest.mark.parametrize("zigzag", [False, True])
def test_beside_a_pixel_is_the_one_at_its_height(zigzag):
    wire = three_strands(zigzag=zigzag)
    for side, step in ((wire.before, -1), (wire.after, 1)):
        moved = side != np.arange(12)
        assert moved.sum() == 8
        np.testing.assert_array_equal((wire.points[side] - wire.points)[moved], [[step, 0, 0]] * 8)


def test_a_closed_bundle_has_no_first_strand():
    wire = three_strands(closed=True)
    assert (wire.strand[wire.before] == (wire.strand - 1) % 3).all()
    assert (wire.strand[wire.after] == (wire.strand + 1) % 3).all()


def test_jumpers_between_strands_are_no_wire():
    wire = three_strands(zigzag=True)
    assert wire.length == 12
    assert wire.along.tolist() == [number + 0.5 for number in range(12)]
