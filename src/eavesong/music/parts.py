"""The sections of a song: where its sound changes for good, and which stretches sound alike."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.barwise import Bars, bars_of
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
REACH = 4
"""Bars on either side of a bar line that are compared."""
LAGS = 96
"""Bars backwards and forwards in which the same chords are looked for."""

FAINT_PATTERN = 0.03
"""Standard deviation of a song's pattern of chords below which it counts less: chance alone has 0.016, songs 0.05."""

# What a section costs and a boundary is worth. Found by random search on generated songs, and on some in which whoever
# wrote them marked the sections, then rounded by hand: nothing hangs on the second digit.
SECTION = 1.5
"""What every section costs: without it, every bar would be one."""
BRIEF, LONGER = 90.0, 0.3
"""Seconds of a song from which a section costs more, and by which power of its length: longer songs have longer
sections rather than more of them."""
SPREAD = 0.4
"""What the distance of its bars' sound from their mean costs a section: squared, in variances of the song."""
UNEVEN = (1.0, 0.6, 0.2)
"""What it costs when a section's bars are odd in number, even, or a multiple of 4 that is not 8, 16 or 32."""
TOO_SHORT, TOO_LONG = (10.0, 0.4), (16.0, 0.2)
"""Seconds from which a section costs more, and how much at half or twice as many; the square of that in octaves."""
AT_THE_ENDS = 0.33
"""Share of the cost of shortness for the first and last section: intros and endings are brief."""
CHANGE = {"sound": 0.8, "attack": 0.35, "chords": 0.3}
"""What a change of the sound over four bars, of what begins over one bar, and of the chords' pattern is worth."""


def find_sections(powers: Powers, grid: BeatGrid, chroma: NDArray[np.float32] | None = None) -> tuple[Section, ...]:
    """Sections named A, B, … from the start of the song to its end, with boundaries on downbeats.

    The boundaries are those that make the sections most even in themselves and most different from their neighbours,
    of lengths that songs have: 8 bars rather than 7. Found by dynamic programming over the bars, with novelty
    after Foote (2000) and, where there is a ``chroma`` (g, 24) at 10 Hz, structure features after Serrà et al. (2014).
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
    each = SECTION * max(1.0, float(bars.edges[-1] - bars.edges[0]) / BRIEF) ** LONGER
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
    worth = CHANGE["sound"] * _novelty(bars.sound, REACH) + CHANGE["attack"] * _novelty(bars.attack, 1)
    if bars.chords is not None:
        worth += CHANGE["chords"] * _pattern_novelty(bars.chords)
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


def _novelty(rows: Floats, reach: int) -> Floats:
    """How far the means of the ``reach`` rows (n, c) before and from each row on lie apart (n,), root mean square."""
    count = len(rows)
    sums = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0)])
    now = np.arange(count)
    before, after = np.maximum(now - reach, 0), np.minimum(now + reach, count)
    past = (sums[now] - sums[before]) / np.maximum(now - before, 1)[:, None]
    coming = (sums[after] - sums[now]) / (after - now)[:, None]
    return np.asarray(np.sqrt(np.mean((past - coming) ** 2, axis=1)))


def _pattern_novelty(rows: Floats) -> Floats:
    """How much the distances at which the rows (n, c) come again change at each row (n,), in standard deviations.

    Where bar 9 sounds as bar 25 does, and bar 10 as bar 26, the distance is 16; where a section ends, it changes.
    """
    count, lags = len(rows), min(LAGS, len(rows) - 1)
    padded = np.full((count + 2 * lags, rows.shape[1]), np.nan)
    padded[lags : lags + count] = rows
    apart = np.stack([np.mean((rows - padded[lag : lag + count]) ** 2, axis=1) for lag in range(2 * lags + 1)], axis=1)
    alike = np.exp(-apart / max(float(np.nanmedian(apart)), 1e-9))
    alike[:, lags - 2 : lags + 3] = 0.0  # every bar is like itself and its neighbours
    novelty = _novelty(np.nan_to_num(alike), REACH)
    novelty[: REACH // 2] = novelty[len(novelty) - REACH // 2 :] = 0.0
    return novelty / max(float(novelty.std()), FAINT_PATTERN)
