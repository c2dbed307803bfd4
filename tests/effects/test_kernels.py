"""Every effect: the compiled loop shows what the float64 reference says, whatever its parameters are set to.

At their defaults, in tests/render/test_analysis.py.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from eavesong.colours import parse_colour
from eavesong.language import Effect, effect_names, load_effect
from eavesong.layout import Layout
from support import Sound, bytes_of, cue, even_grid, reference

NAMES = effect_names()
FPS = 40.0
NUDGE = 1e-6
"""Share by which numbers are moved to see where the reference itself is about to jump."""
PALETTE = tuple((at, parse_colour(text)) for at, text in ((0.0, "#2a0845"), (0.4, "#ff5a36"), (1.0, "#f4f7ff")))

Floats = NDArray[np.float64]


def _settings_of(effect: Effect) -> st.SearchStrategy[dict[str, Any]]:
    """Parameters anywhere inside their ranges, ends included. Where those hold 0, nothing but that is nearer to it than
    a thousandth of them: what is divided by it lies beyond what single precision tells apart."""
    chosen: dict[str, st.SearchStrategy[Any]] = {}
    for name, parameter in effect.parameters.items():
        if parameter.kind == "colour":
            chosen[name] = st.sampled_from([parse_colour(text) for text in ("#ff2a00", "white", "#102040")])
        else:
            least = (parameter.max - parameter.min) / 1000
            values = st.floats(parameter.min, parameter.max, width=64)
            apart = values.map(lambda value, least=least: value if abs(value) >= least else 0.0)
            chosen[name] = apart if parameter.min <= 0 <= parameter.max else values
    return st.fixed_dictionaries(chosen)


def _shown(effect: Effect, layout: Layout, first: int, **changes: Any) -> Floats:
    """Three frames of the compiled loop, (3, pixels, 3) from 0 to 1."""
    shown = bytes_of(effect, layout, first, 3, signals=Sound(), palette=PALETTE, **changes)
    return np.asarray(shown, np.float64) / 255


def _expected(effect: Effect, layout: Layout, first: int, nudge: float = 0.0, **changes: Any) -> Floats:
    placed = cue(effect, layout, even_grid(), palette=PALETTE, **changes)
    seconds = (first + np.arange(3)) / FPS
    return reference([placed], layout, seconds * (1 + nudge) + nudge, Sound())


def _nudged(layout: Layout, seed: int) -> Layout:
    """The same house, every coordinate of every pixel moved by about a millionth."""
    random = np.random.default_rng(seed)
    moved = {}
    for name in ("x", "y", "z", "X", "Y", "Z", "u", "along", "px", "py", "turn"):
        values = getattr(layout.pixels, name)
        step = random.choice([-NUDGE, NUDGE], values.shape)
        moved[name] = (values * (1 + step) + step).astype(np.float32)
    return replace(layout, pixels=replace(layout.pixels, **moved))


@pytest.mark.parametrize("name", NAMES)
def test_the_loop_shows_what_the_reference_says_for_any_parameters(name: str, small_house: Layout) -> None:
    """To within one step of 255 of the values that the reference takes when its inputs move by a millionth."""
    effect = load_effect(name)
    houses = [small_house, *(_nudged(small_house, seed) for seed in range(3))]

    @settings(max_examples=5)
    @given(parameters=_settings_of(effect), first=st.integers(0, 2400))
    def check(parameters: dict[str, Any], first: int) -> None:
        shown = _shown(effect, small_house, first, parameters=parameters)
        near = [_expected(effect, small_house, first, parameters=parameters)]
        assert np.isfinite(near).all()
        if np.abs(shown - near[0]).max() <= 1 / 255:
            return
        nudges = [0, NUDGE, -NUDGE, NUDGE, -NUDGE, NUDGE, -NUDGE]
        near += [
            _expected(effect, house, first, nudge, parameters=parameters)
            for house, nudge in zip([*houses[1:], *houses], nudges, strict=True)
        ]
        low, high = np.min(near, axis=0), np.max(near, axis=0)
        outside = np.maximum(low - shown, shown - high)
        assert outside.max() <= 1 / 255

    check()
