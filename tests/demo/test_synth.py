"""The instruments: in tune, without clicks, within full scale."""

from __future__ import annotations

import numpy as np
import pytest

from eavesong.demo.synth import INSTRUMENTS, RATE, duck, hertz


@pytest.mark.parametrize(
    ("name", "pitch"), [("bass", 40), ("pad", 57), ("pluck", 69), ("pluck", 81), ("bells", 76), ("lead", 72)]
)
def test_instruments_play_in_tune(name: str, pitch: int) -> None:
    wave = INSTRUMENTS[name](float(pitch), 1.0)
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), 1 << 18))
    hz = np.fft.rfftfreq(1 << 18, 1 / RATE)
    near = np.abs(np.log2(np.maximum(hz, 1) / hertz(pitch))) < 1 / 12
    found = hz[near][np.argmax(spectrum[near])]
    assert 1200 * np.log2(found / hertz(pitch)) == pytest.approx(0, abs=12)  # cents


def test_pitches_are_those_of_the_midi_tuning_standard() -> None:
    assert (hertz(69), hertz(81)) == (440, 880)
    assert hertz(60) == pytest.approx(261.626, abs=1e-3)  # middle C, handbook value


@pytest.mark.parametrize("name", sorted(INSTRUMENTS))
def test_every_instrument_begins_and_ends_at_zero_within_full_scale(name: str) -> None:
    wave = INSTRUMENTS[name](64.0, 0.5)
    assert wave.dtype == np.float32
    assert (abs(wave[0]), abs(wave[-1])) == pytest.approx((0, 0), abs=1e-6)
    assert 0.1 < np.abs(wave).max() < 1.3


def test_chords_give_way_to_the_drum() -> None:
    gain = duck(RATE, [RATE // 2])
    assert gain[RATE // 2 - 1] == 1
    assert gain.min() == pytest.approx(0.45, abs=0.03)
    assert int(np.argmin(gain)) - RATE // 2 < 0.005 * RATE
    assert gain[RATE // 2 + round(0.36 * RATE)] == 1
    assert np.abs(np.diff(gain)).max() < 0.01
