"""The benchmark's reference against hand arithmetic, and the contenders that need nothing extra against it."""

import importlib
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from stack import CONTENDERS, reference


def test_first_frame_by_hand():
    """On the beat the pulse covers all below; at u = 0 the chase is dark; the wash adds 0.3 of (y, 0.2, 1 - y)."""
    places = {"x": np.array([0.2]), "y": np.array([0.5]), "u": np.array([0.0])}
    linear = (0.7 * 1 + 0.3 * 0.5, 0.7 * 0.9 + 0.3 * 0.2, 0.7 * 0.7 + 0.3 * 0.5)
    expected = [255 * value**2.2 for value in linear]
    assert reference.render(places, range(1), sparkle=False)[0, 0] == pytest.approx(expected, abs=1)


def test_end_of_chase_by_hand():
    """At t = 0.5 s, one beat, the head of a chase is at u = 3/16: just below, all is (1, 0, 0.5 |sin t|)."""
    places = {"x": np.array([0.9]), "y": np.array([0.1]), "u": np.array([3 / 16 - 1e-9])}
    expected = [255, 0, 255 * (0.5 * np.sin(0.5)) ** 2.2]
    assert reference.render(places, range(20, 21), sparkle=False)[0, 0] == pytest.approx(expected, abs=1)


@pytest.mark.parametrize("name", [name for name in CONTENDERS if name not in ("jax", "taichi")])
def test_contender_agrees(name):
    try:
        contender = importlib.import_module(f"stack.stack_{name}")
    except ModuleNotFoundError:
        pytest.skip("not there")
    if reason := contender.available():
        pytest.skip(reason)
    generator = np.random.default_rng(1)
    places = {key: generator.random(1500, dtype=np.float32) for key in ("x", "y", "u", "seed")}
    frames = range(333, 338)
    wanted = reference.render(places, frames, sparkle=False).astype(int)
    apart = np.abs(contender.render(places, frames, sparkle=False).astype(int) - wanted).max(axis=-1)
    assert apart[~reference.near_jump(places, frames)].max() <= 1
