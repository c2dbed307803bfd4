"""Linear light of a tile of pixels from the bytes of a frame, plane after plane, worded so that it vectorises."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.lanes import add_bits, bits_float, byte_at, float_bits, inner, load_own, select, store
from eavesong.kernels.planes import LANES

WHITE, CURVE = 3 * LANES, 4 * LANES

ZERO, ONE = np.float32(0), np.float32(1)


@inner
def light_of_three(row, tables, where, at, plane):
    """Light of the tile's pixels from the bytes of one frame at address ``row``: three planes from ``plane`` on."""
    for n in range(LANES):
        curve = float_bits(load_own(where, n + CURVE))
        for colour in range(3):
            byte = byte_at(row, float_bits(load_own(where, n + colour * LANES)))
            store(at, n + plane + colour * LANES, load_own(tables, add_bits(curve, byte)))


@inner
def light_of_four(row, tables, where, at, plane):
    """The same where some of the pixels have white: it is added to the other three, 1 at most."""
    for n in range(LANES):
        curve = float_bits(load_own(where, n + CURVE))
        place = float_bits(load_own(where, n + WHITE))
        white = load_own(tables, add_bits(curve, byte_at(row, max(place, np.int32(0)))))
        white = select(place >= 0, white, ZERO)
        for colour in range(3):
            byte = byte_at(row, float_bits(load_own(where, n + colour * LANES)))
            light = load_own(tables, add_bits(curve, byte)) + white
            store(at, n + plane + colour * LANES, select(light > ONE, ONE, light))


@inner
def look_up(where, places, curves, start, count):
    """Fill the tile's look-up planes; whether any of its pixels has white. Lanes beyond the last pixel repeat it."""
    any_white = False
    for n in range(LANES):
        p = start + min(n, count - 1)
        for colour in range(4):
            store(where, n + colour * LANES, bits_float(np.int32(places[p, colour])))
        store(where, n + CURVE, bits_float(np.int32(256 * curves[p])))
        any_white = any_white or places[p, 3] >= 0
    return any_white
