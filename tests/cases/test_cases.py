"""One folder, one case: an effect and a house with bytes known beforehand, or an effect with what is said about it.

``expected.toml`` holds frames by their beat (120 beats a minute from second 0): for each pixel its red, green and
blue, or one number where all three are the same. The same expectation holds for the float64 reference, for the
compiled loop in blocks of any size, and for any number of threads.
"""

import tomllib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from eavesong.errors import EffectError
from eavesong.language import parse_effect
from eavesong.layout import load_layout
from support import cue, even_grid, frames_of, reference

HERE = Path(__file__).parent
SHOWN = sorted(path.parent.name for path in HERE.glob("*/expected.toml"))
WRONG = sorted(path.parent.name for path in HERE.glob("*/problems.txt"))
GRID = even_grid(120)
FPS = 40
LAST = 20 * 20
"""Frames up to beat 20."""


class Case:
    """A folder's effect, house and expectation."""

    def __init__(self, name):
        folder = HERE / name
        self.effect = parse_effect((folder / "effect.toml").read_text(), name, "effect.toml")
        self.layout = load_layout(folder / "layout.toml")
        entries = tomllib.loads((folder / "expected.toml").read_text())["at"]
        self.numbers = [round(entry["beat"] * FPS / 2) for entry in entries]
        self.bytes = np.array([[_rgb(pixel) for pixel in entry["bytes"]] for entry in entries])

    def check(self, frames):
        """All frames up to LAST, (LAST, channels)."""
        shown = frames.reshape(LAST, -1, 3)[self.numbers].astype(int)
        np.testing.assert_allclose(shown, self.bytes, rtol=0, atol=1)


def _rgb(pixel):
    return pixel if isinstance(pixel, list) else [pixel] * 3


@pytest.fixture(params=SHOWN)
def case(request):
    return Case(request.param)


def test_the_reference(case):
    light = reference([cue(case.effect, case.layout, GRID)], case.layout, np.array(case.numbers) / FPS)
    np.testing.assert_allclose(255 * light, case.bytes, rtol=0, atol=1)


@pytest.mark.parametrize("size", [1, 7, 64])
@pytest.mark.parametrize("workers", [1, 2])
def test_the_loop(case, size, workers):
    frames = frames_of(case.effect, case.layout, grid=GRID, fps=FPS)
    with ThreadPoolExecutor(workers) as pool:
        starts = range(0, LAST, size)
        blocks = list(pool.map(lambda at: frames.block(at, min(size, LAST - at)), starts))
    case.check(np.concatenate(blocks))


@pytest.mark.parametrize("name", WRONG)
def test_what_is_said(name):
    with pytest.raises(EffectError) as caught:
        parse_effect((HERE / name / "effect.toml").read_text(), name, "effect.toml")
    assert str(caught.value) == (HERE / name / "problems.txt").read_text().rstrip("\n")
