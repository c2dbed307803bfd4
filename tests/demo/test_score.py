"""Scores: what is written is what sounds, and when."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.demo.score import Note, Recording, Score, grid_of, synthesise
from eavesong.demo.songs import SCORES, invent
from eavesong.demo.synth import INSTRUMENTS, RATE


def titles(score: Score) -> str:
    return score.title


EACH = pytest.mark.parametrize("score", SCORES, ids=titles)


def lows(sound: NDArray[np.float32]) -> NDArray[np.float64]:
    """The sound below 200 Hz, mono, without any delay (filtered forwards and backwards)."""
    from scipy.signal import butter, sosfiltfilt

    return np.asarray(sosfiltfilt(butter(2, 200, fs=RATE, output="sos"), sound.mean(axis=1)))


@EACH
def test_bass_drums_sound_on_their_beats_to_5_ms(recordings: dict[str, Recording], score: Score) -> None:
    song = recordings[score.title]
    struck = [note for note in song.notes if note.instrument == "kick" and note.beat > 0]
    alone = [a for a, b in pairwise(struck) if b.beat - a.beat >= 1]
    low = lows(song.sound)
    late = []
    for note in alone:
        time = song.grid.time_of_beat(note.beat)
        window = low[round((time - 0.03) * RATE) : round((time + 0.03) * RATE)]
        # The steepest rise of the low end: a drum of full power starts within its first quarter wave.
        late.append(int(np.argmax(np.abs(np.diff(window)) > 0.5 * np.abs(np.diff(window)).max())) / RATE - 0.03)
    assert len(alone) > 30
    assert np.median(np.abs(late)) < 0.005


@EACH
def test_grids_are_what_the_score_says(score: Score) -> None:
    grid = grid_of(score)
    assert set(grid.beats_in_bars) == {score.beats_per_bar}
    assert grid.bar_count == sum(passage.bars for passage in score.passages) + 1  # the last chord
    assert [section.label for section in grid.sections] == [passage.label for passage in score.passages]
    starts = grid.musical_time([section.start for section in grid.sections[1:]]).bar
    assert starts.tolist() == np.cumsum([passage.bars for passage in score.passages])[:-1].tolist()
    assert grid.sections[0].start == 0
    assert grid.sections[-1].end == grid.duration


@EACH
def test_nothing_clicks_where_notes_and_sections_begin_and_end(score: Score) -> None:
    # Without drums and plucks, which are meant to be sudden, a sound may bend but never jump.
    soft = tuple(
        replace(passage, layers=" ".join({"pad", "bass"} & set(passage.layers.split())), voice="lead")
        for passage in score.passages
    )
    sound = synthesise(replace(score, passages=soft)).sound[: -4 * RATE]  # before the last chord and its drum
    jumps = np.abs(np.diff(sound, n=2, axis=0))
    assert np.abs(sound).max() > 0.3
    assert jumps.max() < 0.1  # a saw of this loudness bends by 0.08; a note cut off jumps by 0.2


def test_the_same_score_gives_the_same_sound() -> None:
    one, other = synthesise(invent(1, seconds=10)), synthesise(invent(1, seconds=10))
    assert np.array_equal(one.sound, other.sound)
    assert one.grid == other.grid


def test_a_note_knows_who_plays_it() -> None:
    assert Note("kick", 0, 1).instrument in INSTRUMENTS
