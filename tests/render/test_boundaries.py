"""Nothing falls between pixels: what draws a boundary keeps its light on any pitch and moves without blinking.

The light of a row is the sum of level times pitch. Drawn as averages over pixels that lie edge to edge it equals the
integral of the profile, wherever that stands (area sampling; E. Catmull, 1978): 8/15 of the width for a band, the
width for a box, a third of the reach for a tail, and what lies above for an edge.
"""

import numpy as np
import pytest

from eavesong.layout import load_layout
from support import level_of, light_compiled, line, points, surroundings_on

PITCHES = [1 / 7, 1 / 40, 1 / 161, 1 / 1000]
WIDTHS = [0.001, 0.02, 0.3]
CROSSING = np.linspace(0.3, 0.7, 83)
"""Where a boundary stands in each frame; t is its place."""

INTEGRALS = {
    "band(x, t, w)": lambda w: w * 8 / 15,
    "box(x, t, w)": lambda w: w,
    "tail(x, t + w / 2, w)": lambda w: w / 3,
    "edge(x, t)": None,
}


def drawn(expression, layout, w=0.0, frames=CROSSING):
    """Levels (frames, pixels)."""
    what = level_of(f"{expression} + 0 * w", "w = { default = 1 }")
    return light_compiled(what, surroundings_on(layout, {"t": frames}, parameters={"w": w}))[0].astype(np.float64)


def pitch_of(layout, coordinate="x"):
    return np.abs(layout.pixels.step[coordinate]).astype(np.float64)


@pytest.mark.parametrize("w", WIDTHS)
@pytest.mark.parametrize("pitch", PITCHES)
@pytest.mark.parametrize("expression", list(INTEGRALS)[:3])
def test_a_crossing_profile_keeps_its_light(expression, pitch, w):
    layout = points(line(round(1 / pitch)))
    light = drawn(expression, layout, w) @ pitch_of(layout)
    np.testing.assert_allclose(light, INTEGRALS[expression](w), rtol=0.005)


@pytest.mark.parametrize("pitch", PITCHES)
def test_an_edge_lights_what_lies_above_it(pitch):
    layout = points(line(round(1 / pitch)))
    np.testing.assert_allclose(drawn("edge(x, t)", layout) @ pitch_of(layout), 1 - CROSSING, atol=1e-4)


@pytest.mark.parametrize(("count", "repeats"), [(40, 3), (40, 19), (161, 50), (1000, 333)])
@pytest.mark.parametrize("share", [0.02, 0.5, 0.9])
def test_stripes_light_their_share_of_the_wire(count, repeats, share):
    layout = points(line(count))
    light = drawn(f"stripes({repeats} * x + t, w)", layout, share) @ pitch_of(layout)
    np.testing.assert_allclose(light, share, rtol=0.005, atol=1e-4)


@pytest.mark.parametrize("expression", ["band(wrap(u * 4 - t), 0, w)", "box(fract(u * 4 - t), 0.5, w)"])
@pytest.mark.parametrize("count", [37, 100, 999])
def test_repeated_profiles_keep_their_light_over_every_seam(expression, count):
    layout = points(line(count))
    for w in (0.01, 0.2):
        light = drawn(expression, layout, w).mean(axis=1)
        whole = w * 8 / 15 if "band" in expression else w
        np.testing.assert_allclose(light, whole, rtol=0.02)


def test_a_band_along_a_slanting_wire():
    """The footprint of a sum of x and y is that of the way along the wire."""
    places = line(77)
    places[:, 1] = 0.1 + 0.8 * places[:, 0]
    layout = points(places)
    pitch = 0.6 * pitch_of(layout, "x") + 0.8 * pitch_of(layout, "y")
    for w in (0.004, 0.1):
        light = drawn("band(0.6 * x + 0.8 * y, 0.2 + t, w)", layout, w) @ pitch
        np.testing.assert_allclose(light, w * 8 / 15, rtol=0.005)


def arch(count):
    angle = np.pi * (1 - (np.arange(count) + 0.5) / count)
    return points(np.stack([0.5 + 0.5 * np.cos(angle), np.sin(angle), np.full(count, 0.5)], axis=1))


@pytest.mark.parametrize(("count", "w"), [(45, 0.02), (30, 0.1), (101, 0.004), (101, 0.1)])
def test_a_band_across_an_arch(count, w):
    """From left to right it meets the wire once, upwards twice.

    Where the wire bends, pixels lie edge to edge only to a few thousandths of the pitch, so the width is at least a
    tenth of it here.
    """
    layout = arch(count)
    sideways = drawn("band(x, t, w)", layout, w) @ pitch_of(layout, "x")
    np.testing.assert_allclose(sideways, w * 8 / 15, rtol=0.02)
    upwards = drawn("band(y, t, w)", layout, w) @ pitch_of(layout, "y")
    np.testing.assert_allclose(upwards, 2 * w * 8 / 15, rtol=0.02)


def test_a_ring_of_light_that_grows_out_of_the_middle():
    """length() along a wire through the middle: the ring meets the wire on both sides."""
    layout = points(line(120))
    light = drawn("band(length(x - 0.5, y - 0.5), t / 2, w)", layout, 0.01) @ pitch_of(layout)
    np.testing.assert_allclose(light, 2 * 0.01 * 8 / 15, rtol=0.01)


GRID = """
title = "Grid"
[frame]
from = [0, 0, 0]
to = [4, 2, 1]
[[prop]]
name = "screen"
shape = "grid"
columns = 32
rows = 25
width = 4.0
height = 2.0
at = [2.0, 0.0, 0.5]
"""


@pytest.fixture(scope="module")
def screen(tmp_path_factory):
    path = tmp_path_factory.mktemp("grid") / "grid.toml"
    path.write_text(GRID)
    return load_layout(path)


@pytest.mark.parametrize("w", [0.002, 0.01, 0.15])
def test_a_band_across_the_rows_and_columns_of_a_grid(screen, w):
    """Along the wires (x) and from wire to wire (y), where neighbours on the wire do not differ at all."""
    rows, columns = np.unique(screen.pixels.y), np.unique(screen.pixels.x)
    assert (len(rows), len(columns)) == (25, 32)
    across = np.abs(np.diff(rows)).mean() * drawn("band(y, t, w)", screen, w).sum(axis=1) / len(columns)
    np.testing.assert_allclose(across, w * 8 / 15, rtol=0.02)
    along = np.abs(np.diff(columns)).mean() * drawn("band(x, t, w)", screen, w).sum(axis=1) / len(rows)
    np.testing.assert_allclose(along, w * 8 / 15, rtol=0.02)


def test_a_slanting_band_across_a_grid(screen):
    """Between two corners it crosses a line of one length, and its light never changes with the raster."""
    light = drawn("band(0.6 * x + 0.8 * y, 0.2 + t, w)", screen, 0.01, np.linspace(0.44, 0.56, 101)).sum(axis=1)
    assert np.ptp(light) / light.mean() < 0.02


@pytest.mark.parametrize("expression", list(INTEGRALS)[:3])
@pytest.mark.parametrize(("count", "w"), [(25, 0.001), (25, 0.02), (100, 0.05), (400, 0.3)])
def test_every_pixel_lights_up_once_and_goes_out_again(expression, count, w):
    """Its level goes up to one peak and down: all its changes added up are twice the peak, so that nothing blinks."""
    levels = drawn(expression, points(line(count)), w, np.linspace(-0.4, 1.4, 1201))
    changes = np.abs(np.diff(levels, axis=0)).sum(axis=0)
    np.testing.assert_allclose(changes, 2 * levels.max(axis=0), rtol=1e-3, atol=1e-4)
    assert (levels.max(axis=0) > 0).all()


@pytest.mark.parametrize("expression", list(INTEGRALS)[:3])
def test_a_band_thinner_than_the_pitch_is_handed_from_pixel_to_pixel(expression):
    """In steps of a twentieth of the pitch at most a twentieth of full light goes from one pixel to the next."""
    levels = drawn(expression, points(line(20)), 0.02, np.arange(0.2, 0.8, 0.05 / 20))
    assert np.abs(np.diff(levels, axis=0)).max() <= 1.001 / 20
    light = levels.sum(axis=1)
    assert np.ptp(light) <= 0.01 * light.mean()


def test_a_wide_profile_is_drawn_as_written():
    """Many pixels wide, the average over a pixel is the profile itself: (1 - q^2)^2, 1, the square of the way."""
    layout = points(line(1000))
    x = layout.pixels.x.astype(np.float64)
    q = 2 * (x - 0.5) / 0.4
    frame = np.array([0.5])
    np.testing.assert_allclose(
        drawn("band(x, t, w)", layout, 0.4, frame)[0], np.where(np.abs(q) < 1, (1 - q * q) ** 2, 0), atol=1e-4
    )
    inside = np.abs(q) < 0.99
    np.testing.assert_allclose(drawn("box(x, t, w)", layout, 0.4, frame)[0][inside], 1, atol=1e-4)
    s = np.clip((x - 0.1) / 0.4, 0, 1)
    before = x < 0.497  # the head is cut off over 1/128 of the reach at least
    np.testing.assert_allclose(drawn("tail(x, t, w)", layout, 0.4, frame)[0][before], s[before] ** 2, atol=1e-4)


@pytest.mark.parametrize("expression", ["band(x, t, w)", "box(x, t, w)", "tail(x, t, w)", "stripes(x + t, w)"])
@pytest.mark.parametrize("w", [0.0, -1.0])
def test_a_width_of_nothing_or_less_is_dark(expression, w):
    assert not drawn(expression, points(line(50)), w).any()


def test_levels_stay_within_0_and_1_for_any_width():
    layout = points(line(90))
    for expression in ("band(x, t, w)", "box(x, t, w)", "tail(x, t, w)", "stripes(x / w + t, 0.4)", "edge(x, t)"):
        for w in (1e-6, 1e-4, 0.01, 1.0, 50.0):
            levels = drawn(expression, layout, w)
            assert levels.min() >= -1e-5
            assert levels.max() <= 1 + 1e-4


def test_a_lone_pixel_is_drawn_as_a_point():
    lone = points([[0.5, 0.5, 0.5]])
    assert drawn("box(x, t, w)", lone, 0.1, np.array([0.44, 0.46, 0.54, 0.56]))[:, 0].tolist() == [0, 1, 1, 0]
    np.testing.assert_allclose(drawn("band(x, t, w)", lone, 1, np.array([0.5])), 1, atol=1e-3)
