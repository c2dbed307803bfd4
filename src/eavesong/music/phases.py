"""The same beats in bars that begin elsewhere: what somebody may want where beats are right and bars are not.

Bars are decided by the evidence at every beat, and whole songs are heard half a bar late where chords change there. No
other explanation of a song has such bars, as each has the best of its own.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.candidates import share_in_common
from eavesong.music.metre import FARTHEST

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.explain import Explanation

    Floats = NDArray[np.float64]

SAME_BARS = 0.7
"""Share of downbeats in common from which two ways to count the same beats are one."""


def turned(one: Explanation) -> list[Explanation]:
    """``one`` in bars of the length that most of its bars have, beginning on each other beat, the likeliest first.

    Where bars have two beats, bars of four are among them. What shares most downbeats with ``one`` is left out.
    """
    length = usual_length(one.positions)
    sizes = (length, 2 * length) if length == 2 else (length,)
    evidence = np.clip(one.judged.downbeat.astype(np.float64), -FARTHEST, FARTHEST)
    own = one.judged.beats[one.positions == 1]
    found: list[tuple[float, Explanation]] = []
    for size in sizes:
        for first in range(min(size, len(evidence))):
            positions = ((np.arange(len(evidence)) - first) % size + 1).astype(np.int16)
            downbeats = one.judged.beats[positions == 1]
            if not same_bars(own, downbeats):
                other = replace(one, positions=positions, way=(size,))
                found.append((float(evidence[first::size].mean()), other))
    return [other for _, other in sorted(found, key=lambda pair: -pair[0])]


def usual_length(positions: NDArray[np.integer]) -> int:
    """The number of beats that most bars have, from the positions of beats in their bars (n,)."""
    lengths = np.diff(np.flatnonzero(positions == 1))
    return int(np.bincount(lengths).argmax()) if len(lengths) else int(positions.max())


def same_bars(one: Floats, other: Floats) -> bool:
    """Whether two rows of downbeats (n,) and (m,), in frames, are nearly the same; so few that nothing tells are."""
    return min(len(one), len(other)) < 2 or share_in_common(one, other) >= SAME_BARS
