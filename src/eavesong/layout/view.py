"""The house as an eye in the street sees it: areas, fields of 10 degrees, and parts of the view.

Sources: WCAG 2.2, general flash (a 10 degree field, a quarter of it) with technique G176.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from eavesong.layout.house import Layout

Floats = NDArray[np.float64]
Indices = NDArray[np.int32]

DISTANCE = 10.0
"""Metres from the nearest eye to the display, where nothing else is said."""

FIELD_DEGREES = 10.0
"""The field of view within which areas are added up (WCAG 2.2, general flash)."""

CELLS = 4
"""Cells across a field: it slides by a quarter of its width."""

SCALES = (2, 4)
"""Cells across the parts whose light is added up: a quarter of a field, which is the least that may do harm
(WCAG 2.2), and a whole one."""

LEAST = 0.25
"""Share of a part that has pixels, at least: where there are fewer, the dark between them counts up to this share."""

LONE = 0.05
"""Metres across that a pixel without a neighbour is taken to be."""


def pixel_areas(layout: Layout) -> Floats:
    """(n,) square metres each pixel stands for: its pitch along the wire by that across, or squared.

    The pitch is the distance to the nearer neighbour on the wire, so that a leap to the next row is none.
    """
    pixels = layout.pixels
    places = np.stack([pixels.X, pixels.Y, pixels.Z], axis=1).astype(np.float64)
    apart = np.sqrt((np.diff(places, axis=0) ** 2).sum(axis=1))
    apart = np.where(pixels.prop[1:] == pixels.prop[:-1], apart, np.inf)
    along = np.minimum(np.append(np.inf, apart), np.append(apart, np.inf))
    across = np.sqrt(sum(pixels.across[axis].astype(np.float64) ** 2 for axis in "XYZ"))
    along = np.where((along > 0) & (along < np.inf), along, LONE)
    return np.asarray(along * np.where(across > 0, across, along))


class Fields:
    """A grid of cells over the view, and areas added up within any 10 degree field, as seen from the street."""

    def __init__(self, layout: Layout, areas: Floats, distance: float) -> None:
        self.width = 2 * distance * math.tan(math.radians(FIELD_DEGREES / 2))
        """Metres across the field: 0.175 of the distance."""
        self.steradians = 2 * math.pi * (1 - math.cos(math.radians(FIELD_DEGREES / 2)))
        self.field_area = self.steradians * distance**2
        cell = self.width / CELLS
        x, y = layout.pixels.X.astype(np.float64), layout.pixels.Y.astype(np.float64)
        column = ((x - x.min()) / cell).astype(np.int64)
        row = ((y - y.min()) / cell).astype(np.int64)
        self.shape = (int(row.max()) + 1, int(column.max()) + 1)
        self.cell = row * self.shape[1] + column
        self.areas = areas

    def largest_share(self, places: NDArray[np.bool_]) -> float:
        """The largest share of any field that ``places`` (n,) cover, 1 at most; never less than it is.

        Areas are added over one cell more than a field has, so that no position of the field is missed.
        """
        cells = np.bincount(self.cell[places], self.areas[places], self.shape[0] * self.shape[1]).reshape(self.shape)
        sums = np.pad(np.cumsum(np.cumsum(cells, axis=0), axis=1), ((1, 0), (1, 0)))
        span = CELLS + 1
        top = np.minimum(np.arange(self.shape[0]) + span, self.shape[0])
        right = np.minimum(np.arange(self.shape[1]) + span, self.shape[1])
        low, left = np.arange(self.shape[0]), np.arange(self.shape[1])
        inside = sums[np.ix_(top, right)] - sums[np.ix_(low, right)] - sums[np.ix_(top, left)] + sums[np.ix_(low, left)]
        return float(min(1.0, inside.max() / self.field_area))


@dataclass(frozen=True, eq=False)
class Parts:
    """Parts of the view, each a square of cells, as ``kernels.mix`` takes them. Pixels of a part count together."""

    cell: Indices
    """(n,): the cell of each pixel, from 0; only cells that have pixels are counted."""
    area: Floats
    """(n,): square metres of each pixel."""
    starts: Indices
    """(m + 1,): where each part's cells begin in ``members``."""
    members: Indices
    """(k,): cells."""
    room: Floats
    """(m,): square metres over which a part's light is spread: those of its pixels, or LEAST of it if that is more."""

    def __len__(self) -> int:
        return len(self.room)

    def pixels(self, chosen: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """(n,): the pixels of the ``chosen`` (m,) parts."""
        inside = np.zeros(int(self.cell.max(initial=-1)) + 1, bool)
        for part in np.flatnonzero(chosen).tolist():
            inside[self.members[self.starts[part] : self.starts[part + 1]]] = True
        return inside[self.cell]


def parts_of(layout: Layout, distance: float = DISTANCE) -> Parts:
    """The parts of a layout's view from ``distance`` metres: squares of SCALES cells, slid over it cell by cell.

    A part that has the same pixels and room as another is left out.
    """
    areas = pixel_areas(layout)
    fields = Fields(layout, areas, distance)
    used, own = np.unique(fields.cell, return_inverse=True)
    number = np.full(fields.shape, -1)
    number.reshape(-1)[used] = np.arange(len(used))
    of_cells = np.bincount(own, areas)
    found: dict[tuple[tuple[int, ...], float], None] = {}
    for size in SCALES:
        least = LEAST * (size * fields.width / CELLS) ** 2
        for row in range(max(1, fields.shape[0] - size + 1)):
            for column in range(max(1, fields.shape[1] - size + 1)):
                inside = number[row : row + size, column : column + size]
                cells = tuple(inside[inside >= 0].tolist())
                if cells:
                    found[cells, max(least, float(of_cells[list(cells)].sum()))] = None
    counts = [len(cells) for cells, _ in found]
    return Parts(
        own.astype(np.int32).reshape(-1), areas, np.cumsum([0, *counts]).astype(np.int32),
        np.array([cell for cells, _ in found for cell in cells], np.int32),
        np.array([room for _, room in found], np.float64),
    )  # fmt: skip
