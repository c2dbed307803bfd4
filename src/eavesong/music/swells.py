"""Builds, fills and phrases of a song: what its bars do, from its sketch, its signals and its beats."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.accents import judges, share
from eavesong.music.bands import FRAME_RATE
from eavesong.music.events import END, Event

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.grid import BeatGrid
    from eavesong.music.signals import Signals
    from eavesong.music.sketch import Sketch

    Floats = NDArray[np.float64]

LENGTHS = (2, 4, 6, 8, 12, 16)
"""Bars of a build that is looked for."""
LEAST_GROWTH = 0.5
"""How much the bars of a build grow at least: 1 is 6 dB, or twice the strokes, or half of the range of brightness."""
DECIBELS = 6.0
PHRASES = (2, 4, 8)
"""Bars of a phrase."""
USUAL_PHRASE = 8.0
"""Seconds that phrases last as a rule (common practice: four bars at 120 a minute)."""
LEFT = 2
"""Bars at the end of a section from which on they are a phrase of their own."""
DENSER = 1.5
"""How much denser than in the bars before a fill is."""
MORE = 2
"""Strokes that a fill has more than they, at least."""


def bar_edges(grid: BeatGrid) -> Floats:
    """Seconds (n + 1,) at which bars begin, and at which the last one ends."""
    downbeats = np.array(grid.downbeats)
    end = max(grid.duration, downbeats[-1] + 1e-3)
    return np.append(downbeats[downbeats < end], end)


def find_phrases(signals: Signals, grid: BeatGrid) -> list[Event]:
    """The start of each phrase: sections divided into phrases of 2, 4 or 8 bars, whichever the sound changes by."""
    change = _change(signals, grid)
    events = []
    for first, last in _sections_in_bars(grid):
        length = _phrase_length(change[first:last], grid)
        starts = list(range(first, last, length))
        if len(starts) > 1 and last - starts[-1] < LEFT:
            starts.pop()
        events += [Event(round(grid.downbeats[bar], 3), "phrase") for bar in starts]
    return events


def _sections_in_bars(grid: BeatGrid) -> list[tuple[int, int]]:
    """First bar and end of every section that holds a downbeat."""
    downbeats = np.array(grid.downbeats)
    starts = [section.start for section in grid.sections] or [0.0]
    edges = np.searchsorted(downbeats, np.array(starts) - 0.05)
    edges[0] = 0
    return [(int(a), int(b)) for a, b in pairwise([*edges, len(downbeats)]) if b > a]


def _change(signals: Signals, grid: BeatGrid) -> Floats:
    """How much the sound changes with each bar (n,), in the mean 1."""
    edges = np.clip(np.round(bar_edges(grid) * FRAME_RATE).astype(int), 0, len(signals.spectrum))
    rows = [signals.spectrum[a:b].mean(axis=0) if b > a else np.zeros(32) for a, b in pairwise(edges)]
    table = np.array(rows).reshape(-1, signals.spectrum.shape[1])
    steps = np.sqrt((np.diff(table, axis=0, prepend=table[:1]) ** 2).mean(axis=1))
    return np.asarray(steps / max(float(steps.mean()), 1e-6))


def _phrase_length(change: Floats, grid: BeatGrid) -> int:
    """Bars of this section's phrases: those at whose starts the sound changes most, and which last as phrases do."""
    bar = 60 / grid.tempo * float(np.median(grid.beats_in_bars))
    scores = {}
    for length in PHRASES:
        starts = np.arange(length, len(change), length)
        gain = float(change[starts].mean() - change[1:].mean()) if len(starts) else 0.0
        scores[length] = gain - abs(np.log2(length * bar / USUAL_PHRASE))
    return max(scores, key=lambda length: scores[length])


def find_builds(sketch: Sketch, signals: Signals, grid: BeatGrid, stops: list[Event]) -> list[Event]:
    """Builds: bars of rising loudness, density or brightness, each with its end: a downbeat, or a stop before it."""
    spans, figures = build_candidates(sketch, signals, grid)
    if not len(spans):
        return []
    odds, edges = judges()["build"].odds(figures), bar_edges(grid)
    chosen: list[tuple[int, int, float]] = []
    for at in np.argsort(-odds):
        begin, end = (int(bar) for bar in spans[at])
        if odds[at] > 0 and all(end <= other[0] or begin >= other[1] for other in chosen):
            chosen.append((begin, end, float(odds[at])))
    halts = [event.time for event in stops if event.label == "stop"]
    events = []
    for begin, end, strength in sorted(chosen):
        early = [halt for halt in halts if edges[end - 1] < halt < edges[end]]
        events.append(Event(round(float(edges[begin]), 3), "build", round(share(strength), 3)))
        events.append(Event(round(min([float(edges[end]), *early]), 3), "build" + END))
    return events


def build_candidates(sketch: Sketch, signals: Signals, grid: BeatGrid) -> tuple[NDArray[np.int64], Floats]:
    """First bar and end (n, 2) of every stretch of bars that might be a build, and its figures (n, 13)."""
    edges = bar_edges(grid)
    figures = _bar_figures(sketch, signals, edges)
    starts = np.array([first for first, _ in _sections_in_bars(grid)])
    spans, rows = [], []
    for end in range(2, len(edges) - 1):
        for length in LENGTHS:
            begin = end - length
            if begin < 0:
                continue
            inside, after = figures[:, begin:end], figures[:, end]
            before = figures[:, max(0, begin - 4) : begin].mean(axis=1) if begin else figures[:, 0]
            rises, steady = _growth(inside, length)
            if rises[0] + 0.7 * rises[1] + 0.5 * rises[2] < LEAST_GROWTH:
                continue
            near = float(np.abs(starts - end).min(initial=8))
            rows.append([*rises, *steady, np.log2(length), *(after - inside[:, -1])[:2], *(inside[:, 0] - before)[:2],
                         min(near, 4.0), float(min(np.abs(starts - begin).min(initial=8), 4.0))])  # fmt: skip
            spans.append((begin, end))
    return np.array(spans, np.int64).reshape(-1, 2), np.array(rows).reshape(-1, 13)


def _bar_figures(sketch: Sketch, signals: Signals, edges: Floats) -> Floats:
    """Loudness, density and brightness of each bar (3, n), so that 1 is a clear difference in each."""
    frames = np.clip(np.round(edges * FRAME_RATE).astype(int), 0, len(sketch.level))
    level = np.array([_mean(sketch.level, a, b) for a, b in pairwise(frames)]) / DECIBELS
    bright = np.array([_mean(signals.brightness, a, b) for a, b in pairwise(frames)]) * 2
    strokes = np.concatenate([each.times for each in sketch.strokes.values()])
    count = np.histogram(strokes, edges)[0] / np.maximum(np.diff(edges), 0.1)
    return np.stack([level, np.log2(count + 1.0), bright])


def _mean(values: NDArray[np.floating], begin: int, end: int) -> float:
    return float(values[begin:end].mean(dtype=np.float64)) if end > begin else 0.0


def _growth(figures: Floats, length: int) -> tuple[Floats, Floats]:
    """How much bars (3, n) grow in each figure, by the line through them, and how steadily: its correlation."""
    ramp = np.arange(length) - (length - 1) / 2
    away = figures - figures.mean(axis=1, keepdims=True)
    square = float(ramp @ ramp)
    steady = away @ ramp / np.sqrt(np.maximum((away**2).sum(axis=1) * square, 1e-9))
    return away @ ramp / square * (length - 1), steady


def find_fills(sketch: Sketch, grid: BeatGrid, phrases: list[Event]) -> list[Event]:
    """Fills: the last bar, or half bar, of a phrase with more low and middle strokes than the bars before have."""
    edges = bar_edges(grid)
    strokes = np.sort(np.concatenate([sketch.strokes["low"].times, sketch.strokes["middle"].times]))
    if len(edges) < 3 or not len(strokes):
        return []
    halves = np.sort(np.concatenate([edges, (edges[1:] + edges[:-1]) / 2]))
    count = np.histogram(strokes, halves)[0].astype(np.float64)
    ends = np.searchsorted(edges, [event.time + 0.05 for event in phrases]) - 1
    events = []
    for end in (int(each) for each in ends if each >= 2):
        before = [2 * bar for bar in range(max(0, end - 8), end - 1)]
        first, second = 2 * (end - 1), 2 * (end - 1) + 1
        whole = [_denser(count[at], np.array([count[each + at % 2] for each in before])) for at in (first, second)]
        if whole[1]:
            begin = halves[first] if whole[0] else halves[second]
            strength = min(1.0, float(count[second]) / 8)
            events += [Event(round(float(begin), 3), "fill", round(max(strength, 0.1), 3)),
                       Event(round(float(edges[end]), 3), "fill" + END)]  # fmt: skip
    return events


def _denser(count: float, others: Floats) -> bool:
    usual = float(np.median(others)) if len(others) else np.inf
    return count >= DENSER * usual and count >= usual + MORE
