"""Finding beats: on clicks and on songs whose beats are known, judged by mir_eval."""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.music.bands import Powers
from eavesong.music.grid import BeatGrid
from eavesong.music.track import track

from .conftest import RATE, clicks
from .test_bands import powers_of

EARLY, LATE = 0.045, 0.125
"""ITU-R BT.1359-1: sound may be early by 45 ms and late by 125 ms against the picture before anyone sees it."""


def nearest_offsets(grid: BeatGrid, true: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much later than the true beat each tracked one is, in seconds; misses (over 70 ms) left out."""
    offsets = np.asarray(grid.times)[:, None] - true
    nearest = offsets[np.arange(len(offsets)), np.abs(offsets).argmin(axis=1)]
    return nearest[np.abs(nearest) < 0.07]


@pytest.mark.parametrize("tempo", [84.0, 97.0, 120.0, 143.0])
def test_beats_of_clicks_are_where_the_clicks_are(tempo: float) -> None:
    true = np.arange(0.37, 20, 60 / tempo)
    grid = track(powers_of(clicks(true, 20.5)))[0].grid
    assert grid.tempo == pytest.approx(tempo, rel=0.005)
    assert mir_eval.beat.f_measure(true, np.array(grid.times)) > 0.95
    offsets = nearest_offsets(grid, true)
    print(
        f"\n{tempo:g} a minute: median {np.median(offsets) * 1000:+.1f} ms, worst {np.abs(offsets).max() * 1000:.1f} ms"
    )
    # A whole analysis frame is 10 ms: no beat is further off, and there is no leaning to one side.
    assert np.abs(offsets).max() < 0.012
    assert abs(np.median(offsets)) < 0.006


def test_light_on_tracked_beats_is_neither_seen_early_nor_late() -> None:
    true = np.arange(0.5, 20, 60 / 112) + np.random.default_rng(8).uniform(-0.01, 0.01, 37)
    offsets = nearest_offsets(track(powers_of(clicks(true, 20.5)))[0].grid, true)
    print(f"\nlight against sound: {offsets.min() * 1000:+.1f} to {offsets.max() * 1000:+.1f} ms")
    # A light that is late makes its sound early. A frame at 40 a second may add 25 ms.
    assert offsets.max() + 0.025 < EARLY
    assert -offsets.min() < LATE


@pytest.mark.parametrize("metre", [3, 4])
def test_the_downbeat_is_where_the_bass_is(metre: int) -> None:
    true = np.arange(0.5, 24, 0.5)
    sound = clicks(true, 24.5)
    t = np.arange(round(0.3 * RATE)) / RATE
    thump = np.sin(2 * np.pi * 70 * t) * np.exp(-t / 0.08)
    for beat in range(1, len(true) - 1, metre):
        begin = round(true[beat] * RATE)
        sound[begin : begin + len(thump)] += thump
    grid = track(powers_of(sound))[0].grid
    assert set(grid.beats_in_bars[:-1]) == {metre}
    downbeats = np.array(grid.downbeats)
    assert mir_eval.beat.f_measure(true[1::metre], downbeats) > 0.9


def test_silence_gets_a_plain_pulse() -> None:
    grid = track(powers_of(np.zeros(3 * RATE)))[0].grid
    assert grid.times == (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
    assert grid.positions == (1, 2, 3, 4, 1, 2, 3)


def short_noise(seconds: float) -> Powers:
    return powers_of(np.random.default_rng(3).uniform(-0.5, 0.5, round(seconds * RATE)))


@pytest.mark.parametrize("seconds", [0.001, 0.3, 1.0, 5.0])
def test_noise_and_the_shortest_sounds_get_some_grid(seconds: float) -> None:
    grid = track(short_noise(seconds))[0].grid
    assert grid.beat_count >= 2
    assert 30 < grid.tempo < 320
    assert grid.duration == pytest.approx(seconds, abs=1e-4)


def test_the_same_song_gives_the_same_grid() -> None:
    assert track(short_noise(5.0)) == track(short_noise(5.0))
