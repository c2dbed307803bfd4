"""Beats between frames: moved to where sounds begin, left where nothing does."""

from __future__ import annotations

import numpy as np
import pytest

from eavesong.music.refine import CENTRE, LATENESS, refined, smoothed


def rise_at(seconds: np.ndarray, length: int) -> np.ndarray:
    """A rise shared between the two frames around each moment, so that its middle is exact."""
    rise = np.zeros(length)
    for frame in (seconds + LATENESS) * 100:
        # Weights are squared when the middle is taken.
        rise[int(frame)] += np.sqrt(1 - frame % 1)
        rise[int(frame) + 1] += np.sqrt(frame % 1)
    return rise


def test_beats_move_to_where_their_sounds_begin() -> None:
    true = np.arange(0.503, 9, 0.5037)
    rough = np.rint((true + CENTRE) * 100) + np.random.default_rng(1).integers(-2, 3, len(true))
    times, kept = refined(rough, rise_at(true, 1000), 0.0, 10.0)
    assert np.abs(times - true).max() < 0.002
    assert list(kept) == list(range(len(true)))


def test_a_beat_without_a_sound_moves_as_its_neighbours_do() -> None:
    true = np.arange(0.5, 9, 0.5)
    rough = (true + CENTRE + 0.02) * 100
    times, _ = refined(rough, rise_at(np.delete(true, 7), 1000), 0.0, 10.0)
    assert abs(times[7] - true[7]) < 0.008


def test_beats_outside_the_song_are_left_out() -> None:
    frames = (np.array([-0.5, 0.5, 1.0, 1.5, 2.5]) + CENTRE) * 100
    times, kept = refined(frames, np.zeros(300), 0.0, 2.0)
    assert list(kept) == [1, 2, 3]
    assert times.min() >= 0


def test_smoothing_is_that_of_savitzky_and_golay() -> None:
    from scipy.signal import savgol_filter  # the reference; it takes too long to load for a song

    values = np.random.default_rng(3).normal(0, 1, 40)
    assert smoothed(values) == pytest.approx(savgol_filter(values, 9, 2, mode="interp"))


def test_beats_of_a_machine_come_out_exactly_even() -> None:
    true = 0.3 + 0.5 * np.arange(60)
    rough = (true + CENTRE + np.random.default_rng(2).normal(0, 0.004, 60)) * 100
    times, _ = refined(rough, rise_at(true + np.random.default_rng(4).normal(0, 0.003, 60), 3200), 0.0, 31.0)
    assert np.ptp(np.diff(times)) < 1e-9
    assert np.abs(times - true).max() < 0.003


def test_beats_of_a_player_who_drifts_stay_his() -> None:
    # 120 to 126 a minute within half a minute.
    true = 0.3 + np.cumsum(60 / np.linspace(120, 126, 60))
    times, _ = refined((true + CENTRE) * 100, rise_at(true, 3500), 0.0, 34.0)
    assert np.abs(times - true).max() < 0.006


def test_beats_of_a_machine_stay_even_through_a_break_in_which_nothing_begins() -> None:
    """A grid that wanders by a seventh of a beat where there is nothing to hear, and comes back."""
    true = 0.3 + 60 / 127.5 * np.arange(120)
    silent = slice(48, 80)
    rough = true.copy()
    rough[silent] += 0.065 * np.sin(np.linspace(0, 2 * np.pi, 32))
    heard = np.delete(true, np.r_[silent])
    times, _ = refined((rough + CENTRE) * 100, rise_at(heard, 6000), 0.0, 60.0)
    assert 60 / np.diff(times) == pytest.approx(127.5, abs=0.01)


def test_what_begins_off_the_even_beats_keeps_them_as_they_were_played() -> None:
    true = 0.3 + 0.5 * np.arange(60)
    true[40:] += 0.06  # a pause: the same tempo before and after it
    times, _ = refined((true + CENTRE) * 100, rise_at(true, 3200), 0.0, 31.0)
    assert np.abs(times - true).max() < 0.012


def test_beats_of_a_machine_stay_even_through_a_break_in_which_other_notes_were_followed() -> None:
    """A grid that goes over to notes a sixteenth late in a break, and comes back."""
    true = 0.3 + 60 / 127.5 * np.arange(120)
    followed = true.copy()
    followed[64:80] += 60 / 127.5 / 6
    times, _ = refined((followed + CENTRE) * 100, rise_at(followed, 6000), 0.0, 60.0)
    assert 60 / np.diff(times) == pytest.approx(127.5, abs=0.01)
    assert np.abs(times - true).max() < 0.002


def test_players_with_a_click_who_slow_at_the_end_slow_at_the_end() -> None:
    # By hand, the last beat comes 0.05 + 0.1 + … + 0.3 of a gap later: more than the ends of even beats may lie off.
    gaps = np.full(80, 0.5)
    gaps[-6:] *= np.linspace(1.05, 1.3, 6)
    true = 0.3 + np.cumsum(gaps)
    times, _ = refined((true + CENTRE) * 100, rise_at(true, 4500), 0.0, 44.0)
    assert np.abs(times[-6:] - true[-6:]).max() < 0.02
