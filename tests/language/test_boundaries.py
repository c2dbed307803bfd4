"""Shapes are means over what a pixel stands for: against the profile itself, averaged with many points."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from support import level_of, light_compiled, light_exact, surroundings


def line(count, expression, t=0.0):
    """The level on ``count`` pixels edge to edge from u = 0 to 1: in float64, and as the loop shows it."""
    u = (np.arange(count) + 0.5) / count
    what = level_of(expression)
    wires = [
        surroundings({"t": [t]}, {"u": part}, step={"u": 1 / count}) for part in np.array_split(u, -(-count // 1000))
    ]
    exact, fast = (
        np.concatenate([np.broadcast_to(light(what, wire)[0], (1, wire.inputs["u"].size))[0] for wire in wires])
        for light in (light_exact, light_compiled)
    )
    np.testing.assert_allclose(fast, exact, atol=1e-6 + 2.0**-22 * count)  # u + t is right to half of 2**-23
    return exact


@pytest.mark.parametrize("moving", ["", " + t"])
def test_thin_stripes_light_as_many_pixels_as_are_in_them(moving):
    """0.003 of 4,000 pixels are twelve, lit fully."""
    lit = line(4000, f"stripes(u{moving}, 0.003)", t=1.0)
    assert np.flatnonzero(lit).tolist() == list(range(12))
    assert (lit[:12] == 1).all()


@pytest.mark.parametrize("count", [100, 4000, 100_000])
@pytest.mark.parametrize("expression", ["box(u + t, 0.5, 0.2)", "tail(u + t, 0.5, 0.3)", "edge(u + t, 0.5)"])
def test_a_hard_end_is_one_pixel_wide_on_any_pitch(count, expression):
    """Between dark and the light beside it stands one pixel, two where the end meets their border."""
    steps = np.abs(np.diff(line(count, expression, t=0.3 / count)))
    assert 1 <= (steps > 0.15).sum() <= (4 if "box" in expression else 2)


PROFILES = {
    "box": lambda d, width: (np.abs(d) <= width / 2).astype(float),
    "tail": lambda d, reach: np.where((d <= 0) & (d > -reach), (1 + d / reach) ** 2, 0.0),
    "band": lambda d, width: np.where(np.abs(d) < width / 2, (1 - (2 * d / width) ** 2) ** 2, 0.0),
    "stripes": lambda p, share: (p - np.floor(p) < share).astype(float),
}
POINTS = 20_000


@given(
    name=st.sampled_from(list(PROFILES)),
    at=st.floats(-2, 2),
    footprint=st.floats(1e-4, 3),
    width=st.floats(0.01, 0.99),
)
def test_a_shape_is_the_mean_of_its_profile(name, at, footprint, width):
    """The mean of POINTS values across the footprint is right to the share of a point at each of its jumps."""
    call = f"stripes(u, {width})" if name == "stripes" else f"{name}(u, 0, {width})"
    around = surroundings({"t": [0.0]}, {"u": [at]}, step={"u": footprint})
    covered = max(footprint, width / 128) if name == "band" else footprint
    points = at + covered * ((np.arange(POINTS) + 0.5) / POINTS - 0.5)
    wanted = PROFILES[name](points, width).mean()
    assert light_exact(level_of(call), around).flat[0] == pytest.approx(wanted, abs=8 / POINTS)


def test_the_least_footprint_of_a_band_changes_next_to_nothing():
    """Less than 1e-4: a quarter of a tenth of what a byte can tell."""
    u = np.linspace(0, 1, 1001)
    around = surroundings({"t": [0.0]}, {"u": u})
    wanted = PROFILES["band"](u - 0.5, 0.8)
    np.testing.assert_allclose(light_exact(level_of("band(u, 0.5, 0.8)"), around)[0, 0], wanted, atol=1e-4)


def test_without_a_footprint_an_end_is_a_jump():
    around = surroundings({"t": [0.3, 0.5, 0.7]}, {"u": [0.2, 0.8]})
    np.testing.assert_allclose(light_exact(level_of("edge(t, 0.5)"), around)[0, :, 0], [0, 0.5, 1])
    np.testing.assert_allclose(
        light_compiled(level_of("edge(t + u, 0.9)"), around)[0], [[0, 1], [0, 1], [0.5, 1]], atol=1e-6
    )
