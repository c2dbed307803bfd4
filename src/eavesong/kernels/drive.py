"""From linear light to the bytes that drive the pixels: the one place where light becomes duty."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from eavesong.kernels.fast import MATHS, unit
from eavesong.kernels.lanes import (
    TILE,
    bits_float,
    float_bits,
    floats_at,
    load,
    load_own,
    put_word,
    shift_left,
    store,
    to_int,
    xor_bits,
)

DRIVE_LEVELS = 4096
"""Steps of light that a drive curve tells apart: 16 for every step of an 8-bit duty."""

ORDER_LETTERS = "RGBW"


def drive_curve(brightness: float, gamma: float) -> NDArray[np.int32]:
    """The duty, 0..255, for each of DRIVE_LEVELS steps of linear light: ``255 * brightness * light ** gamma``.

    brightness: 0..1. gamma: above 0; 1 drives the pixel in proportion to the light asked for, which is right
    for pulse-width-modulated pixels; more darkens the low end.
    """
    light = np.arange(DRIVE_LEVELS) / (DRIVE_LEVELS - 1)
    return np.floor(255.0 * brightness * light**gamma + 0.5).astype(np.int32)


@njit(nogil=True, fastmath=MATHS, error_model="numpy", inline="never")
def _levels(light, levels):
    """Light to steps of DRIVE_LEVELS, as the bits of floats, which is what the gathers below read."""
    for n in range(3 * TILE):
        store(levels, n, bits_float(to_int(unit(load_own(light, n)) * np.float32(DRIVE_LEVELS - 1) + np.float32(0.5))))


@njit(nogil=True, error_model="numpy", inline="never")
def _words_of_three(levels, curve, words, first, last, red, green, blue):
    """Each pixel's three bytes in one word, the first to be sent lowest."""
    for n in range(first, last):
        r = shift_left(float_bits(load(curve, float_bits(load_own(levels, n)))), red)
        g = shift_left(float_bits(load(curve, float_bits(load_own(levels, n + TILE)))), green)
        b = shift_left(float_bits(load(curve, float_bits(load_own(levels, n + 2 * TILE)))), blue)
        store(words, n, bits_float(xor_bits(xor_bits(r, g), b)))


@njit(nogil=True, error_model="numpy", inline="never")
def _words_of_four(levels, curve, words, first, last, red, green, blue, white):
    """The same of four bytes: white takes what red, green and blue have in common."""
    for n in range(first, last):
        r, g = float_bits(load_own(levels, n)), float_bits(load_own(levels, n + TILE))
        b = float_bits(load_own(levels, n + 2 * TILE))
        w = min(r, min(g, b))
        word = shift_left(float_bits(load(curve, r - w)), red)
        word = xor_bits(word, shift_left(float_bits(load(curve, g - w)), green))
        word = xor_bits(word, shift_left(float_bits(load(curve, b - w)), blue))
        word = xor_bits(word, shift_left(float_bits(load(curve, w)), white))
        store(words, n, bits_float(word))


@njit(nogil=True, error_model="numpy", inline="never")
def _put(words, first, last, address, width):
    """Words to bytes, ``width`` of each; a word of three spills a fourth byte that the next one overwrites."""
    for n in range(first, last - 1):
        put_word(address, np.int32(words[n]))
        address += width


@njit(nogil=True, error_model="numpy")
def drive_tile(light, levels, words, first_pixel, strings, first_string, curves, out):
    """Write one tile's bytes into one frame.

    light: float32 (3, TILE) linear light. levels: float32 (3, TILE), words: float32 (TILE,): scratch.
    first_pixel: of the tile. strings: int64 (s, 8), sorted: first pixel, end pixel, first channel, curve, place
    of red, green, blue, white (-1 where there is none) within the pixel's bytes; first_string: the first that
    reaches into the tile. curves: int32 (k, DRIVE_LEVELS), each entry 0..255. out: uint8 (channels,).
    A pixel with a white channel gives white what red, green and blue have in common (common practice).
    """
    light_at, levels_at = floats_at(light.ctypes.data), floats_at(levels.ctypes.data)
    words_at, curves_at = floats_at(words.ctypes.data), np.int64(curves.ctypes.data)
    bits = words.view(np.int32)
    _levels(light_at, levels_at)
    end_pixel = first_pixel + TILE
    for s in range(first_string, len(strings)):
        start, end, channel, curve, red, green, blue, white = strings[s]
        if start >= end_pixel:
            break
        first, last = max(start, first_pixel) - first_pixel, min(end, end_pixel) - first_pixel
        width = 3 if white < 0 else 4
        at = channel + (first + first_pixel - start) * width
        table = floats_at(curves_at + curve * DRIVE_LEVELS * 4)
        r, g, b, w = np.int32(8 * red), np.int32(8 * green), np.int32(8 * blue), np.int32(8 * white)
        if white < 0:
            _words_of_three(levels_at, table, words_at, first, last, r, g, b)
        else:
            _words_of_four(levels_at, table, words_at, first, last, r, g, b, w)
        _put(bits, first, last, np.int64(out.ctypes.data) + at, width)
        for k in range(width):
            out[at + (last - 1 - first) * width + k] = (bits[last - 1] >> (8 * k)) & 255
