"""Bars from evidence: against every possible sequence of bars, and on sequences laid down."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.music.metre import bars, joined


def evidence_of(lengths: list[int], strength: float = 3.0) -> np.ndarray:
    """Log odds of downbeats for bars of these lengths."""
    return np.concatenate([[strength, *[-strength] * (length - 1)] for length in lengths])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-4, 4), min_size=4, max_size=12), st.sampled_from([2, 3, 4]))
def test_in_one_metre_the_phase_with_the_greatest_likelihood_wins(odds: list[float], metre: int) -> None:
    # By hand: the log likelihood of each phase, no bar being broken off (which costs more than these odds can give
    # back only if they are long; so the found one is at least as good as the best of them).
    evidence = np.array(odds)
    on, off = -np.log1p(np.exp(-evidence)), -np.log1p(np.exp(evidence))
    down = [np.arange(len(odds)) % metre == phase for phase in range(metre)]
    best = max(float(np.where(phase, on, off).sum()) for phase in down)
    _, mean = bars(evidence, (metre,), changing=False)
    assert mean * len(odds) >= best - 1e-9


@pytest.mark.parametrize("metre", [2, 3, 4, 5, 6, 7])
def test_clear_bars_of_every_length_are_found(metre: int) -> None:
    positions, _ = bars(evidence_of([metre] * 12), (2, 3, 4, 5, 6, 7))
    assert list(positions) == list(range(1, metre + 1)) * 12


def test_the_metre_may_change() -> None:
    lengths = [4] * 8 + [3] * 8 + [4] * 8
    positions, _ = bars(evidence_of(lengths), (2, 3, 4, 5, 6, 7))
    assert list(np.diff(np.flatnonzero(positions == 1))) == lengths[:-1]


def test_a_single_odd_bar_does_not_shift_all_that_follow() -> None:
    lengths = [4] * 8 + [2] + [4] * 8
    positions, _ = bars(evidence_of(lengths), (4,), changing=False)
    assert list(np.diff(np.flatnonzero(positions == 1))) == lengths[:-1]


def test_a_pickup_comes_before_the_first_downbeat() -> None:
    positions, _ = bars(np.concatenate([[-3.0], evidence_of([4] * 6)]), (3, 4))
    assert list(positions[:6]) == [4, 1, 2, 3, 4, 1]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-50, 50), min_size=1, max_size=40), st.sampled_from([(4,), (2, 3), (2, 3, 4, 5, 6, 7)]))
def test_positions_always_count_up_or_begin_anew(odds: list[float], metres: tuple[int, ...]) -> None:
    positions, mean = bars(np.array(odds), metres)
    assert len(positions) == len(odds)
    assert mean <= 0
    assert all(after in (1, before + 1) for before, after in pairwise(positions))
    assert positions.max() <= max(metres)


def test_short_songs_get_what_an_exhaustive_search_finds() -> None:
    chance = np.random.default_rng(2)
    for _ in range(20):
        evidence = chance.normal(0, 2, 6)
        on, off = -np.log1p(np.exp(-evidence)), -np.log1p(np.exp(evidence))
        # Every way to mark downbeats such that bars have 3 beats, the first and last being cut anywhere.
        ways = [marks for marks in product((False, True), repeat=6)
                if all(b - a == 3 for a, b in zip(*(np.flatnonzero(marks)[s] for s in (slice(0, -1), slice(1, None))),
                       strict=True)) and any(marks[:3]) and any(marks[3:])]  # fmt: skip
        best = max(float(np.where(marks, on, off).sum()) for marks in ways)
        _, mean = bars(evidence, (3,), changing=False)
        assert mean * 6 >= best - 1e-9


def test_a_beat_alone_is_no_bar() -> None:
    positions = np.array([1, 1, 2, 3, 4, 1, 1, 2, 3, 4, 1])
    assert list(joined(positions)) == [4, 1, 2, 3, 4, 5, 1, 2, 3, 4, 1]
