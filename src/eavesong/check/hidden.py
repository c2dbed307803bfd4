"""Cues that are never seen, as others are painted over them."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np

from eavesong.language.builtins import SIGNALS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.scene import Scene
    from eavesong.scene.place import PlacedCue

MOMENTS = 12
"""Of a cue's time that are looked at."""
RATE = 20.0
"""Frames a second of the moments that are drawn."""


def hidden(scene: Scene, among: Collection[int] | None = None) -> Iterator[tuple[PlacedCue, PlacedCue]]:
    """The cues that nobody sees, each with one that is painted over it; found by drawing the song without them.
    among: the numbers of those that are looked at, from 0; None for all.

    Where a scene is in silence nothing is hidden by what follows the sound, which may look otherwise with it.
    """
    from eavesong.engines import draw

    terms = replace(scene.terms, frame_rate=RATE)
    counts = [scene.signals is not None or not _hears(cue) for cue in scene.cues]
    usual = None
    for at, cue in enumerate(scene.cues):
        if among is not None and cue.index not in among:
            continue
        below, above = (tuple(compress(scene.cues[part], counts[part])) for part in (slice(at), slice(at + 1, None)))
        frames = _frames_of(cue, scene.grid.duration)
        over = _over(cue, above, frames / RATE) if len(frames) and cue.gives_light else []
        if not over:
            continue
        if usual is None or not counts[at]:
            together = draw(replace(scene, terms=terms, cues=(*below, cue, *above)))
            usual = together if counts[at] else usual
        else:
            together = usual
        without = draw(replace(scene, terms=terms, cues=(*below, *above)))
        if any(not np.array_equal(together.block(number, 1), without.block(number, 1)) for number in frames.tolist()):
            continue
        alone = draw(replace(scene, terms=terms, cues=(cue,)))
        if any(alone.block(number, 1).any() for number in frames.tolist()):  # else it waits for something else
            yield cue, next((other for other in over if _hides(other, cue, scene, frames)), over[0])


def _hears(cue: PlacedCue) -> bool:
    """Whether a cue's light follows the sound."""
    program = cue.effect.program
    return program.reads_spectrum() or not {*SIGNALS}.isdisjoint(program.frame_inputs())


def _frames_of(cue: PlacedCue, duration: float) -> NDArray[np.int64]:
    """MOMENTS frames at most in which a cue is lit, by their numbers."""
    numbers = [
        np.arange(np.ceil(max(span.start, 0.0) * RATE), np.ceil(min(span.end, duration) * RATE)) for span in cue.spans
    ]
    every = np.concatenate([np.zeros(0), *numbers]).astype(np.int64)
    lit: NDArray[np.int64] = every[cue.envelope(every / RATE).strength > 0]
    return lit[np.linspace(0, len(lit) - 1, min(MOMENTS, len(lit))).astype(np.int64)]


def _hides(other: PlacedCue, cue: PlacedCue, scene: Scene, frames: NDArray[np.int64]) -> bool:
    """Whether a cue hides another by itself, whatever else is painted over that."""
    from eavesong.engines import draw

    terms = replace(scene.terms, frame_rate=RATE)
    both, alone = (draw(replace(scene, terms=terms, cues=cues)) for cues in ((cue, other), (other,)))
    return all(np.array_equal(both.block(number, 1), alone.block(number, 1)) for number in frames.tolist())


def _over(cue: PlacedCue, later: Sequence[PlacedCue], times: NDArray[np.float64]) -> list[PlacedCue]:
    """The cues that may hide a cue, those first that may at most of these moments; none where at any of them no cue
    can."""
    mine = cue.weight > 0
    covers = [
        other
        for other in later
        if other.blend == "source-over" and other.opacity == 1 and bool((other.weight[mine] == 1).all())
    ]
    full = [other.envelope(times).strength == 1 for other in covers]
    if not full or not mine.any() or not np.any(full, axis=0).all():
        return []
    return [covers[at] for at in np.argsort(-np.sum(full, axis=1), kind="stable").tolist()]
