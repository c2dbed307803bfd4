"""The alignment as a whole, and how sure it is."""

import numpy as np
import pytest

from copies import edited, made_trace, moved
from eavesong.exchange.aligned import align
from eavesong.exchange.trace import Trace
from eavesong.exchange.words import sureness


@pytest.mark.parametrize("seed", range(3))
def test_a_cut_at_another_speed(seed):
    """Both at once, 0.7 % slower and 16 s gone: each is found."""
    song = made_trace(60, seed)
    found = align(song, moved(edited(song, (0, 24), (40, 60)), 1.0, 1.007, 46.0))
    assert found.line.stretch == pytest.approx(1.007, abs=1e-4)
    delays = [piece.line.delay for piece in found.pieces if piece.line]
    assert delays == pytest.approx([1.0, 1.0 - 16 * 1.007], abs=0.01)
    assert sureness(found) == "sure"


def test_other_songs_with_the_same_beat_are_others():
    """They share every quarter of their bars; shifted by bars they are as much alike, so that says nothing."""
    for seed in range(2):
        found = align(made_trace(60, seed), made_trace(60, seed + 50))
        assert found.margin < 0.05
        assert sureness(found) == "unsure"


def test_bars_of_one_recording_are_most_like_their_own():
    """Strokes alike in every bar of two songs at one speed, and something else in each: one is not the other."""
    song, other = (_strokes_and_more(seed) for seed in (1, 2))
    rng = np.random.default_rng(3)
    noisy = np.clip(song.moments + rng.integers(0, 60, song.moments.shape), 0, 255).astype(np.uint8)
    same, different = align(song, Trace(noisy)), align(song, other)
    assert same.own is not None
    assert same.own > 0.9
    assert sureness(same) == "sure"
    assert different.own is not None
    assert different.own < 0.5
    assert sureness(different) == "unsure"


def _strokes_and_more(seed: int) -> Trace:
    """Thirty bars of 2 s: four strokes in each, and strokes of its own in between."""
    rng = np.random.default_rng(seed)
    moments = np.zeros((6000, 5))
    moments[::50] = 160
    for bar in range(30):
        moments[bar * 200 + rng.choice(200, 8, replace=False), rng.integers(0, 5, 8)] = 200
    return Trace(np.clip(moments, 0, 255).astype(np.uint8))


def test_noise_over_everything_is_still_the_song():
    song = made_trace(60, 1)
    rng = np.random.default_rng(3)
    noisy = np.clip(0.6 * song.moments + rng.integers(0, 40, song.moments.shape), 0, 255).astype(np.uint8)
    found = align(song, Trace(noisy))
    assert sureness(found) == "sure"
    assert found.line.delay == pytest.approx(0, abs=0.005)
    assert found.found == pytest.approx(1, abs=0.02)


def test_silence_is_no_song():
    found = align(made_trace(30, 1), Trace(np.zeros((3000, 5), np.uint8)))
    assert sureness(found) == "unsure"


@pytest.mark.parametrize("count", [1, 3, 40, 700])
def test_short_ones_do_no_harm(count):
    """From a single moment on, there is an answer."""
    found = align(made_trace(30, 1), Trace(made_trace(30, 1).moments[:count]))
    assert sum(piece.seconds for piece in found.pieces) == pytest.approx(count / 100, abs=0.02)
