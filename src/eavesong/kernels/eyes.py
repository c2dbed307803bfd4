"""Eyes on a film: changes of every pixel, of parts of the view and of the whole display, block after block."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels import planes
from eavesong.kernels.calls import follow, mix
from eavesong.kernels.planes import LANES

Bytes = NDArray[np.uint8]
Light = NDArray[np.float32]
Run = Callable[[Callable[[int], None], Iterable[int]], object]
"""Calls a function with each of some numbers, from as many threads as it likes."""


class SeenPixels(NamedTuple):
    """What bytes of the n pixels mean: see ``watch.follow``."""

    places: NDArray[np.int64]
    curves: NDArray[np.int16]
    tables: NDArray[np.float32]


class Regions(NamedTuple):
    """Which pixels count together: see ``mix.mix``."""

    cell: NDArray[np.int32]
    area: NDArray[np.float64]
    starts: NDArray[np.int32]
    members: NDArray[np.int32]
    room: NDArray[np.float64]


class Changes(NamedTuple):
    """Changes in the second up to each of f frames, where they are above the limit, else 0; general and red."""

    pixels: Bytes
    """(2, f, n)."""
    parts: Bytes
    """(2, f, 1 + m): of the whole display, and of the regions."""

    @property
    def passes(self) -> bool:
        """Whether nothing is above the limit."""
        return not (self.pixels.any() or self.parts.any())


@dataclass(frozen=True, eq=False)
class Follow:
    """Places of one kind, followed up to a frame: see ``watch.follow``."""

    state: NDArray[np.float32]
    history: Bytes

    @classmethod
    def of(cls, count: int, second: int) -> Follow:
        """``count`` places before the first frame, where ``second`` frames are a second."""
        return cls(np.zeros((planes.STATE, count), np.float32), np.zeros((second, count), np.uint8))

    def on(
        self,
        rows: Bytes,
        light: Light,
        lead: int,
        pixels: SeenPixels,
        at: int,
        limit: int,
        run: Run,
        ways: int,
    ) -> tuple[Bytes, Follow]:
        """Counts (2, f, count) in the frames from row ``lead`` on, and the places as they are after them."""
        n = self.state.shape[1]
        over = np.zeros((2, len(rows) - lead, n), np.uint8)
        after, history = np.empty_like(self.state), self.history.copy()
        edges = list(pairwise(np.linspace(0, n, max(1, min(ways, n // LANES)) + 1).astype(int).tolist()))

        def part(number: int) -> None:
            scratch = np.empty(planes.FOLLOWED, np.float32), np.empty((len(rows), planes.CLOSE), np.float32)
            follow(rows, light, lead, *pixels, self.state, after, history, at, *edges[number], limit, over, *scratch)

        run(part, range(len(edges)))
        return over, Follow(after, history)


@dataclass(frozen=True, eq=False)
class Eyes:
    """What is known of a film up to frame ``at``; looking on makes new ones, so that one can look on trial.

    What they see depends on no more than a second before each frame.
    """

    pixels: SeenPixels
    regions: Regions
    limit: int
    """Changes in a second that pass."""
    at: int
    rows: Bytes
    """(a second at most, channels): the last frames."""
    light: Light
    """(a second at most, 3, 1 + m): light of the display and of the regions in them."""
    of_pixels: Follow
    of_parts: Follow

    @classmethod
    def opened(cls, pixels: SeenPixels, regions: Regions, channels: int, second: int, limit: int) -> Eyes:
        """Eyes that have seen nothing yet. second: frames in it."""
        n, m = len(pixels.curves), 1 + len(regions.room)
        rows, light = np.zeros((0, channels), np.uint8), np.zeros((0, 3, m), np.float32)
        return cls(pixels, regions, limit, 0, rows, light, Follow.of(n, second), Follow.of(m, second))

    def on(self, block: Bytes, run: Run | None = None, ways: int = 1) -> tuple[Changes, Eyes]:
        """What is seen in the next frames (f, channels), and the eyes after them. ways: parts of work for ``run``."""
        run = run or _one_by_one
        rows, lead = np.concatenate([self.rows, block]), len(self.rows)
        light = np.concatenate([self.light, self._mixed(block, run, ways)])
        nothing = np.zeros((len(rows), 3, 0), np.float32)
        pixels, of_pixels = self.of_pixels.on(rows, nothing, lead, self.pixels, self.at, self.limit, run, ways)
        parts, of_parts = self.of_parts.on(rows, light, lead, self.pixels, self.at, self.limit, run, ways)
        second = len(self.of_pixels.history)
        eyes = Eyes(
            self.pixels, self.regions, self.limit, self.at + len(block), rows[-second:], light[-second:], of_pixels,
            of_parts,
        )  # fmt: skip
        return Changes(pixels, parts), eyes

    def _mixed(self, block: Bytes, run: Run, ways: int) -> Light:
        light = np.empty((len(block), 3, 1 + len(self.regions.room)), np.float32)
        edges = list(pairwise(np.linspace(0, len(block), ways + 1).astype(int).tolist()))
        cells = 1 + int(self.regions.cell.max(initial=-1))

        def part(number: int) -> None:
            first, last = edges[number]
            scratch, whole = np.empty(planes.MIXED, np.float32), np.zeros((last - first, 3, LANES), np.float32)
            sums = np.zeros((last - first, cells, 3))
            mix(block, *self.pixels, *self.regions, first, last, light, scratch, whole, sums)

        run(part, range(len(edges)))
        return light

    def some(self, chosen: NDArray[np.intp]) -> SomePixels:
        """Eyes for some pixels only, as they are now."""
        pixels = SeenPixels(self.pixels.places[chosen], self.pixels.curves[chosen], self.pixels.tables)
        follow = Follow(self.of_pixels.state.take(chosen, axis=1), self.of_pixels.history.take(chosen, axis=1))
        return SomePixels(pixels, self.limit, self.at, follow)

    @property
    def most(self) -> int:
        """The most changes in any second of anything so far; where it is above the limit, as quickly counted."""
        first, last = planes.MOST_GENERAL // LANES, planes.MOST_RED // LANES
        return int(max(each.state[first : last + 1].max(initial=0) for each in (self.of_pixels, self.of_parts)))

    @property
    def longest(self) -> int:
        """Frames that something has gone on with at most one change less than the limit allows, or more."""
        row = planes.NEAREST // LANES
        return int(max(each.state[row].max(initial=0) for each in (self.of_pixels, self.of_parts)))


@dataclass(frozen=True, eq=False)
class SomePixels:
    """What is known of some pixels up to frame ``at``."""

    pixels: SeenPixels
    limit: int
    at: int
    follow: Follow

    def look(self, rows: Bytes) -> tuple[NDArray[np.bool_], SomePixels]:
        """Which of the pixels change too often in the last of the rows; before it come those of the last second."""
        nothing, lead = np.zeros((len(rows), 3, 0), np.float32), len(rows) - 1
        over, follow = self.follow.on(rows, nothing, lead, self.pixels, self.at, self.limit, _one_by_one, 1)
        found: NDArray[np.bool_] = np.any(over, axis=(0, 1))
        return found, SomePixels(self.pixels, self.limit, self.at + 1, follow)


def _one_by_one(work: Callable[[int], None], numbers: Iterable[int]) -> None:
    for number in numbers:
        work(number)
