"""Shows whose bars are no longer those of the song: its beats were corrected after the show was written."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from eavesong.scene import Scene

FARTHEST = 4
"""Bars by which a correction moves a show, at most, that is looked for."""
PARTS = 4
"""Parts of a song that have to begin where cues do, at least; fewer meet by chance."""
MOST, FEW = 0.9, 0.4
"""Share of parts that begin with cues by bars: at least, with the bars moved, and at most as they are."""


def bars_late(scene: Scene) -> int:
    """By how many bars cues begin and end after the parts of the song (before, where below 0): 0 where parts begin with
    cues, or where they do so by no number of bars."""
    assert scene.show is not None, "a scene without a show has no cues to look at"
    grid = scene.grid
    written = scene.show.cues  # what comes every few bars begins with a part, or beside all of them, by its own rule
    own = [cue for cue in scene.cues if written[cue.index].bars and not written[cue.index].every]
    ends = {end for cue in own for span in cue.spans for end in (span.start, span.end)}
    parts = [part.start for part in grid.sections if 0 < part.start < grid.duration]
    if not ends or len(parts) < PARTS:
        return 0
    cut = set(np.rint(grid.musical_time(sorted(ends)).bar).astype(int).tolist())
    begin = np.rint(grid.musical_time(parts).bar).astype(int)
    share = {by: float(np.mean([bar + by in cut for bar in begin.tolist()])) for by in range(-FARTHEST, FARTHEST + 1)}
    best = max(sorted(share, key=abs), key=lambda by: share[by])
    return best if share[best] >= MOST and share[0] <= FEW else 0
