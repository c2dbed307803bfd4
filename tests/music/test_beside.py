"""How candidates stand beside each other: on beats whose evenness is known."""

from __future__ import annotations

import numpy as np
import pytest

from eavesong.music.beside import COUNT, EVEN, beside, evenness, evens

EVERY = 48.0
GRID = 20 + EVERY * np.arange(100)


def drifting(beats: np.ndarray) -> np.ndarray:
    """``beats``, from the middle on half a beat late, as a path is that goes over to the off-beat."""
    return beats + np.interp(np.arange(len(beats)), [40, 60], [0.0, EVERY / 2])


def test_even_beats_in_whole_frames_are_even() -> None:
    step, away = evenness(np.round(GRID))
    assert step == pytest.approx(EVERY, rel=1e-4)
    assert away <= 0.5 + 1e-9


def test_a_few_strays_do_not_tilt_even_beats() -> None:
    beats = GRID.copy()
    beats[-5:] += 20
    step, away = evenness(beats)
    assert step == pytest.approx(EVERY, rel=1e-3)
    assert away < EVEN


def test_a_path_that_goes_over_to_the_off_beat_is_not_even() -> None:
    assert evenness(drifting(GRID))[1] > EVEN


def test_only_even_candidates_of_the_same_tempo_count_beside_one() -> None:
    even, same = evens([GRID, drifting(GRID), GRID[::2], GRID + EVERY / 2])
    assert even.tolist() == [True, False, True, True]
    assert same[1].tolist() == [True, False, False, True]


def test_what_each_falls_short_of_the_best() -> None:
    told = np.array([[1.0, 2.0, 0.5, 0.0, 0.4], [3.0, 1.0, 0.7, 1.0, 0.5]])
    table = beside([GRID, drifting(GRID)], told)
    assert table.shape == (2, COUNT)
    assert table[:, :5] == pytest.approx(told - told.max(axis=0))
    assert table[0, 5:].tolist() == [1, 0, 0, 0, 0]
    assert table[1, 5:] == pytest.approx([0, 1, 1.0, -0.2, 0])
