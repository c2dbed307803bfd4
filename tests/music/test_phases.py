"""The same beats in other bars: every beginning of a bar is offered once, the likeliest first."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from eavesong.music.explain import Explanation
from eavesong.music.phases import same_bars, turned, usual_length


def explained(metre: int, first: int, odds: list[float]) -> Explanation:
    """Forty-eight beats half a second apart in bars of ``metre`` from beat ``first`` on; each beat of a bar of as many
    as there are ``odds`` begins one by these log odds."""
    beats = np.arange(48) * 50.0
    judged: Any = SimpleNamespace(beats=beats, downbeat=np.resize(np.array(odds), 48))
    positions = ((np.arange(48) - first) % metre + 1).astype(np.int16)
    return Explanation(judged, positions, (metre,), np.zeros(0), 1.0)


def beginnings(found: list[Explanation]) -> list[tuple[int, int]]:
    """The length of the bars and the beat with which the first of them begins."""
    return [(one.way[0], int(np.flatnonzero(one.positions == 1)[0])) for one in found]


@pytest.mark.parametrize("metre", [3, 4, 5, 7])
def test_bars_may_begin_on_every_other_beat(metre: int) -> None:
    found = beginnings(turned(explained(metre, 1, [0.0] * metre)))
    assert sorted(found) == [(metre, first) for first in range(metre) if first != 1]


def test_the_likeliest_beginning_comes_first() -> None:
    assert beginnings(turned(explained(4, 0, [3.0, -4.0, 1.0, -2.0]))) == [(4, 2), (4, 3), (4, 1)]


def test_two_bars_of_two_may_be_one_of_four() -> None:
    # Half of the beginnings of bars of two are those of bars of four: by hand, F = 2 / 3, so they are others.
    found = beginnings(turned(explained(2, 0, [3.0, -3.0, 2.0, -3.0])))
    assert found[:2] == [(4, 0), (4, 2)]
    assert (2, 1) in found
    assert (2, 0) not in found


def test_bars_that_are_mostly_the_same_are_the_same() -> None:
    bars = np.arange(0, 4_000, 200.0)
    late = np.append(bars[:15], bars[15:] + 100)
    assert same_bars(bars, late)
    assert not same_bars(bars, bars + 100)
    assert same_bars(bars[:1], bars)  # of one beginning nothing can be told


def test_the_usual_length_is_that_of_most_bars() -> None:
    assert usual_length(np.array([3, 4, 1, 2, 3, 1, 2, 3, 4, 1, 2, 3, 4, 1])) == 4
    assert usual_length(np.array([1, 2, 3])) == 3
