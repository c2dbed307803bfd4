"""Signals: 0 to 1, never ahead of the sound, the same for loud and soft recordings."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.music.bands import Powers
from eavesong.music.signals import NAMES, RELEASE, Signals, signals_of

from .conftest import RATE, clicks
from .test_bands import powers_of, sine

ALL = (*NAMES, "spectrum")


def signals(samples: NDArray[np.floating]) -> Signals:
    return signals_of(powers_of(samples))


def music(seconds: float = 6.0) -> NDArray[np.float64]:
    """Something with bass, middle and treble that comes and goes."""
    t = np.arange(round(seconds * RATE)) / RATE
    beat = np.exp(-(t % 0.5) / 0.1)
    bass, middle = np.sin(2 * np.pi * 60 * t) * beat, np.sin(2 * np.pi * 500 * t) * (t % 2 < 1)
    return 0.4 * bass + 0.2 * middle + 0.5 * clicks(np.arange(0.25, seconds - 0.1, 0.5), seconds)


def of(heard: Signals, name: str) -> np.ndarray:
    """A signal from 0 to 1; the spectrum is kept in steps of 1/255."""
    values = getattr(heard, name)
    return values / 255 if name == "spectrum" else values


def test_all_run_from_0_to_1_a_hundred_times_a_second() -> None:
    heard = signals(music())
    assert heard.frame_rate == 100
    for name in ALL:
        values = of(heard, name)
        assert getattr(heard, name).dtype == (np.uint8 if name == "spectrum" else np.float16)
        assert values.shape == ((601, 32) if name == "spectrum" else (601,))
        assert values.min() >= 0
        assert (0.6 if name == "brightness" else 0.95) < values.max() <= 1, name


def test_nothing_is_lit_before_the_click_and_everything_within_one_frame_after() -> None:
    for offset in (0.0, 0.001, 0.004, 0.0075, 0.0099):
        click = 0.5 + offset
        heard = signals(clicks(np.array([click]), 1.0))
        at_it = heard.at([click])
        after = heard.at([np.ceil(click * 100) / 100 + 0.01])
        for name in ALL:
            assert not at_it[name].any(), f"{name} is ahead of a click at {click} s"
        for name in ("loudness", "mid", "treble", "onset"):
            assert after[name][0] > 0.3, f"{name} is late after a click at {click} s"


def test_what_comes_later_changes_nothing_before() -> None:
    powers = powers_of(music())
    # The same frames in another order after 3 s: the song's scale stays, all that may differ is the future.
    order = np.concatenate([np.arange(300), 300 + np.random.default_rng(4).permutation(len(powers.mid) - 300)])
    shuffled = Powers(
        **{name: getattr(powers, name)[order] for name in ("bands", "weighted", "bass", "mid", "treble")},
        duration=powers.duration,
    )
    one, other = signals_of(powers), signals_of(shuffled)
    for name in ("loudness", "bass", "mid", "treble", "brightness", "spectrum"):
        assert np.array_equal(getattr(one, name)[:300], getattr(other, name)[:300]), name
        assert not np.array_equal(getattr(one, name), getattr(other, name)), name


@pytest.mark.parametrize("gain", [0.1, 0.01, 2.0])
def test_a_softer_or_louder_recording_gives_the_same_signals(gain: float) -> None:
    one, other = signals(music()), signals(music() * gain)
    for name in ALL:
        step = 1.01 / 255 if name == "spectrum" else 1e-3
        assert np.abs(of(one, name) - of(other, name)).max() < step, name


def test_silence_gives_zeros() -> None:
    for samples in (np.zeros(RATE), np.zeros(13000), np.full(RATE, 1e-7)):
        heard = signals(samples)
        for name in ALL:
            assert not np.asarray(of(heard, name) > 0.5).any(), name
            assert np.isfinite(of(heard, name)).all()
    assert not any(getattr(signals(np.zeros(RATE)), name).any() for name in ALL)


def test_noise_of_the_last_bit_is_not_blown_up_to_full_light() -> None:
    # One step of 16 bits either way, as dither leaves it (common practice): about -92 dB of full scale.
    dither = np.random.default_rng(2).integers(-1, 2, RATE) / 32768
    heard = signals(dither)
    assert heard.loudness.max() < 0.8
    assert heard.onset[50:].max() < 0.5  # after the moment it begins


def test_one_bang_does_not_make_the_song_dark() -> None:
    sound = 0.05 * sine(500, 10)
    sound[5 * RATE : 5 * RATE + 500] += 0.9 * np.random.default_rng(1).uniform(-1, 1, 500)
    assert signals(sound).mid[200:400].min() > 0.9


def test_a_steady_tone_is_steadily_lit_in_its_part_alone() -> None:
    heard = signals(sine(80, 2))
    assert heard.bass[20:].min() > 0.95
    assert heard.treble[20:].max() < 0.3
    assert heard.onset[150:].max() < 0.02


def test_ten_decibels_less_are_half_as_loud() -> None:
    # Stevens's law, ISO 532: loudness doubles every 10 phon.
    sound = np.concatenate([sine(1000, 3), sine(1000, 3) * 10 ** (-10 / 20)])
    heard = signals(sound)
    assert heard.loudness[550] / heard.loudness[200] == pytest.approx(0.5, abs=0.01)


def test_each_signal_falls_to_37_percent_in_its_time() -> None:
    sound = np.concatenate([np.random.default_rng(0).uniform(-0.5, 0.5, 2 * RATE), np.zeros(2 * RATE)])
    heard = signals(sound)
    for name in ("loudness", "bass", "mid", "treble"):
        values = getattr(heard, name)
        # From 100 ms after the end, when no window holds any sound.
        fall = values[210 + round(RELEASE[name] * 100)] / values[210]
        assert fall == pytest.approx(np.exp(-1), abs=0.02), name


def test_onsets_show_where_sounds_begin_and_not_where_they_last() -> None:
    times = np.arange(0.5, 5, 0.75)
    t = np.arange(round(5.5 * RATE)) / RATE
    tones = sum(np.sin(2 * np.pi * (300 + 70 * k) * t) * (t >= b) * np.exp(-(t - b)) for k, b in enumerate(times))
    onset = signals(0.1 * np.asarray(tones)).onset
    rising = np.flatnonzero((onset[1:] > 0.4) & (onset[:-1] < 0.4)) / 100 + 0.01
    assert len(rising) == len(times)
    assert np.all((rising - times >= 0) & (rising - times <= 0.021))


def test_brightness_is_the_middle_of_the_spectrum_in_pitch() -> None:
    # Two sines of equal power four octaves apart have their centroid two octaves from either, at 800 Hz.
    low, high = 0.4 * sine(200, 3), 0.4 * sine(3200, 3)
    brightness = signals(np.concatenate([low, high, (low + high) / np.sqrt(2)])).brightness
    assert brightness[290] == pytest.approx(0.0, abs=0.02)
    assert brightness[590] == pytest.approx(1.0, abs=0.02)
    assert brightness[890] == pytest.approx(0.5, abs=0.03)


def test_brightness_glides_63_percent_of_the_way_in_its_time() -> None:
    brightness = signals(np.concatenate([sine(200, 2), sine(3200, 2), sine(200, 2)])).brightness
    for begin, way in ((200, 1 - np.exp(-1)), (400, np.exp(-1))):
        # A window of 50 ms holds both tones for a while: some frames more or less.
        assert np.interp(way, *_sorted(brightness[begin : begin + 60])) == pytest.approx(15, abs=3)


def _sorted(way: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Values that rise or fall, rising, and the frame of each."""
    order = np.argsort(way.astype(np.float64), kind="stable")
    return way[order].astype(np.float64), order.astype(np.float64)


def test_a_tone_that_hardly_changes_is_neither_dull_nor_bright() -> None:
    assert signals(sine(500, 3)).brightness[150:] == pytest.approx(np.full(151, 0.5), abs=0.02)


def test_brightness_ends_with_the_sound() -> None:
    sound = np.concatenate([0.5 * sine(500, 2), 0.5 * sine(4000, 2), np.zeros(3 * RATE)])
    brightness = signals(sound).brightness
    assert brightness[390] > 0.95
    assert not brightness[560:].any()


def test_at_gives_the_value_at_or_before_the_moment() -> None:
    ramp = (np.arange(101) / 100).astype(np.float32)
    heard = Signals(100.0, *[ramp] * len(NAMES), np.tile(np.arange(101, dtype=np.uint8)[:, None], (1, 32)))
    values = heard.at([0.0, 0.004999, 0.29, 0.999, 1.0, 1.5, -0.1])
    expected = np.array([0.0, 0.0, 0.29, 0.99, 1.0, 0.0, 0.0], np.float32)
    for name in NAMES:
        assert values[name].dtype == np.float64
        assert values[name].tolist() == expected.astype(np.float64).tolist()
    assert values["spectrum"].shape == (7, 32)
    assert values["spectrum"][2].tolist() == [29 / 255] * 32


def test_signals_that_nobody_reads_take_no_memory_and_are_0(tmp_path):
    """What is asked for is as it was; the others keep their lengths."""
    rng = np.random.default_rng(5)
    values = {name: rng.uniform(0, 1, 500).astype(np.float16) for name in NAMES}
    whole = Signals(100.0, **values, spectrum=rng.integers(0, 256, (500, 32)).astype(np.uint8))
    some = whole.only({"bass", "beat"})
    at = np.linspace(-1, 6, 50)
    np.testing.assert_array_equal(some.at(at)["bass"], whole.at(at)["bass"])
    assert not some.at(at)["onset"].any()
    assert not some.at(at)["spectrum"].any()
    assert some.spectrum.base.nbytes == 1
    np.testing.assert_array_equal(whole.only({"spectrum"}).at(at)["spectrum"], whole.at(at)["spectrum"])
