"""Eyes for a house: what the checks and softening look at frames with."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from eavesong.kernels.eyes import Eyes, Pixels, Regions
from eavesong.kernels.flash import LIMIT
from eavesong.layout.view import DISTANCE, parts_of

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.render.rig import Rig


def eyes_of(layout: Layout, rig: Rig, frame_rate: float, distance: float = DISTANCE, limit: int = LIMIT) -> Eyes:
    """Eyes that have seen nothing yet, ``distance`` metres from the house; ``limit`` changes in a second pass.

    A second holds the frames that begin within it: 40 at 40 a second, so that three even flashes a second pass for
    ever.
    """
    parts = parts_of(layout, distance)
    regions = Regions(parts.cell, parts.area, parts.starts, parts.members, parts.room)
    pixels = Pixels(rig.places, rig.curves, rig.tables)
    return Eyes.opened(pixels, regions, rig.channel_count, math.ceil(frame_rate - 1e-6), limit)
