"""Cues that are never seen, as others are painted over them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.scene import Scene
    from eavesong.scene.place import PlacedCue

MOMENTS = 12
"""Of a cue's time that are looked at."""
RATE = 20.0
"""Frames a second of the moments that are drawn."""


def hidden(scene: Scene) -> Iterator[tuple[PlacedCue, PlacedCue]]:
    """The cues that nobody sees, each with one that is painted over it; found by drawing the song without them."""
    from eavesong.engines import draw

    drawing = None
    for at, cue in enumerate(scene.cues):
        frames = _frames_of(cue, scene.grid.duration)
        over = _over(cue, scene.cues[at + 1 :], frames / RATE) if len(frames) and cue.gives_light else None
        if over is None:
            continue
        terms = replace(scene.terms, frame_rate=RATE)
        drawing = drawing or draw(replace(scene, terms=terms))
        without = draw(replace(scene, terms=terms, cues=(*scene.cues[:at], *scene.cues[at + 1 :])))
        if any(not np.array_equal(drawing.block(number, 1), without.block(number, 1)) for number in frames.tolist()):
            continue
        alone = draw(replace(scene, terms=terms, cues=(cue,)))
        if any(alone.block(number, 1).any() for number in frames.tolist()):  # else it waits for something else
            yield cue, over


def _frames_of(cue: PlacedCue, duration: float) -> NDArray[np.int64]:
    """MOMENTS frames at most in which a cue is lit, by their numbers."""
    numbers = [
        np.arange(np.ceil(max(span.start, 0.0) * RATE), np.ceil(min(span.end, duration) * RATE)) for span in cue.spans
    ]
    every = np.concatenate([np.zeros(0), *numbers]).astype(np.int64)
    lit: NDArray[np.int64] = every[cue.envelope(every / RATE).strength > 0]
    return lit[np.linspace(0, len(lit) - 1, min(MOMENTS, len(lit))).astype(np.int64)]


def _over(cue: PlacedCue, later: Sequence[PlacedCue], times: NDArray[np.float64]) -> PlacedCue | None:
    """One of the cues that may hide a cue; None where at any of these moments none of them can."""
    mine = cue.weight > 0
    covers = [
        other
        for other in later
        if other.blend == "source-over" and other.opacity == 1 and bool((other.weight[mine] == 1).all())
    ]
    full = [other.envelope(times).strength == 1 for other in covers]
    if not full or not mine.any() or not np.any(full, axis=0).all():
        return None
    return covers[int(np.sum(full, axis=1).argmax())]
