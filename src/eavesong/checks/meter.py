"""The meter: one pass over the frames that measures currents and flashes, a block of frames at a time."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels import current
from eavesong.kernels.eyes import Eyes
from eavesong.render.rig import Rig

Floats = NDArray[np.float64]
POINTS = 600
"""Points of a curve over a whole song, at most, so that memory does not grow with its length."""


@dataclass(frozen=True, eq=False)
class Wiring:
    """Which pixel belongs to which circuit, as the meter takes it."""

    group: NDArray[np.int32]
    """(n,): index of the pixel's circuit."""
    weight: NDArray[np.float32]
    """(n,): volts lost at the circuit's critical pixel for each ampere of this one."""
    sums: NDArray[np.float64]
    """(circuits, k): 1 where a circuit belongs to one of k totals (outputs, supplies, the house)."""


class Watch:
    """Changes of every pixel, of parts of the view and of the display as a whole, frame after frame."""

    def __init__(self, eyes: Eyes) -> None:
        self.eyes, self.pixel_count = eyes, len(eyes.pixels.curves)

    def take(self, block: NDArray[np.uint8], parts: Sequence[tuple[int, int]], run: Run) -> Seen:
        """Follow a block of frames (f, channels), in as many threads as there are ``parts``."""
        first = self.eyes.at
        seen, self.eyes = self.eyes.on(block, run, len(parts))
        return Seen(first, seen.pixels, seen.parts)


Run = Callable[[Callable[[int], None], Iterable[int]], object]


@dataclass(frozen=True, eq=False)
class Seen:
    """What was seen in a block of f frames."""

    first: int
    over: NDArray[np.uint8]
    """(2, f, n): general and red changes in the last second, where they are above the limit, else 0."""
    parts: NDArray[np.uint8]
    """(2, f, 1 + m): the same of the whole display, and of the parts of the view."""


class Ammeter:
    """Currents of every pixel, circuit and total, frame after frame."""

    def __init__(self, rig: Rig, wiring: Wiring, frame_count: int) -> None:
        n, (groups, totals) = len(rig.curves), wiring.sums.shape
        self.rig, self.wiring, self.pixel_count = rig, wiring, n
        self.pixel_sums, self.pixel_peaks = np.zeros(n), np.zeros(n, np.float32)
        self.at = 0
        self.amperes = Extremes(groups)
        self.drops = Extremes(groups)
        self.totals = Extremes(totals)
        self.step = -(-frame_count // POINTS)
        self.curve = np.zeros((-(-frame_count // self.step), totals))
        """(points, totals): the most amperes within each point's frames."""

    def take(self, block: NDArray[np.uint8], parts: Sequence[tuple[int, int]], run: Run) -> None:
        """Measure a block of frames (f, channels)."""
        groups = len(self.wiring.sums)
        amperes = [np.zeros((len(block), groups)) for _ in parts]
        drops = [np.zeros((len(block), groups)) for _ in parts]
        rig, wiring = self.rig, self.wiring

        def part(number: int) -> None:
            first, last = parts[number]
            current.currents(
                block, rig.places, rig.amperes, rig.idle, wiring.weight, wiring.group, first, last,
                amperes[number], drops[number], self.pixel_sums, self.pixel_peaks,
            )  # fmt: skip

        run(part, range(len(parts)))
        of_circuits = sum(amperes, np.zeros_like(amperes[0]))
        self.amperes.take(of_circuits, self.at)
        self.drops.take(sum(drops, np.zeros_like(drops[0])), self.at)
        totals = of_circuits @ wiring.sums
        self.totals.take(totals, self.at)
        np.maximum.at(self.curve, (self.at + np.arange(len(block))) // self.step, totals)
        self.at += len(block)


class Extremes:
    """Sum, maximum and its frame of k values, frame after frame."""

    def __init__(self, count: int) -> None:
        self.sum, self.most = np.zeros(count), np.full(count, -np.inf)
        self.frame = np.zeros(count, np.int64)

    def take(self, values: Floats, first: int) -> None:
        """Values (f, k) of the frames from ``first`` on."""
        self.sum += values.sum(axis=0)
        rows = values.argmax(axis=0)
        best = values[rows, np.arange(values.shape[1])]
        better = best > self.most
        self.most[better], self.frame[better] = best[better], first + rows[better]


def parts_of(pixel_count: int, threads: int | None = None) -> tuple[tuple[int, int], ...]:
    """Ranges of pixels for threads that work side by side; as many as there are processors."""
    count = max(1, min(threads or os.cpu_count() or 1, pixel_count // 256))
    edges = np.linspace(0, pixel_count, count + 1).astype(int).tolist()
    return tuple(pairwise(edges))


def measure(
    blocks: Iterable[NDArray[np.uint8]], meters: Sequence[Ammeter | Watch], seen: Callable[[Seen], None]
) -> None:
    """Let every meter follow the frames; what a Watch sees of each block is handed to ``seen``."""
    parts = parts_of(meters[0].pixel_count)
    with ThreadPoolExecutor(len(parts)) as pool:

        def run(work: Callable[[int], None], numbers: Iterable[int]) -> None:
            list(pool.map(work, numbers))

        for block in blocks:
            for meter in meters:
                found = meter.take(np.ascontiguousarray(block), parts, run)
                if found is not None:
                    seen(found)
