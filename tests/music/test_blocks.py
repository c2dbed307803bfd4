"""Blocks against the whole: numpy's own convolution and cumulative sums over all rows at once."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.music.blocks import in_blocks, moved


@given(st.integers(1, 60), st.integers(1, 70), st.integers(0, 4))
def test_a_window_no_wider_than_the_margin_is_as_over_the_whole(count: int, size: int, reach: int) -> None:
    values = np.random.default_rng(count).integers(0, 9, count)
    bell = np.arange(1, 2 * reach + 2)

    def told(rows: slice) -> np.ndarray:
        return np.convolve(np.pad(values[rows], reach), bell, mode="valid")

    assert in_blocks(count, size, reach, told).tolist() == told(slice(None)).tolist()


def test_no_block_is_longer_than_asked_for() -> None:
    asked: list[int] = []

    def told(rows: slice) -> np.ndarray:
        asked.append(rows.stop - rows.start)
        return np.arange(rows.start, rows.stop)

    assert in_blocks(100, 16, 3, told).tolist() == list(range(100))
    assert max(asked) == 16 + 2 * 3


@pytest.mark.parametrize("count", [0, 5])
def test_rows_keep_their_shape(count: int) -> None:
    assert in_blocks(count, 2, 1, lambda rows: np.zeros((rows.stop - rows.start, 3))).shape == (count, 3)


@given(st.integers(1, 12), st.integers(-15, 15))
def test_moved_rows_are_those_so_many_later_and_zero_beyond_the_ends(count: int, shift: int) -> None:
    rows = np.arange(1, 2 * count + 1).reshape(count, 2)
    later = [rows[at + shift].tolist() if 0 <= at + shift < count else [0, 0] for at in range(count)]
    assert moved(rows, shift).tolist() == later
