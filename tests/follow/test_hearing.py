"""The sound of a song, moment by moment."""

import numpy as np
import pytest

from eavesong.errors import AudioError
from eavesong.follow.hearing import hearing_of
from lamps import write_click


def test_clicks_begin_where_they_are(tmp_path):
    hearing = hearing_of(write_click(tmp_path / "click.wav", [2.0, 5.0]))
    assert hearing.seconds == pytest.approx(8.0, abs=0.01)
    strongest = hearing.times[np.argsort(hearing.onset)[-2:]]
    assert sorted(strongest) == pytest.approx([2.0, 5.0], abs=0.06)


def test_loudness_of_bars_in_decibels(tmp_path):
    """A tone of amplitude 0.02 has a root mean square of 0.02 / √2."""
    hearing = hearing_of(write_click(tmp_path / "tone.wav", []))
    _, loudness = hearing.of_bars(np.array([1.0, 2.0, 3.0]))
    assert np.exp(loudness) == pytest.approx(0.02 / np.sqrt(2), rel=0.02)


def test_a_sound_of_a_tenth_of_a_second(tmp_path):
    assert hearing_of(write_click(tmp_path / "short.wav", [0.02], 0.1)).seconds >= 0.1


def test_no_song(tmp_path):
    with pytest.raises(AudioError, match="no such file"):
        hearing_of(tmp_path / "none.wav")
