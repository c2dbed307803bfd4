"""The functions of the effect language in float64 numpy: the meaning that the fast kernels must reproduce.

Every function takes and returns float64 arrays of any (broadcast) shape and is *total*: it returns a finite
number for every finite argument. Where GLSL (OpenGL Shading Language 4.60, chapter 8) leaves a result undefined,
the docstring says what it is here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LARGEST = (2 - 2.0**-23) * 2.0**127
"""The end of the range of values: the largest single-precision number of IEEE 754, 3.4028235e38."""

PALETTE_SIZE = 256
"""Entries of a palette's look-up table."""

SPECTRUM_SIZE = 32
"""Bands of the spectrum."""

TILE = 1024
"""Pixels in one tile: its planes stay in the first-level cache, and every pixel of it runs the same vector code,
so a pixel has the same bits in whatever tile and place it lands. Divisible by every vector width."""


def add(x: Floats, y: Floats) -> Floats:
    """x + y."""
    return x + y


def subtract(x: Floats, y: Floats) -> Floats:
    """x - y."""
    return x - y


def multiply(x: Floats, y: Floats) -> Floats:
    """x * y."""
    return x * y


def divide(x: Floats, y: Floats) -> Floats:
    """x / y, and 0 where y is 0."""
    safe = np.where(y == 0, 1.0, y)
    return np.where(y == 0, 0.0, x / safe)


def negate(x: Floats) -> Floats:
    """-x."""
    return -x


def less(x: Floats, y: Floats) -> Floats:
    """1 where x < y, else 0."""
    return np.where(x < y, 1.0, 0.0)


def less_equal(x: Floats, y: Floats) -> Floats:
    """1 where x <= y, else 0."""
    return np.where(x <= y, 1.0, 0.0)


def equal(x: Floats, y: Floats) -> Floats:
    """1 where x == y, else 0."""
    return np.where(x == y, 1.0, 0.0)


def select(condition: Floats, x: Floats, y: Floats) -> Floats:
    """x where condition is not 0, else y."""
    return np.where(condition != 0, x, y)


def abs(x: Floats) -> Floats:
    """GLSL abs."""
    return np.abs(x)


def sign(x: Floats) -> Floats:
    """GLSL sign: 1, 0 or -1."""
    return np.sign(x)


def floor(x: Floats) -> Floats:
    """GLSL floor: the nearest whole number not above x."""
    return np.floor(x)


def ceil(x: Floats) -> Floats:
    """GLSL ceil: the nearest whole number not below x."""
    return -np.floor(-x)


def trunc(x: Floats) -> Floats:
    """GLSL trunc: the whole part, towards 0."""
    return np.trunc(x)


def round(x: Floats) -> Floats:
    """GLSL round; halves go up (GLSL leaves the direction open)."""
    whole = np.floor(x)
    return np.where(x - whole >= 0.5, whole + 1.0, whole)


def fract(x: Floats) -> Floats:
    """GLSL fract: x - floor(x)."""
    return x - np.floor(x)


def wrap(x: Floats) -> Floats:
    """Signed distance to the nearest whole number: x - round(x), from -0.5 up to 0.5."""
    return x - round(x)


def mod(x: Floats, y: Floats) -> Floats:
    """GLSL mod: x - y * floor(x / y), held within 0 and y, past which rounding may carry it; 0 where y is 0."""
    rest = x - y * np.floor(divide(x, y))
    return clamp(rest, np.minimum(y, 0.0), np.maximum(y, 0.0))


def min(x: Floats, y: Floats) -> Floats:
    """GLSL min."""
    return np.where(y < x, y, x)


def max(x: Floats, y: Floats) -> Floats:
    """GLSL max."""
    return np.where(x < y, y, x)


def clamp(x: Floats, low: Floats, high: Floats) -> Floats:
    """GLSL clamp: min(max(x, low), high); where low > high (undefined in GLSL) it is high."""
    return min(max(x, low), high)


def mix(x: Floats, y: Floats, amount: Floats) -> Floats:
    """GLSL mix: x * (1 - amount) + y * amount."""
    return x * (1.0 - amount) + y * amount


def step(edge: Floats, x: Floats) -> Floats:
    """GLSL step: 0 where x < edge, else 1."""
    return np.where(x < edge, 0.0, 1.0)


def smoothstep(edge0: Floats, edge1: Floats, x: Floats) -> Floats:
    """GLSL smoothstep: t * t * (3 - 2 t), t = clamp((x - edge0) / (edge1 - edge0), 0, 1).

    Where edge0 > edge1 (undefined in GLSL) the same formula falls instead of rising; where they are equal it is
    step(edge0, x).
    """
    t = np.clip(divide(x - edge0, edge1 - edge0), 0.0, 1.0)
    t = np.where(edge0 == edge1, step(edge0, x), t)
    return t * t * (3.0 - 2.0 * t)


def sqrt(x: Floats) -> Floats:
    """GLSL sqrt; 0 where x < 0."""
    return np.sqrt(np.maximum(x, 0.0))


def inversesqrt(x: Floats) -> Floats:
    """GLSL inversesqrt: 1 / sqrt(x); 0 where x <= 0."""
    return np.where(x > 0, 1.0 / np.sqrt(np.where(x > 0, x, 1.0)), 0.0)


def exp2(x: Floats) -> Floats:
    """GLSL exp2, with x held within -126 and 127."""
    return np.exp2(np.clip(x, -126.0, 127.0))


def exp(x: Floats) -> Floats:
    """GLSL exp, with x held within the range of exp2."""
    return exp2(x * 1.4426950408889634)


def log2(x: Floats) -> Floats:
    """GLSL log2, with x held at least 2**-126: log2(0) is -126."""
    return np.log2(np.maximum(x, 2.0**-126))


def log(x: Floats) -> Floats:
    """GLSL log, with x held at least 2**-126."""
    return log2(x) * 0.6931471805599453


def pow(x: Floats, y: Floats) -> Floats:
    """GLSL pow: x to the power y.

    Where GLSL leaves it undefined: pow(x, 0) is 1, pow(0, y) is 0, and a negative x gives the real power where y
    is whole and 0 elsewhere.
    """
    size = exp2(y * log2(np.abs(x)))
    whole = np.floor(y) == y
    odd = np.floor(y * 0.5) * 2.0 != y
    negative = np.where(whole, np.where(odd, -size, size), 0.0)
    power = np.where(x > 0, size, np.where(x < 0, negative, 0.0))
    return np.where(y == 0, 1.0, power)


def sin(x: Floats) -> Floats:
    """GLSL sin of radians."""
    return np.sin(x)


def cos(x: Floats) -> Floats:
    """GLSL cos of radians."""
    return np.cos(x)


def tan(x: Floats) -> Floats:
    """GLSL tan: sin(x) / cos(x)."""
    return divide(np.sin(x), np.cos(x))


def asin(x: Floats) -> Floats:
    """GLSL asin, with x held within -1 and 1."""
    return np.arcsin(np.clip(x, -1.0, 1.0))


def acos(x: Floats) -> Floats:
    """GLSL acos, with x held within -1 and 1."""
    return np.arccos(np.clip(x, -1.0, 1.0))


def atan(y: Floats, x: Floats) -> Floats:
    """GLSL atan(y, x), from -pi to pi; 0 where both are 0."""
    return np.arctan2(y + 0.0, x + 0.0)


def length2(x: Floats, y: Floats) -> Floats:
    """GLSL length of (x, y)."""
    return np.sqrt(x * x + y * y)


def length3(x: Floats, y: Floats, z: Floats) -> Floats:
    """GLSL length of (x, y, z)."""
    return np.sqrt(x * x + y * y + z * z)


def srgb_decode(x: Floats) -> Floats:
    """Linear light of an sRGB-encoded value held within 0 and 1 (IEC 61966-2-1:1999)."""
    x = np.clip(x, 0.0, 1.0)
    return np.where(x <= 0.04045, x / 12.92, ((x + 0.055) / 1.055) ** 2.4)


# --- pseudo-random numbers: integer arithmetic modulo 2**32, the same bits here and in the fast kernels ------------

KEYS = (0x9E3779B1, 0x85EBCA77, 0xC2B2AE3D)
"""Odd multipliers, one for each argument of a hash, that spread neighbouring numbers over 32 bits."""

_LIMIT = 2.0**30


def scramble(bits: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """A bijection of 32-bit numbers in which every input bit turns every output bit about half the time.

    Source: C. Wellons, "Prospecting for hash functions" (2018), the two-round multiply-xorshift 'lowbias32'.
    """
    bits = bits ^ (bits >> np.uint32(16))
    bits = bits * np.uint32(0x7FEB352D)
    bits = bits ^ (bits >> np.uint32(15))
    bits = bits * np.uint32(0x846CA68B)
    return bits ^ (bits >> np.uint32(16))


def _bits(whole: Floats) -> NDArray[np.uint32]:
    return np.clip(whole, -_LIMIT, _LIMIT).astype(np.int64).astype(np.uint32)


def _unit(bits: NDArray[np.uint32]) -> Floats:
    return (scramble(bits) >> np.uint32(8)).astype(np.float64) * 2.0**-24


def _key(x: Floats) -> NDArray[np.uint32]:
    whole = np.floor(x)
    # Added up in float32, as the fast kernel does, so that no number falls into another step there.
    parts = np.floor(np.float32((x - whole) * 65536.0) + np.float32(0.5))
    return _bits(whole) * np.uint32(0x27D4EB2F) + _bits(parts)


def hash1(x: Floats) -> Floats:
    """A number in 0..1, uniform, that looks random and is always the same for the same x.

    x is told apart in steps of 1/65536.
    """
    return _unit(_key(x) * np.uint32(KEYS[0]))


def hash2(x: Floats, y: Floats) -> Floats:
    """As hash1, of two numbers."""
    return _unit(_key(x) * np.uint32(KEYS[0]) + _key(y) * np.uint32(KEYS[1]))


def hash3(x: Floats, y: Floats, z: Floats) -> Floats:
    """As hash1, of three numbers."""
    keys = _key(x) * np.uint32(KEYS[0]) + _key(y) * np.uint32(KEYS[1]) + _key(z) * np.uint32(KEYS[2])
    return _unit(keys)


def _fade(t: Floats) -> Floats:
    """6 t^5 - 15 t^4 + 10 t^3, flat in slope and curvature at both ends (K. Perlin, "Improving Noise", 2002)."""
    return t * t * t * (t * (t * 6.0 - 15.0) + 10.0)


def _noise(*axes: Floats) -> Floats:
    wholes = [np.floor(axis) for axis in axes]
    fades = [_fade(axis - whole) for axis, whole in zip(axes, wholes, strict=True)]
    total: Floats = np.zeros(np.broadcast_shapes(*(np.shape(axis) for axis in axes)))
    for corner in range(2 ** len(axes)):
        bits = np.zeros(total.shape, np.uint32)
        weight: Floats | float = 1.0
        for axis, (whole, fade) in enumerate(zip(wholes, fades, strict=True)):
            up = corner >> axis & 1
            bits = bits + (_bits(whole) + np.uint32(up)) * np.uint32(KEYS[axis])
            weight = weight * (fade if up else 1.0 - fade)
        total = total + weight * _unit(bits)
    return total


def unit(x: Floats) -> Floats:
    """Held within 0 and 1; what is not a number becomes 0."""
    return np.where(x > 0, np.where(x < 1, x, 1.0), 0.0)


def hash_high(x: Floats, place: Floats) -> Floats:
    """The upper 16 bits of what ``x`` brings to a hash as its argument number ``place``; x as float32 has it."""
    return np.asarray(_part(x, place) >> np.uint32(16), np.float64)


def hash_low(x: Floats, place: Floats) -> Floats:
    """The lower 16 bits of the same."""
    return np.asarray(_part(x, place) & np.uint32(0xFFFF), np.float64)


def _part(x: Floats, place: Floats) -> NDArray[np.uint32]:
    key = np.array(KEYS, np.uint32)[np.clip(place, 0, len(KEYS) - 1).astype(np.int64)]
    return _key(np.asarray(x).astype(np.float32).astype(np.float64)) * key


def noise1(x: Floats) -> Floats:
    """Value noise in 0..1: random at whole numbers, smooth between (quintic fade), one cell a unit."""
    return _noise(x)


def noise2(x: Floats, y: Floats) -> Floats:
    """Value noise of two numbers."""
    return _noise(x, y)


def noise3(x: Floats, y: Floats, z: Floats) -> Floats:
    """Value noise of three numbers."""
    return _noise(x, y, z)


def table(p: Floats, rows: Floats) -> Floats:
    """Linear interpolation in the last axis of ``rows``, p from 0 (first entry) to 1 (last), held within.

    What is not a number reads the first entry.
    """
    size = rows.shape[-1]
    place = np.where(p > 0, np.minimum(p, 1.0), 0.0) * (size - 1)
    low = np.minimum(place.astype(np.int64), size - 2)
    part = place - low
    if rows.ndim == 1:
        return rows[low] * (1.0 - part) + rows[low + 1] * part
    low = np.broadcast_to(low, np.broadcast_shapes(low.shape, (rows.shape[0], 1)))
    below = np.take_along_axis(rows, low, axis=1)
    above = np.take_along_axis(rows, low + 1, axis=1)
    return below * (1.0 - part) + above * part
