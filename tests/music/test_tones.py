"""Tones, with sines whose pitch is known: MIDI note 69 is 440 Hz, an octave is twice the frequency."""

import numpy as np
import pytest

from eavesong.music.tones import LOWEST_NOTE, STEPS, TONE_COUNT, TONE_RATE, tones_meter

RATE = 22_050


def levels(samples: np.ndarray) -> np.ndarray:
    meter = tones_meter(RATE)
    meter.take(samples.astype(np.float32)[:, None])
    return np.asarray(meter.result(len(samples) / RATE))


def sine(note: float, level: float = 0.5) -> np.ndarray:
    return level * np.sin(2 * np.pi * 440 * 2 ** ((note - 69) / 12) * np.arange(RATE) / RATE)


@pytest.mark.parametrize("note", [60, 69, 76.5, 93])
def test_a_sine_is_strongest_at_its_own_step(note: float) -> None:
    found = levels(sine(note))
    assert found.shape[1] == TONE_COUNT
    assert abs(len(found) - TONE_RATE) <= 1
    assert int(found[10].argmax()) == round((note - LOWEST_NOTE) * STEPS / 12)


def test_silence_is_zero_and_ten_times_the_level_is_twenty_decibels() -> None:
    assert not levels(np.zeros(RATE)).any()
    at = (69 - LOWEST_NOTE) * STEPS // 12
    loud, quiet = levels(sine(69))[10, at], levels(sine(69, 0.05))[10, at]
    assert int(loud) - int(quiet) == pytest.approx(20 * 2.5, abs=1)
