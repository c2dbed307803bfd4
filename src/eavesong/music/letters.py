"""Which sections of a song are the same: their letters."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from eavesong.music.barwise import Bars

    Floats = NDArray[np.float64]

ALIKE = 0.7
"""Distance below which two sections are the same; two bars taken at random lie 1.4 apart."""
CHORDS = 0.25
"""Share of the chords in that distance; a last chorus in another key is still the chorus."""
COMPARED = 32
"""Bars of a section, from its start, that are compared."""


def letters_of(bars: Bars, inner: Sequence[int]) -> list[str]:
    """A letter for each section of ``bars``; ``inner`` are the bars, after the first, with which one begins.

    Every section bears the letter whose first section it is like, bar by bar from the start, or a new one.
    """
    rows = _rows(bars)
    first: list[Floats] = []
    numbers = []
    for begin, end in pairwise([0, *inner, len(bars)]):
        section = rows[begin : min(end, begin + COMPARED)]
        distances = [_distance(section, other) for other in first]
        number = int(np.argmin(distances)) if distances and min(distances) < ALIKE else len(first)
        if number == len(first):
            first.append(section)
        numbers.append(number)
    return [chr(ord("A") + number) if number < 26 else f"part {number + 1}" for number in numbers]


def _rows(bars: Bars) -> Floats:
    """Each bar as one row (n, c) whose mean square is 1 over the song."""
    tables = [(bars.sound, 1.0), (bars.attack, 1.0)]
    if bars.chords is not None:
        tables = [(bars.sound, 1.0 - CHORDS), (bars.attack, 1.0 - CHORDS), (bars.chords, 2 * CHORDS)]
    return np.hstack([table * np.sqrt(weight / 2 / table.shape[1]) for table, weight in tables])


def _distance(one: Floats, other: Floats) -> float:
    """How far two sections (p, c) and (q, c) lie apart: the median over the bars that both have.

    The median, because a fill or a crash in one bar makes no other section of it.
    """
    both = min(len(one), len(other))
    return float(np.sqrt(np.median(np.sum((one[:both] - other[:both]) ** 2, axis=1))))
