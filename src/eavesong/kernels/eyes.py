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

    def some(self, chosen: NDArray[np.intp]) -> SeenPixels:
        """The ``chosen`` ones alone."""
        return SeenPixels(self.places[chosen], self.curves[chosen], self.tables)


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
    at: int
    """Frames that were followed."""

    @classmethod
    def of(cls, count: int, second: int) -> Follow:
        """``count`` places before the first frame, where ``second`` frames are a second."""
        return cls(np.zeros((planes.STATE, count), np.float32), np.zeros((second, count), np.uint8), 0)

    def on(
        self,
        rows: Bytes,
        light: Light,
        lead: int,
        pixels: SeenPixels,
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
            """Follow the rows of one thread."""
            scratch = np.empty(planes.FOLLOWED, np.float32), np.empty((len(rows), planes.CLOSE), np.float32)
            follow(
                rows, light, lead, *pixels, self.state, after, history, self.at, *edges[number], limit, over, *scratch
            )

        run(part, range(len(edges)))
        return over, Follow(after, history, self.at + len(rows) - lead)


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
    of_pixels: Follow | None
    """None: not all of them were looked at; their last second tells all that matters."""
    of_parts: Follow

    @classmethod
    def opened(cls, pixels: SeenPixels, regions: Regions, channels: int, second: int, limit: int) -> Eyes:
        """Eyes that have seen nothing yet. second: frames in it."""
        n, m = len(pixels.curves), 1 + len(regions.room)
        rows, light = np.zeros((0, channels), np.uint8), np.zeros((0, 3, m), np.float32)
        return cls(pixels, regions, limit, 0, rows, light, Follow.of(n, second), Follow.of(m, second))

    def on(
        self, block: Bytes, run: Run | None = None, ways: int = 1, chosen: NDArray[np.intp] | None = None,
        mixed: Light | None = None,
    ) -> tuple[Changes, Eyes]:  # fmt: skip
        """What is seen in the next frames (f, channels), and the eyes after them.

        ways: parts of work for ``run``. chosen: (k,) pixels to look at one by one, where all others are known to pass.
        mixed: light of the display and of its parts, where it is known.
        """
        run = run or one_by_one
        rows, lead = np.concatenate([self.rows, block]), len(self.rows)
        light = np.concatenate([self.light, self.mixed(block, run, ways) if mixed is None else mixed])
        of_pixels: Follow | None
        if chosen is None:
            before = self.of_pixels or self._followed(self.pixels, run, ways)
            pixels, of_pixels = before.on(rows, NOTHING, lead, self.pixels, self.limit, run, ways)
        else:
            over = self._anew(len(chosen)).on(rows, NOTHING, 0, self.pixels.some(chosen), self.limit, run, ways)[0]
            pixels, of_pixels = np.zeros((2, len(block), len(self.pixels.curves)), np.uint8), None
            if over[:, lead:].any():
                pixels[:, :, chosen] = over[:, lead:]
        parts, of_parts = self.of_parts.on(rows, light, lead, self.pixels, self.limit, run, ways)
        second = self.second
        eyes = Eyes(
            self.pixels, self.regions, self.limit, self.at + len(block), rows[-second:], light[-second:], of_pixels,
            of_parts,
        )  # fmt: skip
        return Changes(pixels, parts), eyes

    @property
    def second(self) -> int:
        """Frames in it."""
        return len(self.of_parts.history)

    def _anew(self, count: int) -> Follow:
        return Follow.of(count, self.second)

    def _followed(self, pixels: SeenPixels, run: Run, ways: int) -> Follow:
        """Pixels followed through the last second."""
        return self._anew(len(pixels.curves)).on(self.rows, NOTHING, 0, pixels, self.limit, run, ways)[1]

    def mixed(self, block: Bytes, run: Run, ways: int) -> Light:
        """Light of the display and of its parts in frames (f, channels): (f, 3, 1 + m)."""
        light = np.empty((len(block), 3, 1 + len(self.regions.room)), np.float32)
        edges = list(pairwise(np.linspace(0, len(block), ways + 1).astype(int).tolist()))
        cells = 1 + int(self.regions.cell.max(initial=-1))

        def part(number: int) -> None:
            """Mix the frames of one thread."""
            first, last = edges[number]
            scratch, whole = np.empty(planes.MIXED, np.float32), np.zeros((last - first, 3, LANES), np.float32)
            sums = np.zeros((last - first, cells, 3))
            mix(block, *self.pixels, *self.regions, first, last, light, scratch, whole, sums)

        run(part, range(len(edges)))
        return light

    def some(self, chosen: NDArray[np.intp]) -> SomePixels:
        """Eyes for some pixels only, as they are now."""
        pixels = self.pixels.some(chosen)
        return SomePixels(pixels, self.limit, self._followed(pixels, one_by_one, 1))

    @property
    def most(self) -> int:
        """The most changes in any second of anything so far; where it is above the limit, as quickly counted."""
        first, last = planes.MOST_GENERAL // LANES, planes.MOST_RED // LANES
        return int(max(each.state[first : last + 1].max(initial=0) for each in self._all))

    @property
    def longest(self) -> int:
        """Frames that something has gone on with at most one change less than the limit allows, or more."""
        row = planes.NEAREST // LANES
        return int(max(each.state[row].max(initial=0) for each in self._all))

    @property
    def _all(self) -> tuple[Follow, Follow]:
        assert self.of_pixels is not None, "eyes that told the most looked at all pixels"
        return self.of_pixels, self.of_parts


@dataclass(frozen=True, eq=False)
class SomePixels:
    """What is known of some pixels up to a frame."""

    pixels: SeenPixels
    limit: int
    follow: Follow

    def look(self, rows: Bytes, count: int) -> tuple[NDArray[np.bool_], SomePixels]:
        """Which pixels change too often in the last ``count`` rows, (count, k); before them come those of the last
        second."""
        over, follow = self.follow.on(rows, NOTHING, len(rows) - count, self.pixels, self.limit, one_by_one, 1)
        found: NDArray[np.bool_] = np.any(over, axis=0)
        return found, SomePixels(self.pixels, self.limit, follow)


NOTHING = np.zeros((0, 3, 0), np.float32)
"""No light of parts: that of pixels is taken from the frames."""


def one_by_one(work: Callable[[int], None], numbers: Iterable[int]) -> None:
    """Run without threads."""
    for number in numbers:
        work(number)
