"""Blend modes against the formulas of W3C Compositing and Blending Level 1, written out again in float64."""

import numpy as np
import pytest

from eavesong.kernels.blend import MODES
from eavesong.kernels.blend import blended as blended_exactly
from support import effect, light_compiled, surroundings

CUE = effect("level = u\ncolour = linear_rgb(x, y, z)")
"""A cue whose level and colour stand in its pixels' places."""


def blended(mode, below, source, level=1.0, weight=1.0, strength=1.0):
    """What the kernel makes of (3, n) below and (3, n) source."""
    places = dict(zip("xyz", np.asarray(source), strict=True)) | {"u": np.broadcast_to(level, below.shape[1])}
    around = surroundings({"t": [0.0]}, places)
    return light_compiled(CUE, around, below=below, weight=weight, strength=strength, mode=mode)[:, 0]


# --- the standard ----------------------------------------------------------------------------------------------------
# B(Cb, Cs) of sections 9.1 and 9.2; with an opaque backdrop co = (1 - as) Cb + as B(Cb, Cs) (sections 5 and 9).


def multiply(cb, cs):
    return cb * cs


def screen(cb, cs):
    return cb + cs - cb * cs


def hard_light(cb, cs):
    return np.where(cs <= 0.5, multiply(cb, 2 * cs), screen(cb, 2 * cs - 1))


def soft_light(cb, cs):
    d = np.where(cb <= 0.25, ((16 * cb - 12) * cb + 4) * cb, np.sqrt(cb))
    return np.where(cs <= 0.5, cb - (1 - 2 * cs) * cb * (1 - cb), cb + (2 * cs - 1) * (d - cb))


@np.vectorize
def color_dodge(cb, cs):
    if cb == 0:
        return 0.0
    return 1.0 if cs == 1 else min(1.0, cb / (1 - cs))


@np.vectorize
def color_burn(cb, cs):
    if cb == 1:
        return 1.0
    return 0.0 if cs == 0 else 1 - min(1.0, (1 - cb) / cs)


def lum(c):
    return 0.3 * c[0] + 0.59 * c[1] + 0.11 * c[2]


def sat(c):
    return max(c) - min(c)


def clip_color(c):
    light, low, high = lum(c), min(c), max(c)
    if low < 0:
        c = light + (c - light) * light / (light - low)
    if high > 1:
        c = light + (c - light) * (1 - light) / (high - light)
    return c


def set_lum(c, light):
    return clip_color(c + (light - lum(c)))


def set_sat(c, s):
    low, high = min(c), max(c)
    return (c - low) * s / (high - low) if high > low else np.zeros(3)


SEPARABLE = {
    "source-over": lambda cb, cs: cs,
    "multiply": multiply,
    "screen": screen,
    "darken": np.minimum,
    "lighten": np.maximum,
    "overlay": lambda cb, cs: hard_light(cs, cb),
    "hard-light": hard_light,
    "soft-light": soft_light,
    "color-dodge": color_dodge,
    "color-burn": color_burn,
    "difference": lambda cb, cs: np.abs(cb - cs),
    "exclusion": lambda cb, cs: cb + cs - 2 * cb * cs,
}
WHOLE = {
    "hue": lambda cb, cs: set_lum(set_sat(cs, sat(cb)), lum(cb)),
    "saturation": lambda cb, cs: set_lum(set_sat(cb, sat(cs)), lum(cb)),
    "color": lambda cb, cs: set_lum(cs, lum(cb)),
    "luminosity": lambda cb, cs: set_lum(cb, lum(cs)),
}


def expected(mode, cb, cs, alpha):
    if mode == "plus-lighter":  # Level 2, Porter-Duff plus: co = as Cs + ab Cb, held at 1
        return np.minimum(1, alpha * cs + cb)
    if mode in SEPARABLE:
        mixed = SEPARABLE[mode](cb, cs)
    else:
        mixed = np.stack([WHOLE[mode](*pair) for pair in zip(cb.T, cs.T, strict=True)], axis=1)
    return (1 - alpha) * cb + alpha * mixed


def colours(seed):
    """(3, 600) colours: random ones, greys, and every corner of the cube."""
    chance = np.random.default_rng(seed)
    corners = np.array(np.meshgrid([0, 0.25, 0.5, 1], [0, 0.25, 1], [0, 0.5, 1])).reshape(3, -1)
    grey = np.repeat(chance.random((1, 64)), 3, axis=0)
    some = np.concatenate([corners, grey, chance.random((3, 500))], axis=1)
    return chance.permutation(some, axis=1).astype(np.float32)


@pytest.mark.parametrize("mode", MODES)
def test_a_mode_is_the_standards(mode):
    below, source = colours(1), colours(2)
    alpha = np.random.default_rng(3).random(below.shape[1]).astype(np.float32)
    got = blended(mode, below, source, level=alpha)
    wanted = expected(mode, below.astype(np.float64), source.astype(np.float64), alpha.astype(np.float64))
    np.testing.assert_allclose(got, wanted, rtol=0, atol=2e-6)


@pytest.mark.parametrize("mode", MODES)
def test_the_float64_reference_is_the_standards(mode):
    below, source = (colours(seed).astype(np.float64) for seed in (1, 2))
    alpha = np.random.default_rng(3).random(below.shape[1])
    np.testing.assert_allclose(
        blended_exactly(mode, below, source, alpha), expected(mode, below, source, alpha), rtol=0, atol=1e-12
    )


# Cb = 0.25, Cs = 0.6, worked out by hand from section 9.1's formulas.
ROW = {
    "multiply": 0.15, "screen": 0.70, "darken": 0.25, "lighten": 0.60, "overlay": 0.30, "hard-light": 0.40,
    "soft-light": 0.30, "color-dodge": 0.625, "color-burn": 0.0, "difference": 0.35, "exclusion": 0.55,
    "plus-lighter": 0.85, "source-over": 0.60,
}  # fmt: skip


@pytest.mark.parametrize("mode", ROW)
def test_a_mode_on_a_quarter_below_six_tenths(mode):
    got = blended(mode, np.full((3, 1), 0.25), np.full((3, 1), 0.6))
    np.testing.assert_allclose(got, ROW[mode], atol=1e-6)


@pytest.mark.parametrize("nothing", ["level", "weight", "strength"])
@pytest.mark.parametrize("mode", MODES)
def test_a_cue_of_no_strength_leaves_what_lies_below_bit_for_bit(mode, nothing):
    below = colours(4)
    got = blended(mode, below, colours(5), **{nothing: 0.0})
    np.testing.assert_array_equal(got.view(np.int32), below.view(np.int32))


@pytest.mark.parametrize("mode", MODES)
def test_light_stays_within_0_and_1_whatever_an_effect_gives(mode):
    """Levels and colours are held within 0 and 1; what is not a number counts as 0."""
    wild = np.array([[-5, 7, np.nan, np.inf, -np.inf, 0.5]] * 3, np.float32)
    for level in (-1.0, 3.0, np.nan, np.inf, 0.5):
        got = blended(mode, np.full((3, 6), 0.4, np.float32), wild, level=level)
        assert np.isfinite(got).all()
        assert got.min() >= -1e-6
        assert got.max() <= 1 + 1e-6


def test_alpha_is_the_product_of_level_weight_and_strength():
    got = blended("source-over", np.zeros((3, 1)), np.ones((3, 1)), level=0.5, weight=0.5, strength=0.5)
    np.testing.assert_array_equal(got, 0.125)


def test_what_is_not_a_number_gives_no_light():
    below, full = np.full((3, 1), 0.4, np.float32), np.ones((3, 1))
    np.testing.assert_array_equal(blended("source-over", below, full, level=np.nan), below)
    np.testing.assert_array_equal(blended("source-over", below, full * np.nan), 0)
    np.testing.assert_array_equal(blended("source-over", below, full * np.inf), 1)
    np.testing.assert_array_equal(blended("source-over", below, full * -np.inf), 0)
