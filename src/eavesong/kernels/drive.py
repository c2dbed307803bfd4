"""From linear light to the bytes that drive the pixels, through the curves that `eavesong.light` makes."""

from __future__ import annotations

import numpy as np
from numba import njit

from eavesong.kernels.lanes import (
    TILE,
    byte_at,
    float_bits,
    floats_at,
    load_own,
    put_word,
    shift_left,
    xor_bits,
)
from eavesong.light import LEVELS


@njit(nogil=True, error_model="numpy")
def _word_of_three(levels, n, curve, red, green, blue):
    """A pixel's three bytes in one word, the first to be sent lowest; red, green, blue say how far each is shifted."""
    r = shift_left(byte_at(curve, float_bits(load_own(levels, n))), red)
    g = shift_left(byte_at(curve, float_bits(load_own(levels, n + TILE))), green)
    b = shift_left(byte_at(curve, float_bits(load_own(levels, n + 2 * TILE))), blue)
    return xor_bits(xor_bits(r, g), b)


@njit(nogil=True, error_model="numpy")
def _word_of_four(levels, n, curve, red, green, blue, white):
    """The same of four bytes: white takes what red, green and blue have in common."""
    r, g = float_bits(load_own(levels, n)), float_bits(load_own(levels, n + TILE))
    b = float_bits(load_own(levels, n + 2 * TILE))
    w = min(r, min(g, b))
    word = shift_left(byte_at(curve, np.int32(r - w)), red)
    word = xor_bits(word, shift_left(byte_at(curve, np.int32(g - w)), green))
    word = xor_bits(word, shift_left(byte_at(curve, np.int32(b - w)), blue))
    return xor_bits(word, shift_left(byte_at(curve, w), white))


@njit(nogil=True, error_model="numpy")
def drive_tile(steps, first_pixel, strings, first_string, curves, out):
    """Write one tile's bytes into one frame.

    steps: float32 (3, TILE), steps of light as ``ends.steps`` leaves them. first_pixel: of the tile. strings: int64
    (s, 8), sorted: first pixel, end pixel, first channel, curve, place of red, green, blue, white (-1 where there is
    none) within the pixel's bytes; first_string: the first that reaches into the tile. curves: uint8 (k, LEVELS). out:
    uint8 (channels,). A pixel with a white channel gives white what red, green and blue have in common (common
    practice).
    """
    levels_at = floats_at(steps.ctypes.data)
    end_pixel = first_pixel + TILE
    for s in range(first_string, len(strings)):
        start, end, channel, curve = strings[s, 0], strings[s, 1], strings[s, 2], strings[s, 3]
        red, green, blue, white = strings[s, 4], strings[s, 5], strings[s, 6], strings[s, 7]
        if start >= end_pixel:
            break
        first, last = max(start, first_pixel) - first_pixel, min(end, end_pixel) - first_pixel - 1
        width = 3 if white < 0 else 4
        at = channel + (first + first_pixel - start) * width
        table = np.int64(curves.ctypes.data) + curve * LEVELS
        r, g, b, w = np.int32(8 * red), np.int32(8 * green), np.int32(8 * blue), np.int32(8 * white)
        # A word of three bytes spills a fourth, which the next pixel overwrites; the last one goes byte by byte.
        address = np.int64(out.ctypes.data) + at
        if white < 0:
            for n in range(first, last):
                put_word(address, _word_of_three(levels_at, n, table, r, g, b))
                address += 3
            word = _word_of_three(levels_at, last, table, r, g, b)
        else:
            for n in range(first, last):
                put_word(address, _word_of_four(levels_at, n, table, r, g, b, w))
                address += 4
            word = _word_of_four(levels_at, last, table, r, g, b, w)
        for k in range(width):
            out[at + (last - first) * width + k] = (word >> (8 * k)) & 255
