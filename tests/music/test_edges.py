"""Where sections begin, in bars that are put together, so that what changes in them is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.music.barwise import Bars
from eavesong.music.edges import FILE, HEARD, come_again, edge_figures, edge_nets, lagged, novelty, pattern_novelty

Floats = NDArray[np.float64]


def bars_like(plan: str, chords: bool = True, seed: int = 0) -> Bars:
    """Bars of 2 s, a letter each, every one a little different; the same letter has the same sound and chords."""
    chance = np.random.default_rng(seed)
    kinds = {letter: np.random.default_rng(ord(letter)).normal(0, 1, 112) for letter in set(plan)}
    rows = np.array([kinds[letter] for letter in plan]) + chance.normal(0, 0.2, (len(plan), 112))
    rows = (rows - rows.mean(axis=0)) / (rows.std(axis=0) + 1e-9)
    return Bars(2.0 * np.arange(len(plan) + 1), rows[:, :32], rows[:, 32:64], rows[:, 64:] if chords else None)


@pytest.mark.parametrize("reach", [1, 2, 4, 8])
def test_novelty_is_how_far_means_lie_apart(reach: int) -> None:
    rows = np.random.default_rng(2).normal(0, 1, (24, 5))
    past, coming = rows[12 - reach : 12].mean(axis=0), rows[12 : 12 + reach].mean(axis=0)
    assert novelty(rows, reach)[12] == pytest.approx(np.sqrt(np.mean((past - coming) ** 2)))
    assert novelty(np.ones((24, 5)), reach)[1:] == pytest.approx(np.zeros(23))  # before the first there is nothing


def test_what_is_heard_twice_begins_where_it_begins() -> None:
    """abcd stands at bars 4 and 14, between bars that are nowhere else: it begins there and ends four bars later."""
    plan = "mnopabcdqrstuvabcdwxyz"
    kinds = {letter: np.eye(26)[ord(letter) - ord("a")] for letter in plan}
    begins, ends = come_again(lagged(np.array([kinds[letter] for letter in plan])))
    assert set(np.argsort(begins)[-2:]) == {4, 14}
    assert set(np.flatnonzero(ends > ends.max() - 1e-9)) == {8, 18}


def test_likeness_is_nothing_beyond_the_song() -> None:
    alike = lagged(np.random.default_rng(3).normal(0, 1, (10, 4)))
    assert alike.shape == (10, 19)
    assert alike[:, 9] == pytest.approx(np.ones(10))  # every bar is like itself
    assert np.isnan(alike[0, :9]).all()
    assert np.isnan(alike[9, 10:]).all()
    assert not np.isnan(alike[0, 9:]).any()


def test_the_pattern_changes_where_what_comes_again_does() -> None:
    """Bars 0 to 11 come again 24 later, 12 to 23 never: what is heard elsewhere changes at 12 and at 24."""
    rows = np.vstack([np.eye(24)[:12], np.eye(24)[12:], np.eye(24)[:12]])
    change = pattern_novelty(lagged(rows))
    assert set(np.argsort(change)[-2:]) == {12, 24}


@pytest.mark.parametrize("count", [4, 5, 9, 40])
@pytest.mark.parametrize("chords", [True, False])
def test_every_song_has_finite_figures_and_odds(count: int, chords: bool) -> None:
    for bars in (bars_like(("abcd" * 10)[:count], chords), bars_like("a" * count, chords)):
        figures = edge_figures(bars)
        assert figures.shape == (count, len(edge_nets().mean))
        assert np.isfinite(figures).all()
        odds = edge_nets().odds(figures)
        assert odds.shape == (count,)
        assert np.isfinite(odds).all()


@pytest.mark.parametrize("chords", [True, False])
def test_boundaries_are_likelier_than_other_bars(chords: bool) -> None:
    plan = "aaaaaaaabbbbbbbbccccccccaaaaaaaabbbbbbbbddddddddbbbbbbbbcccccccc"
    odds = edge_nets().odds(edge_figures(bars_like(plan, chords)))
    true = np.arange(8, len(plan), 8)
    assert set(np.argsort(odds[1:])[-len(true) :] + 1) == set(true.tolist())


def test_weights_are_small_and_whole() -> None:
    with np.load(FILE) as kept:
        sizes = {name: kept[name].shape for name in kept.files}
    nets, figures, hidden = sizes["first"]
    assert sizes["mean"] == sizes["spread"] == (figures,)
    assert sizes["first_bias"] == sizes["out"] == (nets, hidden)
    assert sizes["turns"] == (nets, len(HEARD), 3 * hidden, hidden)
    assert sizes["turns_bias"] == (nets, len(HEARD), hidden)
    assert sizes["out_bias"] == (nets,)
