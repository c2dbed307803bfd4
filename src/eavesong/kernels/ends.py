"""What a row of cues' kernels begins and ends with: darkness, and the steps of light that drive curves tell apart."""

from __future__ import annotations

from numpy import float32 as f

from eavesong.kernels import blend_fast as blend_fast  # between both ends stands what imports this
from eavesong.kernels.basics import unit
from eavesong.kernels.words import TILE, bits_float, load, store, tile, to_int
from eavesong.light import LEVELS


def dark(light):
    """No light in any pixel."""
    for n in tile():
        for channel in range(3):
            store(light, n + channel * TILE, f(0))


def steps(light):
    """Light as steps of LEVELS, whole numbers in its place."""
    for n in tile():
        for channel in range(3):
            level = unit(load(light, n + channel * TILE))
            store(light, n + channel * TILE, bits_float(to_int(level * f(LEVELS - 1) + f(0.5))))
