"""The meter: one pass over the frames that measures currents and flashes, a block of frames at a time."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels import flash, ladder, watch
from eavesong.within.rig import Rig

Floats = NDArray[np.float64]
LIMIT = 6
"""Transitions in a second that pass: three flashes (WCAG 2.2 technique G19: six pass, seven fail)."""

POINTS = 600
"""Points of a curve over a whole song, at most, so that memory does not grow with its length."""


@dataclass(frozen=True, eq=False)
class Wiring:
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
    """Transitions of every place and of the display as a whole, frame after frame."""

    def __init__(self, rig: Rig, frame_rate: float, limit: int = LIMIT) -> None:
        n = len(rig.curves)
        self.rig, self.limit = rig, limit
        # Transitions less than a second apart: 40 frames a second, 39 frames between the first and the last.
        self.second = int(np.ceil(frame_rate - 1e-6))
        self.at = 0
        self.state = np.zeros((watch.STATE, n), np.float32)
        self.history = np.zeros((self.second, n), np.uint8)
        self.display = Display(self.second, limit)

    def take(self, block: NDArray[np.uint8], parts: Sequence[tuple[int, int]], run: Run) -> Seen:
        """Follow a block of frames (f, channels); ``parts`` are the pixel ranges that threads share."""
        over = np.zeros((2, *block.shape[:1], len(self.rig.curves)), np.uint8)
        lights = [np.zeros((len(block), 3), np.int64) for _ in parts]
        rig = self.rig

        def part(number: int) -> None:
            first, last = parts[number]
            watch.watch(
                block, rig.places, rig.curves, rig.tables, self.state, self.history, self.at, first, last, self.limit,
                over, lights[number],
            )  # fmt: skip

        run(part, range(len(parts)))
        light = sum(lights, np.zeros((len(block), 3), np.int64)) / (flash.FIXED * max(1, len(rig.curves)))
        seen = Seen(self.at, over, *self.display.take(light.astype(np.float32)))
        self.at += len(block)
        return seen

    @property
    def most(self) -> int:
        """The most transitions in any second of any place so far."""
        return int(self.state[watch.MOST_GENERAL // watch.LANES : watch.MOST_RED // watch.LANES + 1].max(initial=0))

    @property
    def longest(self) -> int:
        """Frames that a place has gone on with at most one transition less than the limit allows, or more."""
        return int(self.state[watch.NEAREST // watch.LANES].max(initial=0))


Run = Callable[[Callable[[int], None], Iterable[int]], object]


@dataclass(frozen=True, eq=False)
class Seen:
    """What was seen in a block of f frames."""

    first: int
    over: NDArray[np.uint8]
    """(2, f, n): general and red transitions in the last second, where they are above the limit, else 0."""
    display: NDArray[np.int64]
    """(f, 2): the same counts of the display as a whole, above the limit or not."""
    light: Floats
    """(f,): mean luminance of the display."""


class Display:
    """The display taken as one light: the mean of all its pixels."""

    def __init__(self, second: int, limit: int) -> None:
        self.state, self.marks = np.zeros(5, np.float32), np.zeros(4, np.int8)
        self.history = np.zeros(second, np.int64)
        self.at, self.limit = 0, limit
        self.counts = np.zeros(2, np.int64)

    def take(self, light: NDArray[np.float32]) -> tuple[NDArray[np.int64], Floats]:
        """Follow mean linear light (f, 3); counts (f, 2) in the second up to each frame, and luminance (f,)."""
        out = np.zeros((len(light), 2), np.int64)
        for f, (r, g, b) in enumerate(light):
            self.count(int(flash.step(r, g, b, self.state, self.marks)))
            out[f] = self.counts
        return out, light.astype(np.float64) @ [0.2126, 0.7152, 0.0722]

    def count(self, found: int) -> None:
        """Take what one frame brought into the count of the last second."""
        slot = self.at % len(self.history)
        gone, self.history[slot] = int(self.history[slot]), found
        self.counts += [(found & 1) - (gone & 1), (found >> 1) - (gone >> 1)]
        self.at += 1


class Ammeter:
    """Currents of every pixel, circuit and total, and what each circuit's weakest pixel lacks, frame after frame."""

    def __init__(self, rig: Rig, wiring: Wiring, frame_count: int) -> None:
        n, (groups, totals) = len(rig.curves), wiring.sums.shape
        self.rig, self.wiring = rig, wiring
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
        shares = max(1, min(len(parts), len(block) // ladder.TILE))
        edges = np.linspace(0, len(block), shares + 1).astype(int).tolist()
        amperes, short = np.zeros((groups, len(block))), np.zeros((groups, len(block)))
        sums, peaks = np.zeros((shares, n)), np.zeros((shares, n), np.float32)
        rig, wiring = self.rig, self.wiring

        def part(number: int) -> None:
            ladder.solve_frames(
                block, edges[number], edges[number + 1], rig.places, rig.amperes, rig.idle, wiring.order,
                wiring.starts, wiring.factors, wiring.spare, amperes, short, sums[number], peaks[number],
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
    count = max(1, min(threads or os.cpu_count() or 1, pixel_count // 256))
    edges = np.linspace(0, pixel_count, count + 1).astype(int).tolist()
    return tuple(pairwise(edges))


def measure(
    blocks: Iterable[NDArray[np.uint8]], meters: Sequence[Ammeter | Watch], seen: Callable[[Seen], None]
) -> None:
    """Let every meter follow the frames; what a Watch sees of each block is handed to ``seen``."""
    parts = parts_of(len(meters[0].rig.curves))
    with ThreadPoolExecutor(len(parts)) as pool:

        def run(work: Callable[[int], None], numbers: Iterable[int]) -> None:
            list(pool.map(work, numbers))

        for block in blocks:
            for meter in meters:
                found = meter.take(np.ascontiguousarray(block), parts, run)
                if found is not None:
                    seen(found)
