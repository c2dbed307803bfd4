"""Stresses: beats on which more begins than beside them; what begins is a rise in the bands of the spectrum."""

import numpy as np
import pytest

from drafted import grid_of, signals_of
from eavesong.music.signals import Signals
from eavesong.music.stress import CLOSEST, LEAST, begins_at, find_stresses


def struck(tempo, *strokes):
    """Bars of four at ``tempo`` in which so much of full scale begins on every beat, over and over."""
    grid = grid_of(tempo, (("A", "steady", 8),))
    silent = np.zeros(round(100 * grid.duration), np.float16)
    spectrum = np.zeros((len(silent), 32), np.uint8)
    for number, at in enumerate(grid.times):
        first = round(100 * at)
        spectrum[first : first + 10] = round(255 * strokes[number % len(strokes)])
    names = ("loudness", "bass", "mid", "treble", "onset", "brightness")
    return Signals(100.0, **dict.fromkeys(names, silent), spectrum=spectrum), grid


def test_what_begins_is_the_rise_of_the_bands():
    signals, grid = struck(120, 0.8, 0.2)
    begun = begins_at(signals, grid.times[2:6])  # not the very first, before which nothing is known
    assert begun == pytest.approx([0.8, 0.2, 0.8, 0.2], abs=0.01)
    assert begins_at(signals, [grid.times[2] + 0.25]) == pytest.approx([0.0])


def test_a_backbeat_is_stressed_and_the_beats_beside_it_are_not():
    signals, grid = struck(120, 0.3, 0.9)
    found = find_stresses(signals, grid)
    assert [each.time for each in found] == pytest.approx(grid.times[1::2], abs=1e-3)
    assert all(each.label == "stress" and LEAST <= each.strength <= 1 for each in found)


def test_a_beat_on_which_less_begins_than_on_half_of_all_is_not():
    signals, grid = struck(120, 0.9, 0.7, 0.8, 0.6, 0.1, 0.2, 0.1, 0.05)
    weak = {round(at, 3) for at in grid.times[5::8]}
    assert weak
    assert not weak & {each.time for each in find_stresses(signals, grid)}


@pytest.mark.parametrize("tempo", [60, 150, 240, 400])
def test_light_can_answer_each_of_them(tempo):
    signals, grid = struck(tempo, 0.9, 0.1, 0.7, 0.2)
    times = [each.time for each in find_stresses(signals, grid)]
    assert len(times) > 3
    assert np.diff(times).min() >= CLOSEST - 1e-3


def test_even_sound_and_silence_have_none():
    signals, grid = struck(120, 0.0)
    assert not find_stresses(signals, grid)
    even = grid_of()
    assert not find_stresses(signals_of(even, {}), even)
