"""Builds, fills and phrases of a song: what its bars do, from its sketch, its signals and its beats."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.events import END, Event

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.grid import BeatGrid
    from eavesong.music.signals import Signals
    from eavesong.music.sketch import Sketch

    Floats = NDArray[np.float64]

LENGTHS = (16, 12, 8, 6, 4, 3, 2)
"""Bars of a build that is looked for."""
STEADILY = 0.8
"""Correlation with time from which bars grow."""
GROWTH = 1.5
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
    """Builds: bars of rising energy, density or pitch, each with its end: the start of a section, or a stop."""
    edges = bar_edges(grid)
    if len(edges) < 4:
        return []
    figures = _bar_figures(sketch, signals, edges)
    found: list[tuple[int, int, float]] = []
    for end in range(2, len(edges)):
        best = max((_growth(figures[:, end - n : end], n) for n in LENGTHS if n <= end), default=(0.0, 0))
        if best[0] >= GROWTH:
            found.append((end - best[1], end, best[0]))
    chosen: list[tuple[int, int, float]] = []
    for begin, end, growth in sorted(found, key=lambda each: -each[2]):
        if all(end <= other[0] or begin >= other[1] for other in chosen):
            chosen.append((begin, end, growth))
    halts = [event.time for event in stops if event.label == "stop"]
    events = []
    for begin, end, growth in sorted(chosen):
        early = [halt for halt in halts if edges[end - 1] < halt < edges[end]]
        events.append(Event(round(float(edges[begin]), 3), "build", round(min(1.0, growth / 3), 3)))
        events.append(Event(round(min([float(edges[end]), *early]), 3), "build" + END))
    return events


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


def _growth(figures: Floats, length: int) -> tuple[float, int]:
    """How much bars (3, n) grow, where they do so steadily, and how many they are."""
    if length < 2:
        return 0.0, length
    total = figures[0] + 0.7 * figures[1] + 0.5 * figures[2]
    ramp = np.arange(length) - (length - 1) / 2
    slope = float(ramp @ total) / float(ramp @ ramp)
    spread = float(np.sqrt(((total - total.mean()) ** 2).sum() * (ramp @ ramp)))
    steady = float(ramp @ total) / spread if spread > 1e-9 else 0.0
    rises = slope * (length - 1)
    least = STEADILY if length > 3 else 0.95
    return (rises * steady * min(1.0, length / 4), length) if steady >= least else (0.0, length)


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
