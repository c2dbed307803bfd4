"""Eyes for a house: what the checks and softening look at frames with."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels.eyes import Bytes, Changes, Eyes, Light, Regions, Run, SeenPixels, one_by_one
from eavesong.kernels.thresholds import LIMIT
from eavesong.layout.view import parts_of
from eavesong.processors import processors

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.within.rig import Rig

LEAST = 1024
"""Pixels that are worth a thread of their own."""


def eyes_of(layout: Layout, rig: Rig, frame_rate: float, distance: float | None = None, limit: int = LIMIT) -> Eyes:
    """Eyes that have seen nothing yet, ``distance`` metres from the house, or as far as its layout says; ``limit``
    changes in a second pass.

    A second holds the frames that begin within it: 40 at 40 a second, so that three even flashes a second pass for
    ever.
    """
    parts = parts_of(layout, distance)
    regions = Regions(parts.cell, parts.area, parts.starts, parts.members, parts.room)
    pixels = SeenPixels(rig.places, rig.curves, rig.tables)
    return Eyes.opened(pixels, regions, rig.channel_count, math.ceil(frame_rate - 1e-6), limit)


class Crew:
    """Works with as many threads as there are processors, and pixels to share among them."""

    def __init__(self, pixel_count: int) -> None:
        self.ways = max(1, min(processors(), pixel_count // LEAST))
        self.pool = ThreadPoolExecutor(self.ways)

    def look(
        self, eyes: Eyes, block: Bytes, chosen: NDArray[np.intp] | None = None, mixed: Light | None = None
    ) -> tuple[Changes, Eyes]:
        """What the eyes see in the next frames (f, channels), and the eyes after them; all else as ``Eyes.on``."""
        return eyes.on(block, *self._ways(block), chosen, mixed)

    def mixed(self, eyes: Eyes, block: Bytes) -> Light:
        """Light of the display and of its parts: see ``Eyes.mixed``."""
        return eyes.mixed(block, *self._ways(block))

    def _ways(self, block: Bytes) -> tuple[Run, int]:
        if self.ways == 1 or len(block) < self.ways:
            return one_by_one, 1
        return lambda work, numbers: list(self.pool.map(work, numbers)), self.ways

    def share(self, work: Callable[[int, int], None], count: int) -> None:
        """Call ``work`` with the first and the end of some ranges that make up all numbers below ``count``."""
        edges = np.linspace(0, count, self.ways + 1).astype(int).tolist()
        if self.ways == 1:
            work(0, count)
        else:
            list(self.pool.map(work, edges[:-1], edges[1:]))
