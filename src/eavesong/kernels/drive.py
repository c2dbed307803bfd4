"""From linear light to the bytes that drive the pixels, through the curves that `eavesong.light` makes."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.lanes import TILE, byte_at, copy_byte, float_bits, floats_at, inner, load_own
from eavesong.light import LEVELS


@inner
def _drive_three(steps, n, curve, red, green, blue):
    """Write a pixel's three bytes, each at its address."""
    copy_byte(red, byte_at(curve, float_bits(load_own(steps, n))))
    copy_byte(green, byte_at(curve, float_bits(load_own(steps, n + TILE))))
    copy_byte(blue, byte_at(curve, float_bits(load_own(steps, n + 2 * TILE))))


@inner
def _drive_four(steps, n, curve, red, green, blue, white):
    """The same of four bytes: white takes what red, green and blue have in common."""
    r, g = float_bits(load_own(steps, n)), float_bits(load_own(steps, n + TILE))
    b = float_bits(load_own(steps, n + 2 * TILE))
    w = min(r, min(g, b))
    copy_byte(red, byte_at(curve, np.int32(r - w)))
    copy_byte(green, byte_at(curve, np.int32(g - w)))
    copy_byte(blue, byte_at(curve, np.int32(b - w)))
    copy_byte(white, byte_at(curve, w))


@inner
def drive_tile(steps, first_pixel, strings, first_string, curves, out):
    """Write one tile's bytes into one frame.

    steps: float32 (3, TILE), steps of light as ``ends.steps`` leaves them. first_pixel: of the tile. strings: int64
    (s, 8), sorted: first pixel, end pixel, first channel, curve, place of red, green, blue, white (-1 where there is
    none) within the pixel's bytes; first_string: the first that reaches into the tile. curves: uint8 (k, LEVELS). out:
    uint8 (channels,). A pixel with a white channel gives white what red, green and blue have in common (common
    practice).
    """
    steps_at = floats_at(steps.ctypes.data)
    end_pixel = first_pixel + TILE
    for s in range(first_string, len(strings)):
        start, end, channel, curve = strings[s, 0], strings[s, 1], strings[s, 2], strings[s, 3]
        red, green, blue, white = strings[s, 4], strings[s, 5], strings[s, 6], strings[s, 7]
        if start >= end_pixel:
            break
        first, last = max(start, first_pixel) - first_pixel, min(end, end_pixel) - first_pixel
        width = 3 if white < 0 else 4
        at = np.int64(out.ctypes.data) + channel + (first + first_pixel - start) * width
        table = np.int64(curves.ctypes.data) + curve * LEVELS
        if white < 0:
            for n in range(first, last):
                _drive_three(steps_at, n, table, at + red, at + green, at + blue)
                at += 3
        else:
            for n in range(first, last):
                _drive_four(steps_at, n, table, at + red, at + green, at + blue, at + white)
                at += 4
