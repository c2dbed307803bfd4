"""Traces and grids of songs that are none, and what copies make of them; all invented."""

import numpy as np

from eavesong.exchange.aligned import Alignment
from eavesong.exchange.lines import Course
from eavesong.exchange.pieces import Piece
from eavesong.exchange.trace import RATE, Trace
from eavesong.music.grid import BeatGrid, Section


def made_trace(seconds=60.0, seed=0, bar=2.0):
    """Something begins at chance moments, and at every quarter of a bar: what songs have in common."""
    rng = np.random.default_rng(seed)
    curves = np.zeros((round(seconds * RATE), 5))
    for band in range(5):
        for at in rng.uniform(0.1, seconds - 0.1, round(4 * seconds)):
            _strike(curves[:, band], at, rng.uniform(0.5, 3))
    for at in np.arange(0.2, seconds - 0.2, bar / 4):
        _strike(curves[:, 0], at, 2.0)
    return Trace(np.minimum(np.rint(32 * np.sqrt(curves)), 255).astype(np.uint8))


def _strike(curve, at, height):
    """A rise about ``at`` seconds that lasts three moments, as those of real sounds do."""
    first = int(at * RATE) - 2
    now = np.arange(max(first, 0), min(first + 6, len(curve)))
    curve[now] += height * np.exp(-(((now - at * RATE) / 1.3) ** 2))


def made_grid(seconds=60.0, bar=2.0):
    """Bars of four beats from 0.2 s on, and sections of eight bars."""
    times = np.arange(0.2, seconds - 0.05, bar / 4)
    starts = np.arange(0.2, seconds, 8 * bar)
    sections = tuple(
        Section(float(start), float(min(start + 8 * bar, seconds)), f"part {number + 1}", "steady")
        for number, start in enumerate(starts)
        if seconds - start > 1
    )
    return BeatGrid(tuple(times), tuple(index % 4 + 1 for index in range(len(times))), sections, seconds)


def moved(trace, delay, stretch, seconds=60.0):
    """The trace as a copy has it in which the moment t of the song is at delay + stretch · t."""
    now = (np.arange(round(seconds * RATE)) / RATE - delay) / stretch * RATE
    curves = [np.interp(now, np.arange(len(curve)), curve, left=0, right=0) for curve in trace.moments.T.astype(float)]
    return Trace(np.rint(np.stack(curves, axis=1)).astype(np.uint8))


def edited(trace, *spans):
    """The spans (from and to, in seconds) of a trace one after the other; a trace among them is put in whole."""
    parts = [span.moments if isinstance(span, Trace) else trace.moments[round(span[0] * RATE) : round(span[1] * RATE)]
             for span in spans]  # fmt: skip
    return Trace(np.concatenate(parts))


def aligned(*pieces, seconds=60.0):
    """An alignment of pieces (begin, end, delay or None) at the song's own speed."""
    made = tuple(Piece(begin, end, None if delay is None else Course(delay)) for begin, end, delay in pieces)
    return Alignment(Course(0.0), made, seconds, pieces[-1][1], 1.0, 0.5)


WHOLE = aligned((0, 60, 0.0))
CUT = aligned((0, 16.2, 0.0), (16.2, 44, -16.0))
"""Bars 9 to 16, from 16.2 to 32.2 s, are gone."""
