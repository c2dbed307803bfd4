"""The meter: one pass over the frames that measures currents and flashes, a block of frames at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels.eyes import Eyes
from eavesong.kernels.ladder import solve_frames
from eavesong.kernels.planes import FRAMES
from eavesong.processors import processors
from eavesong.within.rig import Rig

Floats = NDArray[np.float64]
POINTS = 600
"""Points of a curve over a whole song, at most, so that memory does not grow with its length."""


@dataclass(frozen=True, eq=False)
class WireOrder:
    """The pixels of every circuit in the order of its wire, as ``kernels.ladder.solve_frames`` takes them."""

    order: NDArray[np.int64]
    """(m,): pixels, circuit by circuit."""
    starts: NDArray[np.int64]
    """(circuits + 1,): where each circuit begins in ``order``."""
    factors: NDArray[np.float64]
    """(3, m): of each circuit's ladder."""
    spare: NDArray[np.float64]
    """(m,): volts that each pixel may lose."""
    sums: NDArray[np.float64]
    """(circuits, k): volts where a circuit belongs to one of k totals (outputs, supplies, the house, the mains)."""


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
    """Currents of every pixel, circuit and total, and what each circuit's weakest pixel lacks, frame after frame."""

    def __init__(self, rig: Rig, wiring: WireOrder, frame_count: int) -> None:
        n, (groups, totals) = len(rig.curves), wiring.sums.shape
        self.rig, self.wiring, self.pixel_count = rig, wiring, n
        self.pixel_sums, self.pixel_peaks = np.zeros(n), np.zeros(n, np.float32)
        self.at = 0
        self.amperes = Extremes(groups)
        self.short = Extremes(groups)
        """Volts by which the weakest pixel of a circuit is beyond what it may lose; below 0 where it is not."""
        self.totals = Extremes(totals)
        self.step = -(-frame_count // POINTS)
        self.curve = np.zeros((-(-frame_count // self.step), totals))
        """(points, totals): the most amperes within each point's frames."""

    def take(self, block: NDArray[np.uint8], parts: Sequence[tuple[int, int]], run: Run) -> None:
        """Measure a block of frames (f, channels); threads share its frames, as a circuit cannot be split."""
        groups, n = len(self.wiring.sums), len(self.rig.curves)
        shares = max(1, min(len(parts), len(block) // FRAMES))
        edges = np.linspace(0, len(block), shares + 1).astype(int).tolist()
        amperes, short = np.zeros((groups, len(block))), np.zeros((groups, len(block)))
        sums, peaks = np.zeros((shares, n)), np.zeros((shares, n), np.float32)
        rig, wiring = self.rig, self.wiring
        longest = int(np.diff(wiring.starts).max())

        def part(number: int) -> None:
            """Solve the circuits of one thread's frames."""
            solve_frames(
                block, edges[number], edges[number + 1], rig.places, rig.amperes, rig.idle, wiring.order,
                wiring.starts, wiring.factors, wiring.spare, amperes, short, sums[number], peaks[number],
                np.empty((5 + longest, FRAMES)),
            )  # fmt: skip

        run(part, range(shares))
        self.pixel_sums += sums.sum(axis=0)
        np.maximum(self.pixel_peaks, peaks.max(axis=0), out=self.pixel_peaks)
        self.amperes.take(amperes.T, self.at)
        self.short.take(short.T, self.at)
        totals = amperes.T @ wiring.sums
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
    count = max(1, min(threads or processors(), pixel_count // 256))
    edges = np.linspace(0, pixel_count, count + 1).astype(int).tolist()
    return tuple(pairwise(edges))


def measure(
    blocks: Iterable[NDArray[np.uint8]], meters: Sequence[Ammeter | Watch], seen: Callable[[Seen], None]
) -> None:
    """Let every meter follow the frames; what a Watch sees of each block is handed to ``seen``.

    While a block is measured, a thread beside reads the next one and lets ``seen`` gather what was in the one before.
    """
    parts = parts_of(meters[0].pixel_count)
    with ThreadPoolExecutor(len(parts)) as pool, ThreadPoolExecutor(1) as beside:

        def run(work: Callable[[int], None], numbers: Iterable[int]) -> None:
            """Do the work for all numbers, side by side."""
            list(pool.map(work, numbers))

        coming, gathering = iter(blocks), beside.submit(lambda: None)
        ahead = beside.submit(next, coming, None)
        while (block := ahead.result()) is not None:
            ahead = beside.submit(next, coming, None)
            for meter in meters:
                found = meter.take(np.ascontiguousarray(block), parts, run)
                if found is not None:
                    gathering.result()
                    gathering = beside.submit(seen, found)
        gathering.result()
