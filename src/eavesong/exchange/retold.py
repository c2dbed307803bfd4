"""The same song played anew: bars of the song matched with bars heard in another recording, in order.

Each bar is a pattern: what begins where in it, in sixteen steps and five bands. Dynamic time warping over bars finds
the likeliest row of pairs (Sakoe & Chiba 1978); each pair becomes a piece of its own, as tempo may change at any bar.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from eavesong.exchange.aligned import Alignment
from eavesong.exchange.lines import Course, Floats, curves_of
from eavesong.exchange.pieces import Piece
from eavesong.exchange.trace import RATE, Trace
from eavesong.music.borrowed import alone
from eavesong.music.grid import BeatGrid

STEPS = 16
"""Places in a bar at which its pattern is taken."""
SKIPPED = 1.6
"""How much a bar that has no counterpart costs beside one that has."""


def retold(song: Trace, grid: BeatGrid, copy: Trace, heard: BeatGrid) -> Alignment:
    """The bars of ``song``, ``grid``, where they may be in ``copy``, whose own beats are ``heard``; never sure."""
    bars, others = _bars(grid), _bars(heard)
    likeness = _patterns(song, bars) @ _patterns(copy, others).T
    steps = np.array([[1, 1], [1, 0], [0, 1]])
    with alone():
        import librosa

        _, path = librosa.sequence.dtw(
            C=1.0 - likeness, step_sizes_sigma=steps, weights_mul=np.array([1.0, SKIPPED, SKIPPED]),
            subseq=len(bars) < len(others),
        )  # fmt: skip
    pairs = _pairs(path[::-1], likeness)
    pieces, at, values = list[Piece](), 0.0, []
    for one, other in pairs:
        (begin, end), (first, last) = bars[one], others[other]
        stretch = (last - first) / (end - begin)
        if first > at + 1 / RATE:
            pieces.append(Piece(at, first, None))
        pieces.append(Piece(first, last, Course(first - stretch * begin, stretch), float(likeness[one, other])))
        values.append(float(likeness[one, other]))
        at = last
    if copy.seconds > at + 1 / RATE:
        pieces.append(Piece(at, copy.seconds, None))
    return Alignment(_overall(pieces), tuple(pieces), song.seconds, copy.seconds, float(np.mean(values or [0.0])), 0.0)


def _bars(grid: BeatGrid) -> list[tuple[float, float]]:
    """Begin and end of each bar, in seconds."""
    starts = [grid.time_of_bar(bar) for bar in range(grid.bar_count + 1)]
    return [(begin, end) for begin, end in pairwise(starts) if end - begin > 0.2]


def _patterns(trace: Trace, bars: list[tuple[float, float]]) -> Floats:
    """(b, 80): the pattern of each bar, of length 1."""
    curves = curves_of(trace).astype(np.float64)
    total = np.concatenate([np.zeros((len(curves), 1)), np.cumsum(curves, axis=1)], axis=1)
    rows = []
    for begin, end in bars:
        edges = np.clip(np.linspace(begin, end, STEPS + 1) * RATE + 1, 0, curves.shape[1])
        sums = np.stack([np.interp(edges, np.arange(total.shape[1]), each) for each in total])
        rows.append((np.diff(sums, axis=1) / np.maximum(np.diff(edges), 0.5)).ravel())
    found = np.array(rows).reshape(-1, STEPS * len(curves))
    return np.asarray(found / np.maximum(np.linalg.norm(found, axis=1, keepdims=True), 1e-9))


def _pairs(path: np.ndarray[tuple[int, ...], np.dtype[np.int64]], likeness: Floats) -> list[tuple[int, int]]:
    """Each bar of the copy with the bar of the song on the path that it is most like; each of the song once."""
    best: dict[int, int] = {}
    for one, other in path.tolist():
        if other not in best or likeness[one, other] > likeness[best[other], other]:
            best[other] = one
    pairs, taken = [], -1
    for other, one in sorted(best.items()):
        if one > taken:
            pairs.append((one, other))
            taken = one
    return pairs


def _overall(pieces: list[Piece]) -> Course:
    lines = [piece.line for piece in pieces if piece.line]
    if not lines:
        return Course(0.0)
    middle = sorted(lines, key=lambda line: line.stretch)[len(lines) // 2]
    return Course(lines[0].at(0.0).item(), middle.stretch)
