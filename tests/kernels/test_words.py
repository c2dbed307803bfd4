"""Kernels are written down many pixels at a time; several in a row are what each is by itself, one after the other."""

import numpy as np
import pytest
from numpy import float32 as f

from eavesong.kernels.blend import MODES
from eavesong.kernels.code import assembled, linked
from eavesong.kernels.exact import TILE
from eavesong.kernels.store import compiled
from eavesong.kernels.words import assembly, load, narrow, select, store, tile, wide
from eavesong.language.emit import emit
from support import effect, in_c

ENDS = [f"from eavesong.kernels.ends import {name} as kernel\n" for name in ("dark", "steps")]
CUES = [
    effect("level = fract(7 * u + beat)\ncolour = mix(linear_rgb(x, y, fract(x * y + beat)), palette(u), 0.3)"),
    effect("level = 0.9 * hash(x, floor(beat)) * spectrum(y)\ncolour = linear_rgb(smoothstep(0, 1, y * beat), 1, u)"),
]


def arguments(program, seed):
    """Weight, planes, scalars, palette and strength of a cue."""
    chance = np.random.default_rng(seed)
    shapes = (TILE,), (max(1, len(program.planes)), TILE), (max(1, len(program.scalars)),), (3, 256), (1,)
    return [chance.random(shape, np.float32) for shape in shapes]


@pytest.mark.parametrize("first", MODES)
@pytest.mark.parametrize("second", ["source-over", "screen", "luminosity"])
def test_a_row_of_cues_gives_the_bits_of_one_after_the_other(first, second):
    sources = [emit(cue.program, "T", mode) for cue, mode in zip(CUES, (first, second), strict=True)]
    spectrum = np.random.default_rng(3).random(32, np.float32)
    given = [arguments(cue.program, seed) for seed, cue in enumerate(CUES)]
    whole, parts = np.ones((2, 3, TILE), np.float32)
    in_c(compiled(ENDS[0], *sources, ENDS[1]))(whole, spectrum, *given[0], *given[1])
    in_c(compiled(ENDS[0]))(parts)
    for source, taken in zip(sources, given, strict=True):
        in_c(compiled(source))(parts, spectrum, *taken)
    in_c(compiled(ENDS[1]))(parts)
    np.testing.assert_array_equal(whole.view(np.int32), parts.view(np.int32))
    assert len(np.unique(whole.view(np.int32))) > 100


def halved(light):
    for n in tile():
        value = load(light, n)
        store(light, n, select(value < f(0.5), value * f(0.5), narrow(wide(value) - 0.25)))


@pytest.mark.parametrize("width", [4, 16, 64])
def test_every_place_of_a_tile_is_computed_alike(width):
    light = np.tile(np.linspace(0, 1, 32, dtype=np.float32), TILE // 32)
    wanted = np.where(light < 0.5, light * np.float32(0.5), light - np.float32(0.25))
    in_c(linked(assembled(assembly([halved], width), "kernel")))(light)
    np.testing.assert_array_equal(light, wanted)


def test_what_is_written_is_vectors_in_one_loop_without_branches():
    text = assembly([halved], 32)
    assert "load <32 x float>" in text
    assert text.count("br i1") == 1


def test_a_number_is_loaded_once_before_the_loop():
    def lifted(light, amount):
        for n in tile():
            store(light, n, load(light, n) + load(amount, 0))

    before, _, loop = assembly([lifted]).partition("\nloop:\n")
    assert "load float" in before
    assert "load float" not in loop
