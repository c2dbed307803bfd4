"""What describes each beat: on clicks whose accents are known."""

from __future__ import annotations

import numpy as np
import pytest

from eavesong.music.evidence import KINDS, LAGS, beat_figures
from eavesong.music.figures import traces
from eavesong.music.novelty import novelty
from eavesong.music.pulse import find_pulse, pulse_net

from .conftest import clicks, heard_of

BEATS = np.arange(0.5, 30, 0.5)


def figures_of(beats: np.ndarray, accents: np.ndarray | None = None) -> np.ndarray:
    """The figures of ``beats`` (seconds) in clicks a half second apart, of this loudness each."""
    samples = clicks(BEATS, 30.5)
    for time, accent in zip(BEATS, np.ones(len(BEATS)) if accents is None else accents, strict=True):
        samples[int(time * 44_100) - 50 : int((time + 0.4) * 44_100)] *= accent
    _, ear = heard_of(samples)
    return beat_figures(beats * 100, traces(ear, novelty(ear), find_pulse(ear, pulse_net())))


def test_every_figure_is_of_one_kind() -> None:
    columns = np.concatenate([np.arange(226)[kind] for kind in KINDS.values()])
    assert figures_of(BEATS).shape == (len(BEATS), 226)
    assert np.array_equal(np.sort(columns), np.arange(226))


def test_twice_the_tempo_is_an_octave_more() -> None:
    one, twice = figures_of(BEATS)[:, KINDS["the tempo"]], figures_of(np.arange(0.5, 29.5, 0.25))[:, KINDS["the tempo"]]
    assert np.median(twice[:, 0]) - np.median(one[:, 0]) == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("metre", [2, 3, 4])
def test_a_beat_is_most_like_the_one_a_bar_before(metre: int) -> None:
    accents = np.where(np.arange(len(BEATS)) % metre == 0, 1.0, 0.1)
    alike = figures_of(BEATS, accents)[:, KINDS["how like the beats before it is"]]
    sound = np.median(alike[:, len(LAGS) : 2 * len(LAGS)], axis=0)
    bars = [sound[index] for index, lag in enumerate(LAGS) if lag % metre == 0]
    others = [sound[index] for index, lag in enumerate(LAGS) if lag % metre]
    assert min(bars) > max(others)


def test_few_beats_have_finite_figures() -> None:
    assert np.isfinite(figures_of(BEATS[:4])).all()
