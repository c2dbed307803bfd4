"""What the lights spill on the ground: gathered on a map of it, spread, and seen as the eye sees the ground.

A light throws as much down as any other; the higher it hangs, the wider that spreads. Two spreads stand for all
heights.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from eavesong.preview.glow import half_bell, shape_at, stamps
from eavesong.preview.view import Projection

Singles = NDArray[np.float32]

SPREADS = ((0.7, 0.30), (2.4, 0.30))
"""(metres, amount) of the light of low and of high lights on the ground."""
HIGH = 1.5
"""Metres above the ground from which on a light is high."""
BEYOND = 8.0
"""Metres round the house that are on the map."""
MOST_CELLS = 128
"""Of the map, along either side."""


class Ground:
    """The ground before and behind a house, ready to be lit frame after frame."""

    def __init__(
        self, metres: Singles, height: float, projection: Projection, size: tuple[int, int], level: int, free: Singles
    ) -> None:
        """metres: (n, 3) the lights. height: that of the ground. level: how often the canvas is halved that is lit.

        free: (height, width) of such a canvas: how much of each of its elements no wall hides.
        """
        places = metres[:, [0, 2]].astype(np.float64)
        self.low = places.min(axis=0) - BEYOND
        across = places.max(axis=0) + BEYOND - self.low
        self.cell = max(0.4, float(across.max()) / (MOST_CELLS - 2))
        wide, deep = (int(each / self.cell) + 2 for each in across)
        self.shape = (deep, 3, wide)
        columns, rows = ((places - self.low) / self.cell + 0.5).astype(np.float32).T
        high = metres[:, 1] - height > HIGH
        self.maps = []
        for up, (spread, amount) in zip((False, True), SPREADS, strict=True):
            own = stamps(columns, rows, self.shape, 0, 0.0, np.where(high == up, amount, 0.0))
            self.maps.append((own, half_bell(spread / self.cell)))
        self._see(projection, height, size, level, free)

    def _see(self, projection: Projection, height: float, size: tuple[int, int], level: int, free: Singles) -> None:
        """Which cells of the map each element of the canvas shows, and how much of each."""
        down, _, across = shape_at(size, level)
        step = 2**level
        row, column = (np.ravel(each) for each in np.mgrid[0:down, 0:across])
        rise = (projection.centre[1] - (row + 0.5) * step) / projection.focal
        right = ((column + 0.5) * step - projection.centre[0]) / projection.focal
        rays = np.stack([right, rise, np.full(len(row), -1.0)], axis=1) @ projection.axes
        fall = projection.eye[1] - height
        away = np.where(rays[:, 1] < -1e-6, fall / np.maximum(-rays[:, 1], 1e-6), 0.0)
        x, z = ((projection.eye + away[:, None] * rays)[:, [0, 2]] - self.low).T / self.cell
        inside = (away > 0) & (x >= 0) & (z >= 0) & (x < self.shape[2] - 1) & (z < self.shape[0] - 1)
        at = np.flatnonzero(inside & (free.ravel() > 0))
        self.at = (row[at] * 3 * across + column[at]).astype(np.uintp)
        x, z = x[at], z[at]
        left, back = x.astype(np.int64), z.astype(np.int64)
        over, fore = x - left, z - back
        first, line = back * 3 * self.shape[2] + left, 3 * self.shape[2]
        self.cells = np.stack([first, first + 1, first + line, first + line + 1]).astype(np.uintp)
        parts = np.stack([(1 - over) * (1 - fore), over * (1 - fore), (1 - over) * fore, over * fore])
        self.parts = (parts * free.ravel()[at]).astype(np.float32)

    def spill(self, light: Singles, hand: Any, canvas: Singles) -> None:
        """Add what ``light`` (n, 3) spills on the ground to a canvas (h, 3, w).

        hand: who draws, ``brush`` or ``paint``.
        """
        if not len(self.at):
            return
        ground = np.zeros(self.shape, np.float32)
        for own, bell in self.maps:
            spread = np.zeros(self.shape, np.float32)
            hand.stamp(own, light, spread)
            hand.blur(spread, bell, bell)
            ground += spread
        hand.lay(self.at, self.cells, self.parts, ground, canvas)
