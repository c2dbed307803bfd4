"""Comparing, rounding, holding and mixing single float32 values, branch-free: what all of `fast` is made from."""

from __future__ import annotations

from numpy import float32 as f

from eavesong.kernels.exact import LARGEST
from eavesong.kernels.words import floor as lane_floor
from eavesong.kernels.words import magnitude, narrow, select, wide


def less(x, y):
    """1 where x < y, else 0."""
    return select(x < y, f(1), f(0))


def less_equal(x, y):
    """1 where x <= y, else 0."""
    return select(x <= y, f(1), f(0))


def equal(x, y):
    """1 where x == y, else 0."""
    return select(x == y, f(1), f(0))


def choose(condition, x, y):
    """x where the condition is not 0, else y."""
    return select(condition != f(0), x, y)


def divide(x, y):
    """x / y; 0 where y is 0."""
    return select(y == f(0), f(0), x / select(y == f(0), f(1), y))


def abs(x):
    """x without its sign."""
    return magnitude(x)


def sign(x):
    """1, 0 or -1."""
    return select(x > f(0), f(1), select(x < f(0), f(-1), f(0)))


def floor(x):
    """The whole number at or below x."""
    return lane_floor(x)


def ceil(x):
    """The whole number at or above x."""
    return -lane_floor(-x)


def trunc(x):
    """The whole part of x."""
    return select(x < f(0), -lane_floor(-x), lane_floor(x))


def round(x):
    """The nearest whole number, halves upwards."""
    # Not floor(x + 0.5): that sum is itself rounded just below a half, and from 2**23 up.
    whole = lane_floor(x)
    return select(x - whole >= f(0.5), whole + f(1), whole)


def fract(x):
    """x - floor(x)."""
    return x - lane_floor(x)


def wrap(x):
    """Signed distance to the nearest whole number, -0.5 up to 0.5."""
    return x - round(x)


def mod(x, y):
    """x - y * floor(x / y); 0 where y is 0."""
    return clamp(x - y * lane_floor(divide(x, y)), min(y, f(0)), max(y, f(0)))


def min(x, y):
    """The smaller."""
    return select(y < x, y, x)


def max(x, y):
    """The larger."""
    return select(x < y, y, x)


def clamp(x, low, high):
    """min(max(x, low), high)."""
    return min(max(x, low), high)


def unit(x):
    """Held within 0 and 1; what is not a number becomes 0."""
    x = select(x > f(0), x, f(0))
    return select(x < f(1), x, f(1))


def held(x):
    """Held within the range of finite numbers."""
    return clamp(x, f(-LARGEST), f(LARGEST))


def mix(x, y, amount):
    """x * (1 - amount) + y * amount."""
    return x * (f(1) - amount) + y * amount


def wide_mix(x, y, amount):
    """In double precision, whose range no product of three single numbers leaves."""
    amount = wide(amount)
    return narrow(wide(x) * (1.0 - amount) + wide(y) * amount)


def step(edge, x):
    """0 below the edge, 1 from the edge up."""
    return select(x < edge, f(0), f(1))


def smoothstep(edge0, edge1, x):
    """0 to 1 between the edges, flat at both; a step where they are equal."""
    # One division for all pixels where the edges are the same for all; what rounding took from it is put back.
    way, whole = x - edge0, edge1 - edge0
    share = f(1) / whole
    t = way * share
    t = unit(t + (way - t * whole) * share)
    t = select(edge0 == edge1, step(edge0, x), t)
    return t * t * (f(3) - f(2) * t)


def wide_smoothstep(edge0, edge1, x):
    """Everything a quarter as large, so that no difference leaves the range."""
    return smoothstep(f(0.25) * edge0, f(0.25) * edge1, f(0.25) * x)
