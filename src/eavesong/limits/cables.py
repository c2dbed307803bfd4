"""Which links along a string are cables, and how long they are.

Those from prop to prop are, and inside a prop those that are longer than strings have from pixel to pixel. Strands
without zigzag, strings of a tree, and places measured one by one can lie so far apart; what joins them carries power
and data like what joins two props.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.layout.size import FARTHEST
from eavesong.limits.assumptions import Assumptions

Floats = NDArray[np.float64]
Pixels = NDArray[np.int64]
Bools = NDArray[np.bool_]

ROUNDED = 1e-3
"""Metres by which places of single precision may lie farther apart than was written."""


def links_of(layout: Layout, pixels: Pixels, assumed: Assumptions) -> tuple[Floats, Bools]:
    """Metres (n - 1,) of wire between neighbours on a string, and whether it is a cable (n - 1,).

    Along a string it is the way along the wire, the straight distance, or the spacing of the kind, whichever is most;
    a cable goes straight, with slack and spare. Inside a prop it begins beyond a metre, or beyond the spacing.
    """
    at, power = layout.pixels, layout.power
    places = np.stack([at.X, at.Y, at.Z], axis=1).astype(np.float64)[pixels]
    straight = np.linalg.norm(np.diff(places, axis=0), axis=1)
    along = np.abs(np.diff(at.along[pixels].astype(np.float64)))
    spacing = np.array([kind.spacing for kind in power.types])[power.type[pixels[1:]]]
    same = at.prop[pixels[1:]] == at.prop[pixels[:-1]]
    cable = ~same | (straight > np.maximum(FARTHEST, spacing) + ROUNDED)
    inside = np.where(same, np.maximum(np.maximum(straight, along), spacing), 0.0)
    direct = np.where(cable, straight * (1 + assumed.slack) + assumed.spare, 0.0)
    return np.maximum(inside, direct), cable
