"""Which sections of a song are the same: their letters."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from eavesong.words import clock_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from eavesong.music.barwise import Bars
    from eavesong.music.grid import Section

    Floats = NDArray[np.float64]

ALIKE = 0.7
"""Distance below which two sections are the same; two bars taken at random lie 1.4 apart."""
CHORDS = 0.25
"""Share of the chords in that distance; a last chorus in another key is still the chorus."""
SHARED = 0.5
"""Share of the time of a letter, here or there, from which on two letters name the same part of a song."""
COMPARED = 32
"""Bars of a section, from its start, that are compared."""
LEAST = 0.25
"""Share of a section from which a stretch of it that is called otherwise is told: boundaries move by a bar or two."""
AT_ONCE = 1.0
"""Seconds behind its beginning from which on it is told when such a stretch begins."""


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
    return [letter(number) for number in numbers]


def letter(number: int) -> str:
    """What the sections of a number, from 0, are called."""
    return chr(ord("A") + number) if number < 26 else f"part {number + 1}"


def lettered_as(sections: Sequence[Section], before: Sequence[Section]) -> tuple[Section, ...]:
    """``sections`` that bear the letters by which the same parts of the song went ``before``.

    Letters are given in the order in which parts come, so that one more of them renames all that follow. Of all ways to
    exchange letters the one is taken by which most seconds keep theirs; what shares less than half with any that was
    there gets a letter that was not.
    """
    from scipy.optimize import linear_sum_assignment

    ours, theirs = (list(dict.fromkeys(part.label for part in parts)) for parts in (sections, before))
    shared, lasts, lasted = np.zeros((len(ours), len(theirs))), np.zeros(len(ours)), np.zeros(len(theirs))
    for part in sections:
        lasts[ours.index(part.label)] += part.end - part.start
        for other in before:
            both = min(part.end, other.end) - max(part.start, other.start)
            shared[ours.index(part.label), theirs.index(other.label)] += max(0.0, both)
    for other in before:
        lasted[theirs.index(other.label)] += other.end - other.start
    same = shared > SHARED * np.minimum(lasts[:, None], lasted)
    called = {
        ours[a]: theirs[b]
        for a, b in zip(*linear_sum_assignment(shared * same, maximize=True), strict=True)
        if same[a, b]
    }
    free = (name for number in range(len(ours) + len(theirs)) if (name := letter(number)) not in theirs)
    called |= {each: next(free) for each in ours if each not in called}
    return tuple(replace(part, label=called[part.label]) for part in sections)


def called_otherwise(sections: Sequence[Section], before: Sequence[Section]) -> list[tuple[Section, str]]:
    """The sections of ``before`` of which some is called otherwise, or of another kind, now, each with what that is:
    ``B steady``, ``A steady, and D high from 1:15 on``. What is left of a section beside its neighbour is no other."""
    found = []
    for part in before:
        there = [(max(part.start, each.start), min(part.end, each.end), _named(each)) for each in sections]
        there = [each for each in there if each[1] > each[0]]
        least, own = LEAST * (part.end - part.start), _named(part)
        if sum(end - start for start, end, name in there if name != own) <= least:
            continue
        told: list[tuple[float, str]] = []
        for start, end, name in there:
            if end - start >= least and (not told or told[-1][1] != name):
                told.append((start, name))
        if not any(name != own for _, name in told):  # in many pieces: the longest of them
            start, _, name = max((each for each in there if each[2] != own), key=lambda each: each[1] - each[0])
            told = [(start, name)]
        if told[0][1] == own:
            told = told[1:]
        late = [f" from {clock_text(start, 0)} on" * (start > part.start + AT_ONCE) for start, _ in told]
        found.append((part, ", and ".join(name + when for (_, name), when in zip(told, late, strict=True))))
    return found


def _named(part: Section) -> str:
    """``B high``."""
    return " ".join(filter(None, (part.label, part.kind)))


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
