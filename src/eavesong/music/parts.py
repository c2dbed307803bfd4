"""The sections of a song: where its sound changes for good, and which stretches sound alike."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.grid import BeatGrid, Section

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.bands import Powers

    Floats = NDArray[np.float64]

REACH = 4
"""Bars on either side of a bar line that are compared."""
CHANGE = 0.5
"""How far the sound must change, in standard deviations over all bars, to begin a section."""
ALIKE = 0.8
"""Distance, in the same unit, below which two sections bear the same letter."""


def find_sections(powers: Powers, grid: BeatGrid) -> tuple[Section, ...]:
    """Sections named A, B, … from the start of the song to its end, with boundaries on downbeats.

    A boundary stands where the four bars before and the four after differ most (novelty after Foote 2000, on the
    mean spectrum of each bar). Sections that sound alike bear the same letter.
    """
    lines = [time for time in grid.downbeats if time < powers.duration]
    if len(lines) < 2 * REACH:
        return (Section(0.0, powers.duration, "A"),)
    bars = _bar_sounds(powers, lines)
    inner = [lines[bar] for bar in _boundaries(bars)]
    edges = [0.0, *inner, powers.duration]
    starts = [0, *(lines.index(line) for line in inner), len(bars)]
    means = [bars[begin:end].mean(axis=0) for begin, end in pairwise(starts)]
    stretches = zip(pairwise(edges), _letters(means), strict=True)
    return tuple(Section(round(start, 6), round(end, 6), label) for (start, end), label in stretches)


def _bar_sounds(powers: Powers, lines: list[float]) -> Floats:
    """The sound of each bar (bars, 33): level in each band and overall, in standard deviations."""
    level = np.log10(powers.bands + 1e-5 * max(float(powers.bands.max()), 1e-12)).astype(np.float64)
    edges = np.minimum(np.round(np.array([*lines, powers.duration]) * FRAME_RATE).astype(int), len(level) - 1)
    bars = np.array([level[a : max(b, a + 1)].mean(axis=0) for a, b in pairwise(edges)])
    overall = bars.mean(axis=1, keepdims=True)
    sounds = np.hstack([bars, overall])
    return np.asarray((sounds - sounds.mean(axis=0)) / (sounds.std(axis=0) + 1e-3))


def _boundaries(bars: Floats) -> list[int]:
    """The bars (after the first) at which something new begins: peaks of change, four bars apart at least."""
    count = len(bars)
    change = np.zeros(count)
    for bar in range(2, count - 1):
        before, after = bars[max(0, bar - REACH) : bar], bars[bar : bar + REACH]
        change[bar] = np.sqrt(np.mean((before.mean(axis=0) - after.mean(axis=0)) ** 2))
    chosen: list[int] = []
    for bar in np.argsort(-change, kind="stable"):
        if change[bar] > CHANGE and all(abs(bar - other) >= REACH for other in [0, *chosen]):
            chosen.append(int(bar))
    return sorted(chosen)


def _letters(means: list[Floats]) -> list[str]:
    """A letter for each section's mean sound, the same for those near the first that bore it."""
    found: list[Floats] = []
    letters = []
    for mean in means:
        distances = [float(np.sqrt(np.mean((mean - other) ** 2))) for other in found]
        if distances and min(distances) < ALIKE:
            number = int(np.argmin(distances))
        else:
            number = len(found)
            found.append(mean)
        letters.append(chr(ord("A") + number) if number < 26 else f"part {number + 1}")
    return letters
