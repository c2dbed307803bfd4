"""The pulse: that its net is what it is said to be, and that it hears what anybody hears in clicks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from eavesong.music import pulse as pulses
from eavesong.music.ear import Ear
from eavesong.music.pulse import FILE, METRES, OCTAVE, REACHES, SLOWEST, SPAN, TEMPI, Pulse, find_pulse, pulse_net

from .conftest import clicks, heard_of

BEATS = np.arange(0.5, 40, 0.5)


@pytest.fixture(scope="module")
def heard() -> Ear:
    """Clicks at 120 a minute."""
    return heard_of(clicks(BEATS, 40.5))[1]


def test_every_row_is_a_chain_of_correlations_in_time() -> None:
    """The same by ``scipy.signal.correlate``, layer by layer."""
    from scipy.signal import correlate

    net = pulse_net()
    rows = np.random.default_rng(2).normal(0, 1, (1_200, len(net.first))).astype(np.float32)
    layer = np.maximum(rows @ net.first + net.first_bias, 0).T.astype(float)
    width = len(layer)

    def around(values: np.ndarray) -> np.ndarray:
        ones = np.ones(SPAN + 1)
        count = correlate(np.ones(values.shape[1]), ones, "full")[SPAN // 2 : -SPAN // 2]
        return np.array([correlate(row, ones, "full")[SPAN // 2 : -SPAN // 2] / count for row in values])

    for at, reach in enumerate((*REACHES[0], None, *REACHES[1])):
        if reach is None:
            layer = layer + np.maximum((np.vstack([layer, around(layer)]).T @ net.wide + net.wide_bias).T, 0)
            continue
        turn = at if at < len(REACHES[0]) else at - 1
        padded = np.pad(layer, ((0, 0), (reach, reach)))
        parts = np.vstack([padded[:, : -2 * reach], layer, padded[:, 2 * reach :]])
        assert parts.shape == (3 * width, layer.shape[1])
        layer = layer + np.maximum((parts.T @ net.turns[turn] + net.turns_bias[turn]).T, 0)
    told = np.vstack([layer, around(layer)]).T @ net.out + net.out_bias
    assert np.allclose(net.answers(rows), told, rtol=1e-3, atol=2e-3)


def test_beats_of_clicks_are_likelier_than_what_is_between_them(heard: Ear) -> None:
    pulse = find_pulse(heard, pulse_net())
    on = np.rint((BEATS[10:-4] + 0.023) * 100).astype(int)
    assert np.median(pulse.beat[on]) > np.median(pulse.beat[on + 25]) + 2
    assert len(pulse.beat) == len(pulse.downbeat) == len(heard.fine)


def test_shares_are_those_of_one_whole(heard: Ear) -> None:
    """Mean logarithms of shares that add up to one do not exceed it (Jensen's inequality)."""
    pulse = find_pulse(heard, pulse_net())
    assert pulse.tempi.shape == (TEMPI,)
    assert pulse.metres.shape == (len(METRES),)
    assert np.exp(pulse.tempi.astype(float)).sum() <= 1 + 1e-4
    assert np.exp(pulse.metres.astype(float)).sum() <= 1 + 1e-4


def test_a_long_song_taken_in_pieces_is_heard_as_in_one(heard: Ear, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = find_pulse(heard, pulse_net())
    monkeypatch.setattr(pulses, "AT_ONCE", 700)
    pieces = find_pulse(heard, pulse_net())
    assert np.allclose(pieces.beat, whole.beat, atol=1e-3)
    assert np.allclose(pieces.tempi, whole.tempi, atol=1e-3)


def test_an_equaliser_does_not_change_the_pulse(heard: Ear) -> None:
    """What is louder by the same all through is usual, not a beat."""
    sounding = heard.fine > 0
    coloured = replace(heard, fine=np.where(sounding, heard.fine + np.float16(0.25), heard.fine))
    one, other = (find_pulse(ear, pulse_net()) for ear in (heard, coloured))
    assert np.corrcoef(one.beat, other.beat)[0, 1] > 0.95


def test_tempi_lie_in_equal_steps_of_an_octave() -> None:
    shares = np.arange(TEMPI, dtype=np.float32)
    pulse = Pulse(np.zeros(1, np.float32), np.zeros(1, np.float32), shares, np.zeros(len(METRES), np.float32))
    tempo = np.array([SLOWEST, 2 * SLOWEST, 4 * SLOWEST, 1.0, 1e4])
    assert pulse.tempo_odds(tempo) == pytest.approx([0, OCTAVE, 2 * OCTAVE, 0, TEMPI - 1])


@pytest.mark.parametrize("frames", [0, 1, 2, 3, 50])
def test_hardly_any_sound_has_a_pulse_all_the_same(frames: int) -> None:
    ear = Ear(np.ones((frames, 64), np.float16), np.ones((max(1, frames // 10), 24), np.float32), frames / 100)
    pulse = find_pulse(ear, pulse_net())
    assert pulse.beat.shape == (frames,)
    assert np.isfinite(pulse.beat).all()
    assert np.isfinite(pulse.tempi).all()


def test_the_net_is_small() -> None:
    assert FILE.stat().st_size < 850_000
