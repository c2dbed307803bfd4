"""Basics on single values, by the definitions of GLSL 4.60, 8.3, and what holds where those say nothing."""

import numpy as np
import pytest

from eavesong.kernels import basics
from support import lanes


@pytest.mark.parametrize(
    ("name", "arguments", "value"),
    [
        ("fract", (-1.25,), 0.75),
        ("mod", (5.5, -2.0), -0.5),
        ("clamp", (3.0, 0.0, 1.0), 1.0),
        ("mix", (10.0, 20.0, 0.25), 12.5),
        ("smoothstep", (0.0, 1.0, 0.25), 0.15625),
        ("step", (0.5, 0.5), 1.0),
        ("divide", (1.0, 0.0), 0.0),
        ("unit", (np.nan,), 0.0),
        ("unit", (1.5,), 1.0),
        ("less", (1.0, 2.0), 1.0),
        ("equal", (1.0, 2.0), 0.0),
    ],
)
def test_values_by_definition(name, arguments, value):
    assert lanes(getattr(basics, name))(*arguments) == pytest.approx(value, abs=1e-6)


def test_what_is_held_is_finite():
    low, high = lanes(basics.held)([-np.inf, np.inf])
    assert np.isfinite(high)
    assert low == -high
