"""Colours that effects work out, against colour-science and the tables of CSS Color 4."""

import warnings

import numpy as np
import pytest

from eavesong.language.evaluate import evaluate
from support import effect, surroundings

CHANCE = np.random.default_rng(4)
SHARES = CHANCE.random((3, 400))


@pytest.fixture(scope="module")
def science():
    """colour-science, which takes its time to load."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


def colours(expression, **inputs):
    """Linear light (n, 3), in float64 and not held within 0 and 1, of an expression of x, y and z."""
    program = effect(f"level = 1\ncolour = {expression}").program
    around = surroundings({"t": [0.0]}, dict(zip("xyz", SHARES, strict=True)) | inputs)
    values = evaluate(program.graph, program.outputs, around)
    return np.stack([np.broadcast_to(values[node], (1, SHARES.shape[1]))[0] for node in program.outputs[1:]], axis=1)


def test_hsl_is_colour_sciences(science):
    encoded = science.HSL_to_RGB(SHARES.T)
    np.testing.assert_allclose(colours("hsl(360 * x, y, z)"), science.models.eotf_sRGB(encoded), atol=1e-9)


def test_hues_go_round():
    np.testing.assert_allclose(colours("hsl(360 * x + 720, y, z)"), colours("hsl(360 * x - 360, y, z)"), atol=1e-9)
    np.testing.assert_allclose(colours("oklch(z, y, 360 * x + 720)"), colours("oklch(z, y, 360 * x)"), atol=1e-9)


def test_oklch_is_colour_sciences(science):
    """colour-science has the rounded matrices of Ottosson, 2020, and XYZ of another rounding: right to a thousandth."""
    hue = 2 * np.pi * SHARES[0]
    lab = np.stack([SHARES[2], 0.3 * SHARES[1] * np.cos(hue), 0.3 * SHARES[1] * np.sin(hue)], axis=1)
    linear = science.XYZ_to_sRGB(science.Oklab_to_XYZ(lab), apply_cctf_encoding=False)
    np.testing.assert_allclose(colours("oklch(z, 0.3 * y, 360 * x)"), linear, rtol=1e-3, atol=1e-3)


def test_rgb_is_decoded_and_linear_rgb_is_not(science):
    np.testing.assert_allclose(colours("rgb(x, y, z)"), science.models.eotf_sRGB(SHARES.T), atol=1e-9)
    np.testing.assert_array_equal(colours("linear_rgb(x, y, z)"), SHARES.T)


@pytest.mark.parametrize(
    ("oklch", "hex_code"),
    [
        # CSS Color 4 and the tests of its reference library: OKLCH of named colours.
        ("0.62796, 0.25768, 29.234", "ff0000"),
        ("0.96798, 0.21101, 109.77", "ffff00"),
        ("0.51975, 0.17686, 142.495", "008000"),
        ("0.86644, 0.29483, 142.495", "00ff00"),
        ("0.45201, 0.31321, 264.05", "0000ff"),
        ("0.59987, 0, 0", "808080"),
    ],
)
def test_named_colours_in_oklch(science, oklch, hex_code):
    encoded = np.array([int(hex_code[at : at + 2], 16) for at in (0, 2, 4)]) / 255
    wanted = science.models.eotf_sRGB(encoded)
    np.testing.assert_allclose(colours(f"oklch({oklch})")[0], wanted, atol=2e-4)


def test_colours_are_mixed_in_linear_light():
    """GLSL mix of each channel: half of full red and half of full green are half of each, not a brown."""
    np.testing.assert_allclose(colours("mix(rgb(1, 0, 0), rgb(0, 1, 0), 0.5)")[0], [0.5, 0.5, 0])
