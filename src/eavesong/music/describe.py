"""A beat grid as people talk about it: minutes and seconds, bars from 1, tempo, metre."""

from __future__ import annotations

from collections import Counter

import numpy as np

from eavesong.music.grid import BeatGrid, Section

STEADY = 0.02
"""Share by which the tempo may waver and still be called one tempo."""
LABEL_WIDTH = 24


def describe(grid: BeatGrid) -> str:
    """``grid`` in a few lines of at most 80 columns: tempo, beats, bars, metre, and a table of the sections."""
    pickup = grid.positions.index(1)
    lines = [
        f"length    {clock(grid.duration)}",
        f"tempo     {_tempo(np.diff(grid.times))} beats a minute",
        f"beats     {grid.beat_count}" + (f", {pickup} of them before bar 1" if pickup else ""),
        f"bars      {grid.bar_count}, from {clock(grid.downbeats[0])} on",
        f"metre     {_metre(grid.beats_in_bars)}",
    ]
    if grid.sections:
        width = min(LABEL_WIDTH, max(len("section"), *(len(section.label) for section in grid.sections)))
        lines += ["", f"{'section':<{width}}  {'start':>8}  {'end':>8}  {'bars':>9}  tempo"]
        lines += [_row(grid, section, width) for section in grid.sections]
    return "\n".join(lines)


def clock(seconds: float) -> str:
    """Seconds as minutes and seconds, ``1:02.35``."""
    hundredths = round(seconds * 100)
    return f"{hundredths // 6000}:{hundredths // 100 % 60:02d}.{hundredths % 100:02d}"


def _row(grid: BeatGrid, section: Section, width: int) -> str:
    begin, end = grid.musical_time([section.start, section.end]).bar
    first = max(0, round(float(begin))) + 1
    last = max(first, min(round(float(end)), grid.bar_count))
    times = np.array([time for time in grid.times if section.start - 1e-6 <= time <= section.end + 1e-6])
    bars = f"{first}–{last}" if last > first else f"{first}"
    tempo = _tempo(np.diff(times)) if len(times) > 1 else "–"
    label = section.label if len(section.label) <= width else section.label[: width - 1] + "…"
    start, stop = clock(section.start), clock(section.end)
    return f"{label:<{width}}  {start:>8}  {stop:>8}  {bars:>9}  {tempo}"


def _tempo(gaps: np.ndarray) -> str:
    """The tempo between beats that are ``gaps`` seconds apart, from slow to fast where it is not steady."""
    # Single beats jitter where they were found by ear or by analysis: four together do not.
    several = np.convolve(gaps, np.full(min(4, len(gaps)), 1 / min(4, len(gaps))), mode="valid")
    slow, fast = 60 / several.max(), 60 / several.min()
    if fast / slow - 1 < STEADY:
        return f"{60 / float(np.mean(gaps)):.4g}"
    return f"{slow:.0f} to {fast:.0f}"


def _metre(lengths: tuple[int, ...]) -> str:
    """How many beats bars have; the last bar, whose end nobody knows, counts only when it is alone."""
    counts = Counter(lengths[:-1] or lengths).most_common()
    if len(counts) == 1:
        return f"{counts[0][0]} beats to the bar"
    return "changes: " + ", ".join(f"{count} bars of {length}" for length, count in counts[:6])
