"""Which of two explanations that are nearly as good is taken."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from eavesong.music.explain import Explanation
from eavesong.music.preference import in_four, tempo_of, unhurried


def explained(tempo: float, score: float, metre: int = 4, judged: Any = None) -> Explanation:
    """Forty-eight beats, so many a minute, in bars of ``metre``."""
    judged = judged or SimpleNamespace(beats=np.arange(48) * 6000 / tempo)
    return Explanation(judged, (np.arange(48) % metre + 1).astype(np.int16), (metre,), np.zeros(0), score)


def test_the_tempo_is_that_of_most_beats() -> None:
    assert tempo_of(explained(93, 0.0).judged) == pytest.approx(93)


# People tap most readily at 109 to 120 a minute (van Noorden & Moelants 1999), hardly at 200.
@pytest.mark.parametrize(("tempo", "half", "behind", "first"), [
    (200, 100, 0.1, 100),  # nearly as good: people tap the slower
    (200, 100, 2.0, 200),  # far behind
    (140, 70, 0.1, 140),  # no haste
    (200, 133, 0.1, 200),  # two thirds are no half
])  # fmt: skip
def test_half_of_a_hasty_tempo_is_taken_where_it_is_nearly_as_good(
    tempo: float, half: float, behind: float, first: float
) -> None:
    order = [explained(tempo, 1.0), explained(half, 1.0 - behind), explained(50, -9.0)]
    found = unhurried(order)
    assert tempo_of(found[0].judged) == pytest.approx(first)
    assert sorted(map(id, found)) == sorted(map(id, order))


@pytest.mark.parametrize(("behind", "first"), [(0.2, 4), (3.0, 2)])
def test_bars_of_two_are_half_of_bars_of_four_where_these_are_nearly_as_good(behind: float, first: int) -> None:
    # That two beats which repeat are half a bar is common practice.
    two = explained(100, 1.0, 2)
    four = explained(100, 1.0 - behind, 4, two.judged)
    assert in_four([two, four])[0].way == (first,)
