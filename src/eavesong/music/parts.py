"""The sections of a song: where its sound changes for good, and which stretches sound alike."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.barwise import Bars, bars_of
from eavesong.music.edges import CHANGES, edge_figures, edge_nets
from eavesong.music.grid import CLOSEST, BeatGrid, Section
from eavesong.music.letters import letters_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.bands import Powers

    Floats = NDArray[np.float64]

LONGEST, LONGEST_SECONDS = 40, 56.0
"""Bars, and seconds, of the longest section that is looked for: one that lasts longer says nothing to who lights it."""
FEWEST = 4
"""Bars below which a song is one section."""

# What a section costs and a boundary is worth. Found by random search on generated songs, and on some in which whoever
# wrote them marked the sections, then rounded by hand: nothing hangs on the second digit.
SECTION = 1.1
"""What every section costs: without it, every bar would be one."""
BRIEF, MIX, LONGER, MORE = 90.0, 400.0, 0.48, 1.6
"""Seconds of a song from which a section costs more, and until which, the power of its length with which it does, and
how much: longer songs have longer sections rather than more of them, but an hour of songs has not."""
SPREAD = 0.39
"""What the distance of its bars' sound from their mean costs a section: squared, in variances of the song."""
UNEVEN = (0.8, 0.48, 0.16)
"""What it costs when a section's bars are odd in number, even, or a multiple of 4 that is not 8, 16 or 32."""
TOO_SHORT, TOO_LONG = (6.0, 0.5), (10.0, 0.28)
"""Seconds from which a section costs more, and how much at half or twice as many; the square of that in octaves."""
AT_THE_ENDS = 0.6
"""Share of the cost of shortness for the first and last section: intros and endings are brief."""
LIKELY, DOUBTFUL, SURE = 0.24, -6.5, 0.9
"""What the nets' log odds of a boundary are worth, and the least and the most of them that count."""
CHANGE = {"sound": 0.65, "attack": 0.17, "chords": 0.18}
"""What a change of the sound over four bars, of what begins over one, and of the chords' pattern is worth besides."""


def find_sections(powers: Powers, grid: BeatGrid, chroma: NDArray[np.float32] | None = None) -> tuple[Section, ...]:
    """Sections named A, B, … from the start of the song to its end, with boundaries on downbeats.

    The boundaries are those that make the sections most even in themselves and most different from their neighbours,
    of lengths that songs have: 8 bars rather than 7. Found by dynamic programming over the bars, with novelty
    after Foote (2000), where there is a ``chroma`` (g, 24) at 10 Hz structure features after Serrà et al. (2014),
    and what small nets make of both.
    Sections that sound alike bear the same letter. Kinds are left open, see `eavesong.music.kinds`.
    """
    if powers.duration < CLOSEST:
        return ()
    bars = bars_of(powers, grid, chroma)
    if len(bars) < FEWEST:
        return (Section(0.0, powers.duration, "A"),)
    inner = boundaries(bars)
    letters = letters_of(bars, inner)
    edges = [0.0, *(round(float(bars.edges[bar]), 6) for bar in inner), powers.duration]
    return tuple(Section(start, end, label) for (start, end), label in zip(pairwise(edges), letters, strict=True))


def boundaries(bars: Bars) -> list[int]:
    """The bars, after the first, with which a section begins."""
    count = len(bars)
    worth, spread, uneven = _worth(bars), _spread(bars.sound), _unevenness()
    seconds = float(np.clip(bars.edges[-1] - bars.edges[0], BRIEF, MIX))
    each = SECTION + MORE * ((seconds / BRIEF) ** LONGER - 1.0)
    best, back = np.zeros(count + 1), np.zeros(count + 1, np.int64)
    for end in range(1, count + 1):
        first = int(np.searchsorted(bars.edges, bars.edges[end] - LONGEST_SECONDS))
        begins = np.arange(min(end - 1, max(0, end - LONGEST, first)), end)
        length = uneven[end - begins] / (2 if end == count else 1)  # songs end where they like
        ends = np.where((begins == 0) | (end == count), AT_THE_ENDS, 1.0)
        cost = best[begins] - worth[begins] + each + SPREAD * spread[end, end - begins]
        cost += length + _of_length(bars.edges[end] - bars.edges[begins], ends)
        back[end] = begins[np.argmin(cost)]
        best[end] = cost.min()
    found, bar = [], int(back[count])
    while bar > 0:
        found.append(bar)
        bar = int(back[bar])
    return found[::-1]


def _unevenness() -> Floats:
    """What a section's number of bars costs it, for each number up to LONGEST."""
    cost = np.full(LONGEST + 1, UNEVEN[0])
    cost[::2], cost[::4] = UNEVEN[1:]
    cost[[8, 16, 32]] = 0.0
    return cost


def _of_length(seconds: Floats, ends: Floats) -> Floats:
    """What sections cost for being short or long (m,); ``ends`` is the share of it for short ones."""
    short = TOO_SHORT[1] * np.maximum(0.0, np.log2(TOO_SHORT[0] / np.maximum(seconds, 1e-3))) ** 2
    long = TOO_LONG[1] * np.maximum(0.0, np.log2(np.maximum(seconds, 1e-3) / TOO_LONG[0])) ** 2
    return np.asarray(short * ends + long)


def _worth(bars: Bars) -> Floats:
    """What a boundary at each bar (n,) is worth; nothing at the first, where every song begins."""
    seen = edge_figures(bars)
    worth = LIKELY * np.clip(edge_nets().odds(seen), DOUBTFUL, SURE)
    for name, weight in CHANGE.items():
        worth += weight * seen[:, CHANGES[name]]
    worth[0] = 0.0
    return worth


def _spread(rows: Floats) -> Floats:
    """The squared distance from their mean of the rows (n, c) before each end, summed: (n + 1, LONGEST + 1).

    Entry [end, length] is of the ``length`` rows before ``end``, in variances.
    """
    count, columns = rows.shape
    sums = np.concatenate([np.zeros((1, columns)), np.cumsum(rows, axis=0)])
    squares = np.concatenate([[0.0], np.cumsum((rows**2).sum(axis=1))])
    spread = np.zeros((count + 1, LONGEST + 1))
    for length in range(1, min(LONGEST, count) + 1):
        total = ((sums[length:] - sums[:-length]) ** 2).sum(axis=1)
        spread[length:, length] = (squares[length:] - squares[:-length] - total / length) / columns
    return spread
