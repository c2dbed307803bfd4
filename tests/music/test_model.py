"""The model that ships: that it fits the code, comes back from its file, and is small."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from eavesong.music import model as models
from eavesong.music.candidates import candidates
from eavesong.music.explain import explanations, judge
from eavesong.music.figures import traces
from eavesong.music.model import FARTHEST, FILE, REACHES, SPAN, model, read_model, write_model
from eavesong.music.novelty import novelty, running_mean
from eavesong.music.pulse import find_pulse, pulse_net

from .conftest import clicks, heard_of


def test_the_model_fits_what_is_asked_of_it() -> None:
    _, ear = heard_of(clicks(np.arange(0.5, 12, 0.5), 12.5))
    curves = novelty(ear)
    pulse = find_pulse(ear, pulse_net())
    trails = traces(ear, curves, pulse)
    judged = judge(candidates(curves, pulse)[0], trails, model())
    assert judged.right.shape == judged.downbeat.shape == judged.beats.shape
    rows = np.array([one.figures for one in explanations(judged)])
    assert rows.shape[1] == len(model().rank)
    assert np.isfinite(model().score(rows)).all()


def test_a_model_comes_back_from_its_file(tmp_path: Path) -> None:
    write_model(tmp_path / "model.npz", model())
    again = read_model(tmp_path / "model.npz")
    assert all(np.array_equal(getattr(again, name), value) for name, value in vars(model()).items())


def test_more_evidence_makes_more_confidence() -> None:
    weak, strong = (model().confidence(np.array([odds, odds, odds / 2])) for odds in (-2.0, 3.0))
    assert 0 <= weak < strong <= 1


def test_beats_of_a_long_song_taken_in_pieces_are_judged_as_in_one(monkeypatch: pytest.MonkeyPatch) -> None:
    figures = np.random.default_rng(5).normal(0, 1, (700, model().first.shape[1])).astype(np.float32)
    whole = model().judge(figures)
    monkeypatch.setattr(models, "AT_ONCE", 100)
    assert np.allclose(model().judge(figures), whole, atol=1e-3)


def test_the_model_is_small() -> None:
    assert FILE.stat().st_size < 550_000


def test_a_net_is_a_chain_of_correlations_along_the_beats() -> None:
    """The same by ``scipy.signal.correlate``, layer by layer."""
    from scipy.signal import correlate

    chance = np.random.default_rng(3)
    figures = chance.normal(0, 1, (150, model().first.shape[1])).astype(np.float32)
    figures = figures * model().beat_spread + model().beat_mean
    odds = []
    for net in range(len(model().first)):
        scaled = np.clip((figures - model().beat_mean) / model().beat_spread, -FARTHEST, FARTHEST)
        layer = np.maximum(scaled @ model().first[net] + model().first_bias[net], 0).T.astype(float)
        for reach, turn, bias in zip(REACHES, model().turns[net], model().turns_bias[net], strict=True):
            kernel = np.zeros((len(layer), len(layer), 2 * reach + 1))
            kernel[:, :, ::reach] = turn.reshape(3, len(layer), len(layer)).transpose(2, 1, 0)
            more = [sum(correlate(row, own, "same") for row, own in zip(layer, one, strict=True)) for one in kernel]
            layer = layer + np.maximum(np.array(more) + bias[:, None], 0)
        around = running_mean(layer.T, SPAN)
        odds.append(np.hstack([layer.T, around]) @ model().out[net] + model().out_bias[net])
    assert np.allclose(model().judge(figures), np.mean(odds, axis=0), rtol=1e-3, atol=1e-3)
