"""Finding beats: on clicks and on songs whose beats are known, judged by mir_eval."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.music.grid import BeatGrid
from eavesong.music.reading import NO_WISHES, Reading, Wishes
from eavesong.music.track import _sure, track

from .conftest import RATE, clicks, heard_of

Floats = NDArray[np.float64]
EARLY, LATE = 0.045, 0.125
"""ITU-R BT.1359-1: sound may be early by 45 ms and late by 125 ms against the picture before anyone sees it."""
TUNE = (0, 4, 7, 12, 7, 4, 5, 9, 12, 14, 12, 9, 7, 11, 14, 17, 14, 11, 12, 7, 4, 0, 4, 7)
"""Semitones above middle C, in threes."""


def agreement(true, found) -> float:
    """F-measure of beats within 70 ms (mir_eval, as in MIREX)."""
    import mir_eval

    return mir_eval.beat.f_measure(true, found)


def readings_of(sound: NDArray[np.floating], wishes: Wishes = NO_WISHES) -> tuple[Reading, ...]:
    return track(*heard_of(sound), wishes)


def nearest_offsets(grid: BeatGrid, true: Floats) -> Floats:
    """How much later than the true beat each tracked one is, in seconds; misses (over 70 ms) left out."""
    offsets = np.asarray(grid.times)[:, None] - true
    nearest = offsets[np.arange(len(offsets)), np.abs(offsets).argmin(axis=1)]
    return nearest[np.abs(nearest) < 0.07]


def drummed(true: Floats, metre: int, first: int = 0) -> Floats:
    """A bar of a waltz or a rock song: bass drum and a new bass note on each downbeat, snare after it, hi-hats."""
    sound = np.zeros(round((true[-1] + 1.0) * RATE))
    t = np.arange(round(0.25 * RATE)) / RATE
    chance = np.random.default_rng(4)
    kick = np.sin(2 * np.pi * 60 * t) * np.exp(-t / 0.08)
    snare = chance.uniform(-0.4, 0.4, len(t)) * np.exp(-t / 0.04)
    hat = np.diff(chance.uniform(-0.1, 0.1, len(t) + 1)) * np.exp(-t / 0.01)
    snares = {3: (1, 2), 4: (1, 3)}[metre]

    def put(part: Floats, moment: float) -> None:
        begin = round(moment * RATE)
        sound[begin : begin + len(part)] += part[: len(sound) - begin]

    for beat, time in enumerate(true):
        bar, position = divmod(beat - first, metre)
        gap = true[min(beat + 1, len(true) - 1)] - true[min(beat, len(true) - 2)]
        if position == 0:
            put(kick, time)
            long = np.arange(round(0.9 * metre * gap * RATE)) / RATE
            root = (110.0, 130.8, 98.0, 146.8)[bar % 4]
            put(sum(np.sin(2 * np.pi * root * k * long) / 3 / k for k in (1, 2, 3)) * np.exp(-long), time)
        elif position in snares:
            put(snare, time)
        put(hat, time)
        put(hat, time + 0.5 * gap)
    return sound


@pytest.mark.parametrize("tempo", [60, 90, 120, 165, 190])
def test_beats_of_clicks_are_where_the_clicks_are(tempo: int) -> None:
    true = np.arange(0.37, 24, 60 / tempo)
    grid = readings_of(clicks(true, 24.5))[0].grid
    assert grid.tempo == pytest.approx(tempo, rel=0.005)
    assert agreement(true, np.array(grid.times)) > 0.95
    offsets = nearest_offsets(grid, true)
    assert abs(offsets.mean()) < 0.005
    assert offsets.std() < 0.005


def test_light_on_tracked_beats_is_neither_seen_early_nor_late() -> None:
    true = np.arange(0.5, 20, 60 / 112) + np.random.default_rng(8).uniform(-0.01, 0.01, 37)
    offsets = nearest_offsets(readings_of(clicks(true, 20.5))[0].grid, true)
    # A light that is late makes its sound early. A frame at 40 a second may add 25 ms.
    assert offsets.max() + 0.025 < EARLY
    assert -offsets.min() < LATE


def test_beats_follow_a_song_that_grows_faster() -> None:
    gaps = 60 / np.linspace(84, 112, 60)
    true = 0.5 + np.append(0, np.cumsum(gaps))
    times = np.array(readings_of(drummed(true, 4))[0].grid.times)
    assert agreement(true, times) > 0.9


@pytest.mark.parametrize("metre", [3, 4])
def test_bars_begin_where_the_bass_drum_is(metre: int) -> None:
    true = np.arange(0.5, 32, 0.5)
    grid = readings_of(drummed(true, metre, first=1))[0].grid
    assert set(grid.beats_in_bars[1:-1]) == {metre}
    assert agreement(true[1::metre], np.array(grid.downbeats)) > 0.9


@pytest.mark.parametrize("tempo", [90, 126, 168])
def test_plain_drums_are_heard_at_their_own_tempo(tempo: int) -> None:
    true = np.arange(0.4, 24, 60 / tempo)
    grid = readings_of(drummed(true, 4))[0].grid
    assert agreement(true, np.array(grid.times)) > 0.95
    assert agreement(true[::4], np.array(grid.downbeats)) > 0.9  # one more may follow the last


def plucked(steps: tuple[int, ...], times: int, tempo: float = 210.0) -> Floats:
    """Even notes, all as loud: so many semitones above middle C each, as often as ``times``."""
    t = np.arange(round(0.27 * RATE)) / RATE
    sound = np.zeros(round((len(steps) * times + 3) * 60 / tempo * RATE))
    for number, step in enumerate(steps * times):
        hertz = 261.6 * 2 ** (step / 12)
        begin = round((0.5 + number * 60 / tempo) * RATE)
        stroke = sum(np.sin(2 * np.pi * hertz * k * t) / k for k in (1, 2, 3)) * np.exp(-t / 0.1) / 4
        sound[begin : begin + len(t)] += stroke
    return sound


@pytest.mark.parametrize(("steps", "times"), [(TUNE, 4), ((0, 7, 4, 7), 24)])
def test_even_notes_of_a_tune_are_no_metronome(steps: tuple[int, ...], times: int) -> None:
    assert readings_of(plucked(steps, times))[0].grid.tempo < 150


def test_one_note_over_and_over_is_a_metronome() -> None:
    assert readings_of(plucked((0,), 96))[0].grid.tempo == pytest.approx(210, rel=0.02)


@pytest.mark.parametrize("seed", range(6))
def test_of_less_than_a_second_nothing_is_sure(seed: int) -> None:
    noise = np.random.default_rng(seed).uniform(-0.5, 0.5, round(0.75 * RATE))
    assert readings_of(noise)[0].confidence < 0.5


def test_channels_in_antiphase_are_heard_as_channels_in_phase() -> None:
    true = np.arange(0.4, 20, 60 / 100)
    sound = drummed(true, 4)
    alike, opposed = (readings_of(np.stack([sound, sign * sound], axis=1))[0].grid for sign in (1, -1))
    assert alike.times == pytest.approx(opposed.times, abs=1e-3)


def test_loud_and_soft_recordings_have_the_same_beats() -> None:
    true = np.arange(0.4, 20, 60 / 126)
    sound = drummed(true, 4)
    loud, soft = (readings_of(sound * gain)[0].grid for gain in (0.9, 0.02))
    assert agreement(np.array(loud.times), np.array(soft.times)) > 0.95


@pytest.mark.parametrize("confidence", [0.1, 0.5, 0.76, 0.97])
def test_a_song_is_as_sure_as_its_beats_are_in_the_mean(confidence: float) -> None:
    """Where a third of them is heard well and the rest badly, too."""
    right = np.where(np.arange(120) < 40, 4.0, -3.0)
    sure = np.array(_sure(right, confidence))
    assert sure.mean() == pytest.approx(confidence, abs=0.01)
    assert sure.max() <= 1
    assert sure[:30].min() > sure[50:].max()


def test_silence_before_a_song_moves_its_beats_by_as_much() -> None:
    sound = drummed(np.arange(0.4, 16, 60 / 126), 4)
    early, late = (readings_of(np.concatenate([np.zeros(wait * RATE), sound]))[0].grid.times for wait in (0, 3))
    assert agreement(np.array(early) + 3, np.array(late)) > 0.95


def test_beats_of_a_song_that_begins_late_are_its_own() -> None:
    true = np.arange(3.4, 27, 60 / 100)
    times = np.array(readings_of(drummed(true, 4))[0].grid.times)
    assert agreement(true, times) > 0.95


def test_a_second_reading_is_another_level_or_phase_and_says_which() -> None:
    readings = readings_of(drummed(np.arange(0.5, 32, 60 / 128), 4))
    assert 2 <= len(readings) <= 6
    assert readings[0].about == ""
    assert all(reading.about for reading in readings[1:])
    halves = [reading for reading in readings if reading.about == "half the tempo"]
    assert all(half.grid.tempo == pytest.approx(readings[0].grid.tempo / 2, rel=0.03) for half in halves)
    assert all(0 <= sure <= 1 for reading in readings for sure in (reading.confidence, *reading.sure))
    assert all(len(reading.sure) == reading.grid.beat_count for reading in readings)


def test_a_wished_tempo_is_taken_up() -> None:
    sound = drummed(np.arange(0.5, 32, 60 / 120), 4)
    for tempo in (60, 240):
        assert readings_of(sound, Wishes(tempo=tempo))[0].grid.tempo == pytest.approx(tempo, rel=0.04)


def test_a_tempo_that_nothing_supports_gives_beats_near_it_all_the_same() -> None:
    sound = drummed(np.arange(0.5, 32, 60 / 120), 4)
    assert readings_of(sound, Wishes(tempo=97))[0].grid.tempo == pytest.approx(97, rel=0.08)


def test_bass_drum_and_snare_in_turn_are_bars_of_four() -> None:
    # Two beats repeat all through; that they are half a bar is common practice.
    true, t = np.arange(0.5, 32, 60 / 96), np.arange(round(0.2 * RATE)) / RATE
    sound, chance = np.zeros(33 * RATE), np.random.default_rng(6)
    kick = np.sin(2 * np.pi * 60 * t) * np.exp(-t / 0.08)
    snare = chance.uniform(-0.4, 0.4, len(t)) * np.exp(-t / 0.04)
    for beat, time in enumerate(true):
        sound[round(time * RATE) :][: len(t)] += snare if beat % 2 else kick
    grid = readings_of(sound)[0].grid
    assert set(grid.beats_in_bars[1:-1]) == {4}
    assert agreement(true, np.array(grid.times)) > 0.95


@pytest.mark.parametrize("metre", [3, 4])
def test_bars_of_a_length_that_is_told_begin_where_the_bass_drum_is(metre: int) -> None:
    true = np.arange(0.5, 24, 60 / 110)
    grid = readings_of(drummed(true, metre, first=2), Wishes(metre=metre))[0].grid
    assert set(grid.beats_in_bars[1:-1]) == {metre}
    assert agreement(true[2::metre], np.array(grid.downbeats)) > 0.9


def test_a_wished_metre_and_first_downbeat_are_taken_up() -> None:
    sound = drummed(np.arange(0.5, 32, 0.5), 4)
    grid = readings_of(sound, Wishes(metre=3, first_downbeat=1.52))[0].grid
    assert set(grid.beats_in_bars[:-1]) == {3}
    assert grid.downbeats[0] == pytest.approx(1.5, abs=0.02)


def test_silence_gets_a_plain_pulse_of_which_nothing_is_sure() -> None:
    (reading,) = readings_of(np.zeros(3 * RATE))
    assert reading.grid.times == (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
    assert reading.grid.positions == (1, 2, 3, 4, 1, 2, 3)
    assert reading.confidence == 0
    assert set(reading.sure) == {0.0}


def noise(seconds: float) -> Floats:
    return np.random.default_rng(3).uniform(-0.5, 0.5, round(seconds * RATE))


@pytest.mark.parametrize("seconds", [0.001, 0.3, 1.0, 2.5, 5.0])
def test_noise_and_the_shortest_sounds_get_some_grid(seconds: float) -> None:
    reading = readings_of(noise(seconds))[0]
    assert reading.grid.beat_count >= 2
    assert 30 < reading.grid.tempo < 320
    assert reading.grid.duration == pytest.approx(seconds, abs=1e-4)


def test_noise_is_less_sure_than_drums() -> None:
    drums = readings_of(drummed(np.arange(0.5, 16, 0.5), 4))[0]
    assert readings_of(noise(16))[0].confidence < drums.confidence - 0.1


def test_a_steady_level_is_as_good_as_silence() -> None:
    assert readings_of(np.full(3 * RATE, 0.5))[0].grid.beat_count >= 2


def test_the_same_song_gives_the_same_readings() -> None:
    assert readings_of(noise(5.0)) == readings_of(noise(5.0))


@pytest.mark.parametrize("seconds", [1.0, 2.0, 4.0, 8.0])
def test_a_clip_has_as_many_sure_beats_as_beats(seconds: float) -> None:
    for reading in track(*heard_of(clicks(np.arange(0.1, seconds, 0.5), seconds))):
        assert len(reading.sure) == reading.grid.beat_count
