"""Lots and noise from the bits of numbers: the same everywhere, on any processor."""

from __future__ import annotations

from numpy import float32 as f
from numpy import int32 as i

from eavesong.kernels.basics import clamp, unit
from eavesong.kernels.exact import KEYS
from eavesong.kernels.words import add_bits, shift_left, shift_right, times_bits, to_float, to_int, xor_bits
from eavesong.kernels.words import floor as lane_floor


def _signed(value: int) -> i:
    return i(value - 2**32 if value >= 2**31 else value)


def _scramble(bits):
    bits = xor_bits(bits, shift_right(bits, i(16)))
    bits = times_bits(bits, _ROUND_1)
    bits = xor_bits(bits, shift_right(bits, i(15)))
    bits = times_bits(bits, _ROUND_2)
    return xor_bits(bits, shift_right(bits, i(16)))


_ROUND_1, _ROUND_2 = _signed(0x7FEB352D), _signed(0x846CA68B)
_WHOLE = _signed(0x27D4EB2F)
_KEYS = _KEY_1, _KEY_2, _KEY_3 = tuple(_signed(key) for key in KEYS)


def _bits(whole):
    return to_int(clamp(whole, f(-(2.0**30)), f(2.0**30)))


def _uniform(bits):
    return to_float(shift_right(_scramble(bits), i(8))) * f(2.0**-24)


def _key(x):
    whole = lane_floor(x)
    parts = to_int(unit(x - whole) * f(65536) + f(0.5))
    return add_bits(times_bits(_bits(whole), _WHOLE), parts)


def hash_part(x, place):
    """What x brings to a hash as its argument number ``place``, as bits."""
    return times_bits(_key(x), _KEYS[place])


def joined(high, low):
    """The bits of a part of which a pixel has both halves, see ``exact.hash_high``."""
    return add_bits(shift_left(to_int(high), i(16)), to_int(low))


def lot(part, *more):
    """A random number from 0 up to 1 that belongs to the parts of a hash."""
    for other in more:
        part = add_bits(part, other)
    return _uniform(part)


def hash1(x):
    """A random number from 0 up to 1 that belongs to x."""
    return lot(hash_part(x, 0))


def hash2(x, y):
    """A random number from 0 up to 1 that belongs to (x, y)."""
    return lot(hash_part(x, 0), hash_part(y, 1))


def hash3(x, y, z):
    """A random number from 0 up to 1 that belongs to (x, y, z)."""
    return lot(hash_part(x, 0), hash_part(y, 1), hash_part(z, 2))


def _fade(t):
    return t * t * t * (t * (t * f(6) - f(15)) + f(10))


def _line(bits, fade):
    """Noise between the lattice points ``bits`` and the next one along the first axis."""
    low = _uniform(bits)
    return low + fade * (_uniform(add_bits(bits, _KEY_1)) - low)


def _square(bits, fade_x, fade_y):
    low = _line(bits, fade_x)
    return low + fade_y * (_line(add_bits(bits, _KEY_2), fade_x) - low)


def noise1(x):
    """Smooth random hills 0..1 along a line, one a unit."""
    whole = lane_floor(x)
    return _line(times_bits(_bits(whole), _KEY_1), _fade(x - whole))


def noise2(x, y):
    """Smooth random hills 0..1 over a plane."""
    across, up = lane_floor(x), lane_floor(y)
    bits = add_bits(times_bits(_bits(across), _KEY_1), times_bits(_bits(up), _KEY_2))
    return _square(bits, _fade(x - across), _fade(y - up))


def noise3(x, y, z):
    """Smooth random hills 0..1 in space."""
    across, up, deep = lane_floor(x), lane_floor(y), lane_floor(z)
    bits = add_bits(times_bits(_bits(across), _KEY_1), times_bits(_bits(up), _KEY_2))
    bits = add_bits(bits, times_bits(_bits(deep), _KEY_3))
    fade_x, fade_y = _fade(x - across), _fade(y - up)
    low = _square(bits, fade_x, fade_y)
    return low + _fade(z - deep) * (_square(add_bits(bits, _KEY_3), fade_x, fade_y) - low)
