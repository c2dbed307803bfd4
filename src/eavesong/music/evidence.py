"""What describes each beat of a candidate and its neighbours: whether it is right, and whether it begins a bar."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.figures import MIDDLE_TEMPO, PARTS, Traces, beat_rows
from eavesong.music.novelty import likeness, running_mean

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

CONTEXT = 4
"""Beats on either side that count for whether a beat begins a bar."""
NEAR = 8
"""Beats over which what falls between beats is averaged."""
AROUND = 24
"""Beats over which what is usual is taken."""
SPANS = (1, 2, 3, 4)
"""Beats before and after a beat whose notes and sound are compared."""


def beat_figures(beats: Floats, traces: Traces) -> Singles:
    """What describes each of ``beats`` (n,) in frames: (n, c) in a fixed order.

    How it and the four beats on either side differ from what is usual; what falls at each twelfth of the beats
    around; the tempo there.
    """
    rows = _accents(beats, traces)
    padded = np.pad(rows, ((CONTEXT, CONTEXT), (0, 0)))
    around = [padded[shift : shift + len(rows)] for shift in range(2 * CONTEXT + 1)]
    return np.hstack([*around, _local_profile(beats, traces), _local_tempo(beats)]).astype(np.float32)


def _local_profile(beats: Floats, traces: Traces) -> Floats:
    """What begins at each twelfth of the eight beats around, against what begins anywhere in them."""
    gaps = np.append(np.diff(beats), beats[-1] - beats[-2])
    places = beats[:, None] + np.arange(PARTS) / PARTS * gaps[:, None]
    at = np.clip(np.rint(places), 0, len(traces.curves) - 1).astype(np.int64)
    curves = running_mean(traces.curves[at], NEAR)
    change = running_mean(traces.change[at[:, ::3]], NEAR)
    ratios = np.log(0.1 + curves / (curves.mean(axis=1, keepdims=True) + 0.05))
    total = curves.sum(axis=2)
    totals = np.log(0.1 + total / (total.mean(axis=1, keepdims=True) + 0.05))
    changes = np.log(0.1 + change / (change.mean(axis=1, keepdims=True) + 0.01))
    return np.hstack([ratios.reshape(len(beats), -1), totals, changes.reshape(len(beats), -1)])


def _local_tempo(beats: Floats) -> Floats:
    gaps = np.append(np.diff(beats), beats[-1] - beats[-2])
    octaves = np.log2(60 * FRAME_RATE / running_mean(gaps, 2 * CONTEXT) / MIDDLE_TEMPO)[:, None]
    return np.hstack([octaves, octaves**2, np.exp(-0.5 * ((octaves - np.linspace(-1.5, 1.25, 12)) / 0.25) ** 2)])


def _accents(beats: Floats, traces: Traces) -> Floats:
    accents, level, notes = beat_rows(beats, traces)
    middles = beats + 0.5 * np.append(np.diff(beats), beats[-1] - beats[-2])
    off_accents, _, _ = beat_rows(middles, traces)
    columns = [np.log1p(accents), np.log1p(off_accents), np.diff(level, axis=0, prepend=level[:1])]
    for span in SPANS:
        for part in (notes[:, :12], notes[:, 12:], level - level.mean(axis=0)):
            columns.append(_change(part, span)[:, None])
    table = np.hstack(columns)
    usual = running_mean(table, AROUND)
    spread = np.sqrt(running_mean((table - usual) ** 2, 2 * AROUND)) + 0.3 * table.std(axis=0) + 1e-3
    return np.clip((table - usual) / spread, -4, 4)


def _change(rows: Floats, span: int) -> Floats:
    """One minus the likeness of the means of ``span`` rows before each and from it on."""
    total = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0)])
    now = np.arange(len(rows))
    before = total[now] - total[np.maximum(now - span, 0)]
    after = total[np.minimum(now + span, len(rows))] - total[now]
    return np.where(now > 0, 1 - likeness(before, after), 0.0)
