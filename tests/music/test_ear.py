"""What beats are found in: fine bands and notes, on tones whose pitch is known, and where sounds begin."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.music.ear import CHROMA_RATE, FINE_BANDS, HIGHEST, LOWEST
from eavesong.music.novelty import likeness, note_change, notes_of, novelty, running_mean

from .conftest import RATE, clicks, heard_of


def tone(hertz: float, seconds: float = 2.0, rate: int = RATE) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)


@pytest.mark.parametrize(("hertz", "pitch_class"), [(440.0, 9), (261.626, 0), (329.628, 4), (739.989, 6)])
def test_a_tone_is_heard_in_its_pitch_class(hertz: float, pitch_class: int) -> None:
    # Equal temperament with A4 at 440 Hz (ISO 16): C4 261.626, E4 329.628, F#5 739.989 Hz.
    _, ear = heard_of(tone(hertz))
    assert int(ear.chroma[10, 12:].argmax()) == pitch_class
    assert ear.chroma[10, 12:].max() > 5 * ear.chroma[10, :12].max()


def test_a_bass_note_is_heard_in_the_bass() -> None:
    _, ear = heard_of(tone(110.0))
    assert int(ear.chroma[10].argmax()) == 9


@pytest.mark.parametrize("hertz", [80.0, 440.0, 3_000.0, 9_000.0])
@pytest.mark.parametrize("rate", [22_050, 44_100, 96_000])
def test_a_tone_is_heard_in_the_fine_band_nearest_to_it(hertz: float, rate: int) -> None:
    _, ear = heard_of(tone(hertz, rate=rate), rate)
    middles = np.geomspace(LOWEST, HIGHEST, FINE_BANDS)
    found = middles[int(ear.fine[100].argmax())]
    # Half a band, or half a bin (11 Hz) where bins are coarser.
    assert abs(np.log2(found / hertz)) < max(0.08, np.log2(1 + 12 / hertz))


def test_a_rate_too_low_for_treble_is_heard_without_it() -> None:
    _, ear = heard_of(tone(440.0, rate=8_000), 8_000)
    assert np.isfinite(ear.fine).all()
    assert ear.fine[:, -4:].max() == 0


def test_novelty_peaks_where_clicks_are() -> None:
    true = np.array([0.5, 1.13, 2.0])
    _, ear = heard_of(clicks(true, 2.5))
    whole = novelty(ear).mean(axis=1)
    peaks = (
        np.flatnonzero((whole[1:-1] > whole[:-2]) & (whole[1:-1] >= whole[2:]) & (whole[1:-1] > 0.3 * whole.max())) + 1
    )
    assert np.abs(peaks / 100 - 0.023 - true).max() < 0.02


def test_novelty_is_the_same_for_loud_and_soft_recordings() -> None:
    sound = clicks(np.arange(0.5, 5, 0.5), 5.5) + tone(220.0, 5.5)
    loud, soft = (novelty(heard_of(gain * sound)[1]) for gain in (1.0, 0.05))
    assert np.corrcoef(loud.mean(axis=1), soft.mean(axis=1))[0, 1] > 0.95


def test_nothing_begins_in_silence() -> None:
    assert not novelty(heard_of(np.zeros(RATE))[1]).any()


def test_vibrato_begins_less_than_notes_do() -> None:
    # Boeck & Widmer 2013: the maximum over neighbouring bands keeps vibrato (6 Hz, half a semitone) from counting.
    t = np.arange(2 * RATE) / RATE
    wobble = 0.5 * np.sin(2 * np.pi * (880 * t + 880 * 0.03 / (2 * np.pi * 6) * np.sin(2 * np.pi * 6 * t)))
    notes = [tone(880 * 2 ** (step / 12), 0.5) for step in (0, 4, 7, 12)]
    whole = novelty(heard_of(np.concatenate([wobble, *notes]))[1]).mean(axis=1)
    assert whole[50:190].max() < 0.5 * whole[210:390].max()


def test_notes_change_where_a_chord_does() -> None:
    sound = np.concatenate([tone(261.626) + tone(329.628), tone(293.665) + tone(440.0)])
    _, ear = heard_of(sound)
    change = note_change(notes_of(ear))
    assert abs(int(change[5:-5].argmax()) + 5 - 2 * CHROMA_RATE) <= 3


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-10, 10), min_size=1, max_size=30), st.integers(1, 9))
def test_running_means_are_the_means_of_windows(values: list[float], width: int) -> None:
    table = np.array(values)
    half = width // 2
    expected = [table[max(0, k - half) : k + half + 1].mean() for k in range(len(table))]
    assert running_mean(table, width) == pytest.approx(np.array(expected), abs=1e-9)


def test_likeness_is_the_cosine() -> None:
    one, other = np.array([[1.0, 0.0], [1.0, 1.0], [0.0, 0.0]]), np.array([[0.0, 2.0], [2.0, 2.0], [1.0, 0.0]])
    assert likeness(one, other) == pytest.approx([0.0, 1.0, 1.0])
