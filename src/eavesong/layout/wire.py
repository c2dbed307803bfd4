"""A wire: pixels in wiring order, in a prop's own coordinates, and which pixels lie side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import MisfitError

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

MOST_PIXELS = 2_000_000
"""Pixels a layout may have: some thirty times the largest house seen, and still under a gigabyte of arrays."""

MOST_PROPS = 20_000
"""Props a layout may have, members of rows counted one by one."""


@dataclass(frozen=True, eq=False)
class Wire:
    """The n pixels of one prop in wiring order; lengths in the caller's unit."""

    points: Floats
    """(n, 3): x to the right, y upwards, z towards the street, from the shape's own origin."""
    along: Floats
    """(n,): wire from its beginning to each pixel's centre. Jumper wires between strands do not count."""
    length: float
    """Wire in all."""
    low: Floats
    """(3,): the left, bottom, back corner of the shape's own box, which can be larger than the pixels' extent."""
    high: Floats
    """(3,): the right, top, front corner."""
    strand: Indices
    """(n,): which strand a pixel is on, from 0; neighbours on a strand are neighbours on the wire."""
    before: Indices
    """(n,): the pixel beside this one on the previous strand; the pixel itself where there is none."""
    after: Indices
    """(n,): the pixel beside this one on the next strand; the pixel itself where there is none."""


def check_count(count: float) -> int:
    """``count`` as a whole number of pixels, or MisfitError when a layout could never hold that many."""
    if count > MOST_PIXELS:
        raise MisfitError(
            f"this makes {count:,.0f} pixels, more than the {MOST_PIXELS:,} a layout may have",
            "Check the sizes, the pitch and the units.",
        )
    return int(count)


def count_for(length: float, pixels: int | None, pitch: float | None) -> int:
    """Pixels on a wire of ``length``: ``pixels``, or the whole number that comes nearest to ``pitch``."""
    if pixels is not None:
        return check_count(pixels)
    assert pitch is not None
    return max(1, check_count(np.floor(length / pitch + 0.5)))


def path_length(path: Floats) -> float:
    """Length of the polyline through ``path`` (m, 3)."""
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())


def thread(path: Floats, count: int) -> Floats:
    """``count`` points (count, 3) evenly along the polyline ``path`` (m, 3).

    Each point is the middle of its share of the length, so the shares tile the path from end to end.
    """
    travelled = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    stops = (np.arange(count) + 0.5) / count * travelled[-1]
    return np.stack([np.interp(stops, travelled, path[:, axis]) for axis in range(3)], axis=1)


def single(path: Floats, pixels: int | None, pitch: float | None) -> Wire:
    """A wire that follows ``path`` (m, 3) from end to end."""
    length = path_length(path)
    if length <= 0:
        raise MisfitError("the wire has no length", "Give it two different ends.")
    strand = thread(path, count_for(length, pixels, pitch))
    return bundle([strand], [length], low=path.min(axis=0), high=path.max(axis=0))


def bundle(
    strands: Sequence[Floats],
    lengths: Sequence[float],
    *,
    low: Floats,
    high: Floats,
    zigzag: bool = False,
    closed: bool = False,
    level: bool = False,
) -> Wire:
    """Strands (k, 3) lying side by side, wired one after the other, as one wire.

    All strands run the same way; ``zigzag`` turns every second one round. ``closed``: the last strand lies beside
    the first. Beside a pixel is the one at the same share of the neighbouring strand or, with ``level``, the one
    with as many pixels before it, if there is one.
    """
    check_count(sum(len(strand) for strand in strands))
    order = [np.arange(len(strand)) for strand in strands]
    if zigzag:
        order = [run[::-1] if number % 2 else run for number, run in enumerate(order)]
    before, after = _beside(order, closed, level)
    points = np.concatenate([strand[run] for strand, run in zip(strands, order, strict=True)])
    begins = np.concatenate([[0.0], np.cumsum(lengths)])
    along = [
        begin + (np.arange(len(run)) + 0.5) / len(run) * length
        for begin, length, run in zip(begins[:-1], lengths, order, strict=True)
    ]
    return Wire(
        points=points,
        along=np.concatenate(along),
        length=float(begins[-1]),
        low=np.asarray(low, dtype=np.float64),
        high=np.asarray(high, dtype=np.float64),
        strand=np.repeat(np.arange(len(strands)), [len(run) for run in order]),
        before=before,
        after=after,
    )


def _beside(order: Sequence[Indices], closed: bool, level: bool) -> tuple[Indices, Indices]:
    """For every pixel the one beside it on the previous and on the next strand, or itself."""
    offsets = np.concatenate([[0], np.cumsum([len(run) for run in order])])
    count = len(order)

    def neighbours(of: int, step: int) -> Indices:
        """For every pixel of strand ``of``, the one beside it on the strand ``step`` further on, or itself."""
        other = of + step
        itself: Indices = offsets[of] + np.arange(len(order[of]))
        if closed and count > 2:
            other %= count
        if not 0 <= other < count:
            return itself
        size = len(order[other])
        place = order[of] if level else ((order[of] + 0.5) / len(order[of]) * size).astype(np.int64)
        at = np.empty(size, dtype=np.int64)
        at[order[other]] = np.arange(size)
        found = offsets[other] + at[np.minimum(place, size - 1)]
        return np.where(place < size, found, itself)

    before = np.concatenate([neighbours(strand, -1) for strand in range(count)])
    after = np.concatenate([neighbours(strand, +1) for strand in range(count)])
    return before, after
