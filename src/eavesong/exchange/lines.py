"""Where one trace lies in another: how much later it starts and how much faster it runs, as one straight line.

The curves of both are compared at every delay at once, by Fourier transforms, for every speed within three per cent;
then the line through the best is made exact by what the delay is in pieces of some seconds, each to a fraction of a
moment.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavesong.exchange.trace import RATE, Trace

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

SPEEDS = np.arange(-60, 61) * 5e-4
"""Stretches that are tried, 3 per cent to each side: half a step moves the ends of three minutes by 23 ms."""
PIECE, HOP = 800, 400
"""Moments of the pieces that make the line exact, and from one to the next."""
NEAR = 12
"""Moments to either side of the line within which a piece is looked for."""
CLEAR = 0.3
"""Likeness from which on a piece says where it lies."""


@dataclass(frozen=True)
class Course:
    """A moment at t seconds of one song is at ``delay`` + ``stretch`` · t of the other."""

    delay: float
    stretch: float = 1.0

    def at(self, seconds: Floats | float) -> Floats:
        """Seconds of the other song."""
        return np.asarray(self.delay + self.stretch * np.asarray(seconds, dtype=np.float64))


def curves_of(trace: Trace) -> Singles:
    """(5, f): the curves, each with mean 0 and mean square 1, no moment above six of it; silent ones stay 0."""
    curves = trace.moments.T.astype(np.float32)
    curves -= curves.mean(axis=1, keepdims=True)
    spread = curves.std(axis=1, keepdims=True)
    return np.asarray(np.clip(np.where(spread > 1e-3, curves / np.maximum(spread, 1e-3), 0), -6, 6), np.float32)


def stretched(curves: Singles, stretch: float, later: float = 0.0) -> Singles:
    """(5, g): curves (5, f) when all takes ``stretch`` times as long and is ``later`` by a part of a moment."""
    if stretch == 1.0 and not later:
        return curves
    count = round(curves.shape[1] * stretch)
    now = (np.arange(count) - later) / stretch
    return np.stack([np.interp(now, np.arange(curves.shape[1]), curve) for curve in curves]).astype(np.float32)


def rough_lines(one: Singles, other: Singles, most: int = 6) -> list[Course]:
    """Lines on which curves (5, f) and (5, g) have much in common, the most first: to a speed step and a moment.

    Several, as in an edit the speed that brings most together may be one at which different pieces overlap.
    """
    from scipy.fft import irfft, next_fast_len, rfft

    size = next_fast_len(int(one.shape[1] * 1.04) + other.shape[1], real=True)
    seen = rfft(other, size, axis=1)
    heights, lines = [], []
    for speed in SPEEDS:
        moved = rfft(stretched(one, 1 + float(speed)), size, axis=1)
        common = irfft((seen * np.conj(moved)).sum(axis=0), size)
        at = int(np.argmax(common))
        heights.append(float(common[at]))
        lines.append(Course((at if at < other.shape[1] else at - size) / RATE, float(1 + speed)))
    edged = np.array([-np.inf, *heights, -np.inf])
    tops = np.flatnonzero((edged[1:-1] >= edged[:-2]) & (edged[1:-1] >= edged[2:]))
    return [lines[top] for top in sorted(tops, key=lambda top: -heights[top])[:most]]


def exact_line(one: Singles, other: Singles, rough: Course) -> Course:
    """The line made exact where most pieces near ``rough`` lie on one; ``rough`` itself where too few do."""
    line = rough
    for reach in (4 * NEAR, NEAR, NEAR):
        starts, delays, weights = delays_near(one, other, line, reach)
        if len(starts) < 3:
            return line
        line = _through(starts, delays, weights)
    return line


def delays_near(one: Singles, other: Singles, line: Course, reach: int = NEAR) -> tuple[Floats, Floats, Floats]:
    """For pieces of ``one``: their middles, where these lie in ``other`` (seconds), and how like they are (0 to 1)."""
    moved = stretched(one, line.stretch)
    first = round(line.delay * RATE)
    found = []
    for start in range(0, moved.shape[1] - PIECE // 2, HOP):
        piece = moved[:, start : start + PIECE]
        begin, end = start + first - reach, start + first + reach + piece.shape[1]
        if begin < 0 or end > other.shape[1]:
            continue
        likeness = likeness_along(piece, other[:, begin:end])
        at, height = peak(likeness)
        if height > CLEAR and 0 < at < len(likeness) - 1:
            middle = (start + piece.shape[1] / 2) / RATE
            found.append((middle / line.stretch, middle + (first - reach + at) / RATE, height))
    starts, delays, weights = np.array(found).reshape(-1, 3).T
    return starts, delays, weights


def likeness_along(piece: Singles, curves: Singles) -> Floats:
    """(g - n + 1,) cosine of a piece (5, n) with curves (5, g) at every place in them."""
    from scipy.signal import correlate

    common = sum(
        (correlate(whole, part, "valid", "fft") for whole, part in zip(curves, piece, strict=True)), np.zeros(1)
    )
    total = np.concatenate([[0.0], np.cumsum((curves.astype(np.float64) ** 2).sum(axis=0))])
    energy = total[piece.shape[1] :] - total[: -piece.shape[1]]
    own = float((piece.astype(np.float64) ** 2).sum())
    return np.asarray(common / np.sqrt(np.maximum(energy * own, 1e-6)))


def peak(values: Floats) -> tuple[float, float]:
    """Where the highest of ``values`` is, to a fraction by a parabola through its neighbours, and how high."""
    at = int(np.argmax(values))
    if not 0 < at < len(values) - 1:
        return float(at), float(values[at])
    before, here, after = (float(value) for value in values[at - 1 : at + 2])
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return at + shift, here - 0.25 * (before - after) * shift


def _through(starts: Floats, ends: Floats, weights: Floats) -> Course:
    """The line most pieces lie on: the median of slopes between neighbours, then least squares of those near it.

    Neighbours, because those far apart may lie on either side of a cut.
    """
    step = 2 if len(starts) > 4 else 1
    slopes = (ends[step:] - ends[:-step]) / (starts[step:] - starts[:-step])
    stretch = float(np.median(slopes))
    delay = float(np.median(ends - stretch * starts))
    for within in (0.05, 0.02, 0.01):
        off = ends - delay - stretch * starts
        near = np.abs(off) < max(within, 1.5 * float(np.median(np.abs(off))))
        if near.sum() < 3:
            break
        stretch, delay = (float(value) for value in np.polyfit(starts[near], ends[near], 1, w=weights[near]))
    return Course(delay, stretch)
