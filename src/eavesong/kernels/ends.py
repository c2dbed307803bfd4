"""What a row of cues' kernels begins and ends with: darkness, and the steps of light that drive curves tell apart."""

from __future__ import annotations

from numpy import float32 as f
from numpy import int32 as i

from eavesong.kernels import blend_fast as blend_fast  # between both ends stands what imports this
from eavesong.kernels.words import TILE, and_bits, bits_float, load, store, tile, to_int
from eavesong.light import LEVELS


def dark(light):
    """No light in any pixel."""
    for n in tile():
        for channel in range(3):
            store(light, n + channel * TILE, f(0))


def steps(light):
    """Light as steps of LEVELS, whole numbers in its place.

    Blending leaves light within 0 and 1 but for what rounding adds, which is far from the next step: nothing is held.
    """
    for n in tile():
        for channel in range(3):
            step = to_int(load(light, n + channel * TILE) * f(LEVELS - 1) + f(0.5))
            store(light, n + channel * TILE, bits_float(and_bits(step, i(LEVELS - 1))))
