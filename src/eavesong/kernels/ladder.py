"""Ladders of resistances: every frame of a song solved, and the most that each link can ever carry."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.planes import FRAMES
from eavesong.kernels.store import kernel


def _solve_frames(
    frames, first, last, places, amperes, idle, order, starts, factors, spare, totals, short, sums, peaks, scratch
):
    """Currents of all pixels, and what their circuits leave them, in the frames ``first`` to ``last`` of a block.

    frames: uint8 (f, channels). places: int64 (n, 4): channel of red, green, blue, white or -1. amperes: float32
    (n, 4): at full drive, over 255. idle: float32 (n,). order: int64 (m,): pixels, circuit by circuit in the order of
    their wires. starts: int64 (circuits + 1,): where each circuit begins in it. factors: float64 (3, m): lower,
    inverse and upper parts of the eliminated Kirchhoff matrix. spare: float64 (m,): volts that each pixel may lose.
    totals, short: float64 (circuits, f): amperes of a circuit, and how far its weakest pixel is beyond what it may
    lose (below 0: so much is left). sums: float64 (n,): amperes are added; peaks: float32 (n,): the most so far.
    scratch: float64 (5 + pixels of the longest circuit, FRAMES).
    """
    now, drop, worst, total, half = scratch[0], scratch[1], scratch[2], scratch[3], scratch[4:]
    now[:] = 0.0
    half[0] = 0.0
    for begin in range(first, last, FRAMES):
        width = min(FRAMES, last - begin)
        for c in range(len(starts) - 1):
            start, stop = starts[c], starts[c + 1]
            total[:] = 0.0
            for i in range(start, stop):
                p = order[i]
                r, g, b, w = places[p]
                most, total_of_pixel = peaks[p], 0.0
                for f in range(width):
                    row = begin + f
                    current = (
                        idle[p]
                        + amperes[p, 0] * frames[row, r]
                        + amperes[p, 1] * frames[row, g]
                        + amperes[p, 2] * frames[row, b]
                    )
                    if w >= 0:
                        current += amperes[p, 3] * frames[row, w]
                    now[f] = current
                    most = max(most, current)
                    total_of_pixel += current
                sums[p] += total_of_pixel
                peaks[p] = most
                lower, inverse = factors[0, i], factors[1, i]
                at = i - start
                for f in range(FRAMES):
                    total[f] += now[f]
                    half[at + 1, f] = (now[f] - lower * half[at, f]) * inverse
            for f in range(FRAMES):
                drop[f] = 0.0
                worst[f] = -np.inf
            for i in range(stop - 1, start - 1, -1):
                upper, allowed, at = factors[2, i], spare[i], i - start
                for f in range(FRAMES):
                    drop[f] = half[at + 1, f] - upper * drop[f]
                    worst[f] = max(worst[f], drop[f] - allowed)
            for f in range(width):
                totals[c, begin + f] = total[f]
                short[c, begin + f] = worst[f]


def _most_flows(links, ground, loads, out, passive):
    """The most amperes (n - 1,) that each link carries, whichever of the pixels are lit.

    links: float64 (n - 1,) ohms. ground: float64 (n,) siemens of the lead at each pixel, 0 where there is none.
    loads: float64 (n,) amperes. A link carries most to one side when all pixels on that side are lit and none on the
    other: what is lit on the other side only pulls the other way. One side is then a conductance, the other a
    Norton source. passive: float64 (n,), scratch.
    """
    n = len(loads)
    for turn in range(2):
        for k in range(n):
            i = k if turn == 0 else n - 1 - k
            passive[i] = ground[i]
            if k and passive[i - 1 + 2 * turn] > 0:
                ohms = links[i - 1 + turn]
                passive[i] += 1 / (ohms + 1 / passive[i - 1 + 2 * turn])
        conductance, source = 0.0, 0.0
        for k in range(n - 1):
            i = n - 1 - k if turn == 0 else k  # the far end first
            conductance += ground[i]
            source += loads[i]
            link, near = (i - 1, i - 1) if turn == 0 else (i, i + 1)
            flow = 0.0
            if passive[near] > 0:
                flow = source / (1 + conductance * (links[link] + 1 / passive[near]))
            out[link] = max(out[link], flow)
            source /= 1 + conductance * links[link]
            conductance /= 1 + conductance * links[link]


@kernel(
    "uint8[2]", "int64", "int64", "int64[2]", "float32[2]", "float32[1]", "int64[1]", "int64[1]", "float64[2]",
    "float64[1]", "float64[2]", "float64[2]", "float64[1]", "float32[1]", "float64[2]",
)  # fmt: skip
def solve_frames():
    """See ``_solve_frames``."""
    return _solve_frames


@kernel("float64[1]", "float64[1]", "float64[1]", "float64[1]", "float64[1]")
def most_flows():
    """See ``_most_flows``."""
    return _most_flows
