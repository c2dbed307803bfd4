"""The model that ships: that it fits the code, comes back from its file, and is small."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from eavesong.music.candidates import candidates
from eavesong.music.explain import explanations, judge
from eavesong.music.figures import traces
from eavesong.music.model import FILE, model, read_model, write_model
from eavesong.music.novelty import novelty

from .conftest import clicks, heard_of


def test_the_model_fits_what_is_asked_of_it() -> None:
    _, ear = heard_of(clicks(np.arange(0.5, 12, 0.5), 12.5))
    curves = novelty(ear)
    trails = traces(ear, curves)
    judged = judge(candidates(curves)[0], trails, model())
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


def test_the_model_is_small() -> None:
    assert FILE.stat().st_size < 60_000
