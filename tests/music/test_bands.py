"""Powers: where in the spectrum a song's sound is, and when."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.music.bands import BAND_COUNT, Powers, band_middles, k_weighting, measure
from eavesong.music.sound import Sound

from .conftest import RATE


def powers_of(samples: NDArray[np.floating], rate: int = RATE, block: int = 10_000) -> Powers:
    samples = samples.astype(np.float32).reshape(len(samples), -1)
    parts = [samples[begin : begin + block] for begin in range(0, len(samples), block)]
    return measure(Sound("song.wav", rate, samples.shape[1], lambda: iter(parts)))


def sine(hertz: float, seconds: float = 1.0, rate: int = RATE) -> NDArray[np.float64]:
    return np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)


def test_a_sine_of_full_scale_at_997_hz_reads_minus_3_01() -> None:
    # ITU-R BS.1770-4, annex 1: 0 dBFS, 1 kHz (997 Hz) sine in one channel reads -3.01 LKFS with the offset of -0.691.
    reading = -0.691 + 10 * np.log10(powers_of(sine(997)).weighted[50])
    assert reading == pytest.approx(-3.01, abs=0.02)


@pytest.mark.parametrize(("hertz", "decibels"), [(1000, 0.7), (10_000, 4.0), (100, -1.1), (38, -6.0)])
def test_k_weighting_lifts_highs_and_cuts_lows(hertz: float, decibels: float) -> None:
    # Read off the curves of ITU-R BS.1770-4, figures 2 and 4 (from memory): +4 dB shelf, high-pass near 38 Hz.
    assert 10 * np.log10(k_weighting(np.array([float(hertz)])))[0] == pytest.approx(decibels, abs=0.3)


def test_bands_lie_at_equal_steps_in_pitch() -> None:
    middles = band_middles()
    assert (middles[0], middles[-1]) == pytest.approx((40, 16_000))
    assert np.diff(np.log2(middles)) == pytest.approx(np.full(BAND_COUNT - 1, np.log2(400) / 31))


@pytest.mark.parametrize("band", [2, 6, 12, 20, 28, 31])
def test_a_sine_lies_in_the_band_of_its_pitch(band: int) -> None:
    assert np.argmax(powers_of(sine(band_middles()[band])).bands[60]) == band


@pytest.mark.parametrize(("hertz", "part"), [(80, "bass"), (700, "mid"), (8000, "treble")])
def test_a_sine_has_half_the_power_of_full_scale_and_lies_in_one_part(hertz: float, part: str) -> None:
    powers = powers_of(sine(hertz))
    shares = {name: getattr(powers, name)[60] for name in ("bass", "mid", "treble")}
    assert shares.pop(part) == pytest.approx(0.5, rel=0.02)
    # The window's short fall smears a sine: what leaks into other parts stays 20 dB below it.
    assert max(shares.values()) < 0.005


def test_channels_in_antiphase_are_as_loud_as_in_phase() -> None:
    noise = np.random.default_rng(5).uniform(-0.5, 0.5, RATE)
    same, against = powers_of(np.stack([noise, noise], 1)), powers_of(np.stack([noise, -noise], 1))
    assert same.weighted[50] > 0.01
    assert np.array_equal(same.bands, against.bands)


def test_the_size_of_the_blocks_changes_nothing() -> None:
    noise = np.random.default_rng(5).uniform(-0.5, 0.5, (RATE, 2))
    whole, pieces = powers_of(noise, block=RATE), powers_of(noise, block=777)
    for name in ("bands", "weighted", "bass", "mid", "treble"):
        assert np.allclose(getattr(whole, name), getattr(pieces, name), rtol=1e-4, atol=1e-9), name


def test_a_frame_knows_only_the_sound_before_it() -> None:
    noise = np.random.default_rng(5).uniform(-0.5, 0.5, 2 * RATE)
    other = np.concatenate([noise[:RATE], 2 * noise[:RATE]])
    one, two = powers_of(noise), powers_of(other)
    assert np.array_equal(one.bands[:101], two.bands[:101])
    assert not np.array_equal(one.bands[101], two.bands[101])


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 48_000, 96_000])
def test_frames_come_a_hundred_times_a_second_at_any_sample_rate(rate: int) -> None:
    sound = np.zeros(round(1.237 * rate))
    sound[rate // 2 :] = sine(440, 2, rate)[: len(sound) - rate // 2]
    powers = powers_of(sound, rate)
    assert len(powers.bands) == 125  # 0 to 1.24 s, the first frame that has heard all
    assert powers.duration == pytest.approx(1.237, abs=1e-4)
    assert not powers.mid[:51].any()
    assert powers.mid[51:125].all()


@pytest.mark.parametrize("samples", [1, 2, 440, 441, 442, 2205])
def test_any_number_of_samples_is_heard_to_its_end(samples: int) -> None:
    powers = powers_of(np.ones(samples))
    assert len(powers.bands) == -(-samples * 100 // RATE) + 1
    assert powers.weighted[0] == 0
    assert powers.weighted[-1] > 0


def test_memory_does_not_grow_with_the_song_beyond_what_is_kept() -> None:
    def peak(minutes: int) -> tuple[int, int]:
        block = np.zeros((8000, 1), np.float32)
        song = Sound("song.wav", 8000, 1, lambda: (block for _ in range(60 * minutes)))
        tracemalloc.start()
        powers = measure(song)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most, powers.bands.base.nbytes if powers.bands.base is not None else powers.bands.nbytes

    short, kept_short = peak(1)
    long, kept_long = peak(8)
    # What is kept stands in memory twice for a moment, when its pieces are joined.
    assert long - short < 2.2 * (kept_long - kept_short)
