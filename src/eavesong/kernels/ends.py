"""What a row of cues' kernels begins and ends with: darkness, and the bytes that drive
pixels or the steps of light that their curves tell apart."""

from __future__ import annotations

from numpy import float32 as f
from numpy import int32 as i

from eavesong.kernels import blend_fast as blend_fast  # between both ends stands what imports this
from eavesong.kernels.words import (
    TILE,
    and_bits,
    bits_float,
    byte_in,
    leave,
    load,
    shift_left,
    store,
    store_three,
    tile,
    to_int,
    xor_bits,
)
from eavesong.light import LEVELS


def dark(light):
    """No light in any pixel."""
    for n in tile():
        for channel in range(3):
            store(light, n + channel * TILE, f(0))


def _step(light, place):
    """The step of LEVELS that light is next to.

    Blending leaves light within 0 and 1 but for what rounding adds, which is far from the next step: nothing is held.
    """
    return and_bits(to_int(load(light, place) * f(LEVELS - 1) + f(0.5)), i(LEVELS - 1))


def steps(light):
    """Light as steps, whole numbers in its place."""
    for n in tile():
        for channel in range(3):
            store(light, n + channel * TILE, bits_float(_step(light, n + channel * TILE)))


def driven(light, curve, order, out):
    """Light as three bytes of each pixel. curve: a byte for each step; order: by how many bits each is shifted."""
    for n in tile():
        word = i(0)
        for channel in range(3):
            byte = byte_in(curve, _step(light, n + channel * TILE))
            word = xor_bits(word, shift_left(byte, to_int(load(order, channel))))
            leave(light, n + channel * TILE)
        store_three(out, word)
