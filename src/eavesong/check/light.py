"""How much light there is, section by section: some moments of the song drawn, and nothing written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.music.grid import BeatGrid, Section

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.scene import Scene
    from eavesong.scene.place import PlacedCue

LOOKS = 7.0
"""Moments a second that are drawn; no usual tempo has its beats on them."""
MOST_LOOKS = 1200
"""Moments of a song that are drawn at most."""
BLOCK = 64
"""Moments that are drawn together."""
SELDOM = 0.5
"""Share of the song below which a prop is dark for most of it."""


@dataclass(frozen=True)
class SectionLight:
    """The light in one section, as the mean over its moments."""

    label: str
    start: float
    """Seconds; likewise ``end``."""
    end: float
    lit: float
    """Share of the pixels that are lit, 0..1."""
    brightness: float
    """Share of what all pixels would take at full white, 0..1."""
    layers: float
    """Cues that are lit at once."""


def light_by_section(scene: Scene) -> tuple[SectionLight, ...]:
    """The light in every section of the song, or in the song as a whole where it has none."""
    from eavesong.engines import draw

    grid = scene.grid
    rate = min(LOOKS, MOST_LOOKS / max(grid.duration, 1.0))
    seen = replace(scene, terms=replace(scene.terms, frame_rate=rate))
    drawing, count = draw(seen), max(1, int(grid.duration * rate))
    starts, widths = seen.layout.patch.channel_start, seen.layout.patch.channel_width
    lit, drive = np.zeros(count), np.zeros(count)
    for first in range(0, count, BLOCK):
        block = drawing.block(first, min(BLOCK, count - first))
        rows = slice(first, first + len(block))
        drive[rows] = block.mean(axis=1) / 255
        lit[rows] = np.logical_or.reduce(
            [block[:, starts + np.minimum(channel, widths - 1)] > 0 for channel in range(4)]
        ).mean(axis=1)
    times = np.arange(count) / rate
    layers = sum((_on(cue, times) for cue in scene.cues if cue.props and cue.opacity > 0), np.zeros(count))
    return tuple(
        SectionLight(
            part.label, part.start, part.end, *(float(values[there].mean()) for values in (lit, drive, layers))
        )
        for part in grid.sections or (Section(0.0, grid.duration, "the song"),)
        if (there := (times >= part.start) & (times < part.end)).any()
    )


def _on(cue: PlacedCue, times: NDArray[np.float64]) -> NDArray[np.bool_]:
    on: NDArray[np.bool_] = cue.envelope(times).strength > 0
    return on


def seldom_lit(layout: Layout, cues: Sequence[PlacedCue], grid: BeatGrid) -> dict[float, list[int]]:
    """The props that cues light for less than half of the song, though for some of it, by how many seconds."""
    spans: dict[int, list[tuple[float, float]]] = {}
    for cue in cues:
        for prop in cue.props:
            spans.setdefault(prop, []).extend((span.start, span.end) for span in cue.spans)
    found: dict[float, list[int]] = {}
    for prop in sorted(spans):
        seconds = round(_length(spans[prop], grid.duration), 3)
        if 0 < seconds < SELDOM * grid.duration:
            found.setdefault(seconds, []).append(prop)
    return dict(sorted(found.items()))


def _length(spans: Sequence[tuple[float, float]], duration: float) -> float:
    """Seconds that at least one of the spans covers, from 0 to ``duration``."""
    covered, reached = 0.0, 0.0
    for start, end in sorted(spans):
        start, end = max(start, reached), min(end, duration)
        if end > start:
            covered += end - start
            reached = end
    return covered
