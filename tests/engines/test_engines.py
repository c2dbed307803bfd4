"""Every engine draws the same scene; a new one is a package among them and nothing else."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong import engines
from eavesong.easing import parse_easing
from eavesong.errors import ShowError
from eavesong.kernels.exact import TILE
from eavesong.layout import load_layout
from eavesong.show import BLENDS
from eavesong.show.ramps import Ramp
from support import Sound, cue, effect, even_grid, scene_on

HOUSE = """
title = "House"
[[prop]]
name = "line"
shape = "line"
at = [0, 0, 0]
to = [2, 1, 0]
pixels = 23
[[prop]]
name = "ring"
shape = "ring"
at = [1, 2, 0]
width = 1
pixels = 17
[[controller]]
name = "box"
[[controller.output]]
number = 1
order = "GRB"
brightness = 0.7
gamma = 1.8
chain = ["line"]
[[controller.output]]
number = 2
order = "WRGB"
chain = ["ring"]
"""
CODES = (
    "level = band(x - fract(beat / 4), 0, 0.3)\ncolour = palette(fract(y + bar))\n",
    "level = 0.5 + 0.5 * sin(6 * u + t)\ncolour = hsl(turn * 360, 0.8, 0.5)\n",
    "level = bass\ncolour = mix(linear_rgb(1, 0.2, 0), linear_rgb(0, 0.3, 1), cue_progress)\n",
)
GRID = even_grid(120, bars=8)


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    path = tmp_path_factory.mktemp("house") / "house.toml"
    path.write_text(HOUSE)
    return load_layout(path)


layers = st.lists(
    st.tuples(st.sampled_from(CODES), st.sampled_from(BLENDS), st.floats(0.1, 1.0)), min_size=1, max_size=3
)


@settings(max_examples=16)
@given(layers, st.integers(0, 500))
def test_the_engines_agree_on_any_stack_of_cues(house, stack, first):
    """Within a byte of each other, or two where a curve is steep: one rounds light to 4,096 steps on the way."""
    cues = [cue(effect(code), house, GRID, blend=blend, opacity=opacity) for code, blend, opacity in stack]
    scene = scene_on(cues, house, grid=GRID, signals=Sound())
    fast, plain = (engines.draw(scene, name).block(first, 3).astype(int) for name in ("numba", "plain"))
    assert np.abs(fast - plain).max() <= 2
    assert np.abs(fast - plain).mean() < 0.2


RAMPED = """\
level = band(x - fract(beat / 4), 0, width)
colour = mix(tint, palette(u), width)
"""
RAMPS = {
    "width": Ramp(0.05, 0.6, parse_easing("ease-in")),
    "tint": Ramp((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), parse_easing("linear")),
}


def ramped(house):
    """A cue with a width and a colour that run from one value to another."""
    tables = 'width = { default = 0.3, min = 0, max = 1 }\ntint = { default = "red" }\n'
    return cue(effect(RAMPED, tables), house, GRID, parameters=RAMPS)


@settings(max_examples=10)
@given(st.integers(0, 600))
def test_the_engines_agree_on_ramps(house, first):
    scene = scene_on([ramped(house)], house, grid=GRID, signals=Sound())
    fast, plain = (engines.draw(scene, name).block(first, 3).astype(int) for name in ("numba", "plain"))
    assert np.abs(fast - plain).max() <= 2


@pytest.mark.parametrize("name", ["numba", "plain"])
def test_a_ramp_is_what_the_effect_would_do_with_the_progress_itself(house, name):
    """From 0 to 1 a parameter is the cue's progress, by definition; so every byte is the same."""
    own = cue(effect("level = cue_progress\ncolour = linear_rgb(1, 1, 1)\n"), house, GRID)
    text = "light = { default = 1, min = 0, max = 1 }\n"
    asked = cue(
        effect("level = light\ncolour = linear_rgb(1, 1, 1)\n", text), house, GRID,
        parameters={"light": Ramp(0.0, 1.0, parse_easing("linear"))},
    )  # fmt: skip
    one, other = (engines.draw(scene_on([each], house, grid=GRID), name).block(100, 200) for each in (own, asked))
    np.testing.assert_array_equal(one, other)
    assert one[-1].max() > one[0].max()


def test_an_engine_draws_any_portion_alike(house):
    cues = [*(cue(effect(code), house, GRID) for code in CODES), ramped(house)]
    scene = scene_on(cues, house, grid=GRID, signals=Sound())
    for name in engines.names():
        drawing = engines.draw(scene, name)
        whole = drawing.block(10, 8)
        np.testing.assert_array_equal(whole[3:5], drawing.block(13, 2))


LONG = """
title = "Long"
[[prop]]
name = "long"
shape = "line"
at = [0, 0, 0]
to = [9, 1, 0]
pixels = 1500
[[prop]]
name = "short"
shape = "line"
at = [0, 1, 0]
to = [9, 2, 0]
pixels = 700
[[controller]]
name = "box"
[[controller.output]]
number = 1
order = "WRGB"
chain = ["long", "short"]
"""


@pytest.mark.parametrize("name", ["numba", "plain"])
def test_an_engine_draws_some_tiles_and_leaves_the_others(tmp_path, name):
    """A run of tiles gets the bytes of the whole frame; what lies beyond keeps what it held."""
    (tmp_path / "long.toml").write_text(LONG)
    house = load_layout(tmp_path / "long.toml")
    drawing = engines.draw(scene_on([cue(effect(CODES[0]), house, GRID)], house, grid=GRID), name)
    whole, out = drawing.block(10, 2), np.full((2, 4 * 2200), 7, np.uint8)
    drawing.fill(out, 10, (1, 2))
    own = slice(4 * TILE, 4 * 2 * TILE)
    np.testing.assert_array_equal(out[:, own], whole[:, own])
    assert whole[:, own].any()
    assert (out[:, : own.start] == 7).all()
    assert (out[:, own.stop :] == 7).all()


def test_an_engine_that_is_none_is_named(house):
    with pytest.raises(ShowError, match=r"no engine is called 'numbat'\n    Did you mean 'numba'\?"):
        engines.draw(scene_on("x", house), "numbat")


def test_a_third_engine_is_found_by_its_name(house, monkeypatch, tmp_path):
    """A package among the others, and not a line anywhere else."""
    package = tmp_path / "steady"
    package.mkdir()
    (package / "__init__.py").write_text(
        "import numpy as np\n\n\nclass Drawing:\n"
        "    def __init__(self, scene):\n        self.width = scene.layout.patch.channel_count\n"
        "    def block(self, first, count):\n        return np.full((count, self.width), 7, np.uint8)\n"
        "    def fill(self, out, first, tiles=None):\n        out[:] = 7\n"
    )
    monkeypatch.setattr(engines, "__path__", [*engines.__path__, str(tmp_path)])
    assert "steady" in engines.names()
    assert (engines.draw(scene_on("x", house), "steady").block(0, 2) == 7).all()
