"""Counting the beats of a grid anew: other bars on the same beats."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np

from eavesong.music.grid import CLOSEST, BeatGrid, Section

EITHER = 0.2
"""Of a bar, by which a later downbeat may be farther away than an earlier one and still be taken: beats jitter."""


def recounted(grid: BeatGrid, metre: int | None = None, first_downbeat: float | None = None) -> BeatGrid:
    """``grid`` with bars of ``metre`` beats, the first of which begins at the beat nearest to ``first_downbeat``.

    Without a metre bars get the length that most of them have now; without a first downbeat (seconds) they begin
    where the first one begins now. Beats before it are the pickup; those that are more than a pickup holds are left
    out. Sections stay as they are. A metre of more beats than the song has from there on leaves one bar.
    """
    if metre is None and first_downbeat is None:
        return grid
    length = metre or _usual(grid)
    moment = grid.downbeats[0] if first_downbeat is None else first_downbeat
    first = int(np.argmin(np.abs(np.array(grid.times) - moment)))
    first = min(first, grid.beat_count - 2)
    begin = max(0, first - (length - 1))
    positions = tuple((beat - first) % length + 1 for beat in range(begin, grid.beat_count))
    return BeatGrid(grid.times[begin:], positions, grid.sections, grid.duration)


def with_sections(grid: BeatGrid, sections: tuple[Section, ...]) -> BeatGrid:
    """``grid`` with ``sections`` whose inner boundaries are moved to its nearest downbeats; of two that are about as
    near to the later one, each time, so that a section of eight bars in the middle between them stays one of eight.

    Where several come to begin at one downbeat, the first of them stays.
    """
    if not sections:
        return grid
    inside = [time for time in grid.downbeats if time < sections[-1].end - CLOSEST]
    downbeats = np.array(inside or grid.downbeats[:1])
    bar = 60.0 / grid.tempo * grid.usual_beats
    starts: dict[float, Section] = {}
    for section in sections:
        far = np.abs(downbeats - section.start) + EITHER * bar * (downbeats < section.start)
        start = float(downbeats[np.argmin(far)]) if starts else section.start
        starts.setdefault(start, section)
    edges = pairwise([*sorted(starts), sections[-1].end])
    moved = [replace(starts[start], start=start, end=end) for start, end in edges if end - start > CLOSEST]
    return BeatGrid(grid.times, grid.positions, tuple(moved), grid.duration)


def _usual(grid: BeatGrid) -> int:
    """The commonest length of a bar; the last one, whose end nobody knows, counts only when it is alone."""
    lengths = grid.beats_in_bars
    return Counter(lengths[:-1] or lengths).most_common(1)[0][0]
