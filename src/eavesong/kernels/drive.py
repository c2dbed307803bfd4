"""From linear light to the bytes that drive the pixels: the one place where light becomes duty."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from eavesong.kernels.fast import MATHS, unit
from eavesong.kernels.lanes import TILE, floor, to_int

DRIVE_LEVELS = 4096
"""Steps of light that a drive curve tells apart: 16 for every step of an 8-bit duty."""

ORDER_LETTERS = "RGBW"


def drive_curve(brightness: float, gamma: float) -> NDArray[np.uint8]:
    """The duty, 0..255, for each of DRIVE_LEVELS steps of linear light: ``255 * brightness * light ** gamma``.

    brightness: 0..1. gamma: above 0; 1 drives the pixel in proportion to the light asked for, which is right
    for pulse-width-modulated pixels; more darkens the low end.
    """
    light = np.arange(DRIVE_LEVELS) / (DRIVE_LEVELS - 1)
    return np.floor(255.0 * brightness * light**gamma + 0.5).astype(np.uint8)


@njit(nogil=True, fastmath=MATHS, error_model="numpy", inline="never")
def _levels(light, levels):
    for c in range(3):
        for n in range(TILE):
            levels[c, n] = to_int(floor(unit(light[c, n]) * np.float32(DRIVE_LEVELS - 1) + np.float32(0.5)))


@njit(nogil=True, error_model="numpy", inline="never")
def _write_three(levels, curve, first, last, out, channel, red, green, blue):
    for n in range(first, last):
        out[channel + red] = curve[levels[0, n]]
        out[channel + green] = curve[levels[1, n]]
        out[channel + blue] = curve[levels[2, n]]
        channel += 3


@njit(nogil=True, error_model="numpy", inline="never")
def _write_four(levels, curve, first, last, out, channel, red, green, blue, white):
    for n in range(first, last):
        r, g, b = levels[0, n], levels[1, n], levels[2, n]
        w = min(r, g, b)
        out[channel + red] = curve[r - w]
        out[channel + green] = curve[g - w]
        out[channel + blue] = curve[b - w]
        out[channel + white] = curve[w]
        channel += 4


@njit(nogil=True, error_model="numpy")
def drive_tile(light, levels, first_pixel, strings, first_string, curves, out):
    """Write one tile's bytes into one frame.

    light: float32 (3, TILE) linear light. levels: int32 (3, TILE), scratch. first_pixel: of the tile. strings:
    int64 (s, 8), sorted: first pixel, end pixel, first channel, curve, place of red, green, blue, white (-1
    where there is none) within the pixel's bytes; first_string: the first that reaches into the tile. curves:
    uint8 (k, DRIVE_LEVELS). out: uint8 (channels,). A pixel with a white channel gives white what red, green and
    blue have in common (common practice).
    """
    _levels(light, levels)
    end_pixel = first_pixel + TILE
    for s in range(first_string, len(strings)):
        start, end, channel, curve, red, green, blue, white = strings[s]
        if start >= end_pixel:
            break
        first, last = max(start, first_pixel), min(end, end_pixel)
        at = channel + (first - start) * (3 if white < 0 else 4)
        if white < 0:
            _write_three(levels, curves[curve], first - first_pixel, last - first_pixel, out, at, red, green, blue)
        else:
            _write_four(
                levels, curves[curve], first - first_pixel, last - first_pixel, out, at, red, green, blue, white
            )
