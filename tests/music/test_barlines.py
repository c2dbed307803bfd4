"""Where bars begin along a row of beats, in sounds that are made up frame by frame."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.music import barlines
from eavesong.music.barlines import LAGS, Sounds, bar_odds, beat_sounds

FRAMES = 50
"""Frames of a beat: half a second."""
BEATS = FRAMES * np.arange(96.0)
CHORDS = {0: (0, 4, 7), 5: (5, 9, 0), 7: (7, 11, 2), 9: (9, 0, 4)}
"""Notes of C, F, G and A minor, by their roots."""


def sounds(chords: NDArray[np.int64], strokes: NDArray[np.float64]) -> Sounds:
    """A sound with a chord on each beat, by its root, and strokes: bels that begin on each beat and fade."""
    notes = np.zeros((len(chords), 24), np.float32)
    for beat, root in enumerate(chords):
        notes[beat, root] = notes[beat, [12 + note for note in CHORDS[int(root)]]] = 1.0
    fading = np.linspace(1, 0, FRAMES)
    levels = 4 + (strokes[:, None] * fading).ravel()
    bands = np.repeat(levels[:, None], 32, axis=1).astype(np.float16)
    return Sounds(bands, np.repeat(notes, FRAMES // 10, axis=0))


def by_bars(size: int, first: int = 0) -> Sounds:
    """Chords that change with bars of ``size`` beats, whose first is beat ``first``, and a stroke on each of these."""
    bar = (np.arange(len(BEATS)) - first) // size
    chords = np.array([0, 5, 7, 9])[bar % 4]
    return sounds(chords, 1.0 + 1.5 * ((np.arange(len(BEATS)) - first) % size == 0))


@pytest.mark.parametrize("size", [3, 4])
@pytest.mark.parametrize("first", [0, 1, 2])
def test_bars_begin_where_chords_change_and_strokes_fall(size: int, first: int) -> None:
    odds = bar_odds(BEATS, by_bars(size, first))
    phases = [odds[phase::size].mean() for phase in range(size)]
    assert int(np.argmax(phases)) == first
    assert phases[first] > 0 > np.delete(phases, first).max()


def test_beats_are_like_those_that_sound_the_same() -> None:
    """Chords come again after 16 beats: as like as can be then, and unlike a bar away."""
    figures = beat_sounds(BEATS, by_bars(4))
    basses = figures[:, 64 : 64 + 2 * len(LAGS)]
    before = {lag: basses[:, 2 * at] for at, lag in enumerate(LAGS)}
    assert before[16][20:] == pytest.approx(np.ones(76), abs=1e-3)
    assert before[4][20:].max() < 0.5
    assert before[16][:16] == pytest.approx(np.zeros(16)), "there is nothing so far before"


def test_a_louder_recording_sounds_the_same() -> None:
    quiet = by_bars(4)
    loud = Sounds(quiet.bands + np.float16(1), 10 * quiet.chroma)
    assert beat_sounds(BEATS, loud) == pytest.approx(beat_sounds(BEATS, quiet), abs=0.02)


def test_a_long_song_is_told_block_by_block_as_it_is_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of more beats than what any one of them depends on, none like another."""
    figures = np.random.default_rng(1).standard_normal((3 * barlines.MARGIN, 184)).astype(np.float32)
    whole = barlines.bar_nets().odds(figures)
    monkeypatch.setattr(barlines, "AT_ONCE", 60)
    assert barlines.bar_nets().odds(figures) == pytest.approx(whole, abs=1e-3)
