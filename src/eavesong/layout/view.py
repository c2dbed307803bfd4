"""The house as an eye in the street sees it: areas, fields of 10 degrees, and parts of the view.

Sources: WCAG 2.2, general flash (a 10 degree field, a quarter of it) with technique G176.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from eavesong.layout.house import Layout

Floats = NDArray[np.float64]
Indices = NDArray[np.int32]

DISTANCE = 10.0
"""Metres from the nearest eye to the display, where the layout says nothing else."""

NEAREST_EYE, FARTHEST_EYE = 1.0, 10_000.0
"""Metres from which eyes may be said to look."""

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
        self.used, self.cell = np.unique(row * self.shape[1] + column, return_inverse=True)
        """The cells that have pixels, as ``row * columns + column``; (n,): which of them each pixel is in."""
        self.areas = areas

    def squares(self, size: int) -> tuple[Indices, Indices]:
        """Squares of ``size`` cells, slid over the view cell by cell: in order, each number (k,) with one of the used
        cells (k,) inside it. Squares that hold no pixel are left out, so a wide and empty view costs nothing.
        """
        row, column = np.divmod(self.used, self.shape[1])
        top, right = (max(0, cells - size) for cells in self.shape)
        found = []
        for down in range(size):
            for left in range(size):
                low, side = row - down, column - left
                inside = np.flatnonzero((low >= 0) & (low <= top) & (side >= 0) & (side <= right))
                found.append(np.stack([low[inside] * (right + 1) + side[inside], inside]))
        square, cell = np.concatenate(found, axis=1)
        order = np.lexsort((cell, square))
        _, number = np.unique(square[order], return_inverse=True)
        return number.astype(np.int32), cell[order].astype(np.int32)

    def areas_of(self, places: NDArray[np.bool_]) -> Floats:
        """(f, cells) square metres that ``places`` (f, n), a set of pixels in each frame, cover in each cell."""
        order, starts = self._sorted
        return np.asarray(np.add.reduceat(places[:, order] * self.areas[order], starts, axis=1))

    def largest_shares(self, areas: Floats) -> Floats:
        """(f,) the largest share of any field that is covered, 1 at most; never less than it is.

        areas: as ``areas_of`` gives them. They are added over one cell more than a field has, so that no position of
        the field is missed.
        """
        inside, starts = self._wide
        fields = np.add.reduceat(areas[:, inside], starts, axis=1)
        return np.asarray(np.minimum(1.0, fields.max(axis=1) / self.field_area))

    @cached_property
    def _sorted(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """The pixels in the order of their cells, and where each cell's begin."""
        order = np.argsort(self.cell.reshape(-1), kind="stable")
        return order, np.searchsorted(self.cell.reshape(-1)[order], np.arange(len(self.used)))

    @cached_property
    def _wide(self) -> tuple[Indices, NDArray[np.intp]]:
        """The cells of every square, one after the other, and where each square's begin."""
        number, inside = self.squares(CELLS + 1)
        return inside, np.searchsorted(number, np.arange(number[-1] + 1))


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


def parts_of(layout: Layout, distance: float | None = None) -> Parts:
    """The parts of a layout's view: squares of SCALES cells, slid over it cell by cell.

    distance: metres from which it is looked at; None: those that the layout says. A part that has the same pixels and
    room as another is left out.
    """
    areas = pixel_areas(layout)
    fields = Fields(layout, areas, layout.watched_from if distance is None else distance)
    of_cells = np.bincount(fields.cell, areas)
    found: dict[tuple[bytes, float], None] = {}
    for size in SCALES:
        least = LEAST * (size * fields.width / CELLS) ** 2
        number, inside = fields.squares(size)
        rooms = np.maximum(np.bincount(number, of_cells[inside]), least)
        for cells, room in zip(np.split(inside, np.flatnonzero(np.diff(number)) + 1), rooms.tolist(), strict=True):
            found[cells.tobytes(), room] = None
    members = [np.frombuffer(cells, np.int32) for cells, _ in found]
    starts = np.cumsum([0, *map(len, members)]).astype(np.int32)
    rooms = np.array([room for _, room in found], np.float64)
    return Parts(fields.cell.astype(np.int32).reshape(-1), areas, starts, np.concatenate(members), rooms)
