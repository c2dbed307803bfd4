"""How likely a section begins at each bar of a song: what changes there, judged by small nets that hear each bar beside
those up to 15 before and after it.

They learned from generated songs whose sections are known; ``tests/benchmarks/hearing/train_sections.py`` makes the
weights. They are not told how many bars have gone by: such songs keep to fours from their first bar on, others do not.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.blocks import moved
from eavesong.music.rownets import beside_others

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.barwise import Bars

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

FILE = Path(__file__).with_name("edges.npz")
REACHES = (1, 2, 4, 8)
"""Bars on either side of a bar line that are compared."""
LAGS = 96
"""Bars backwards and forwards in which the same chords are looked for."""
FAINT_PATTERN = 0.03
"""Standard deviation of a song's pattern of chords below which it counts less: chance alone has 0.016, songs 0.05."""
PATTERN_REACH = 4
"""Bars on either side over which the pattern is compared."""
RISEN = (1, 4)
"""Bars on either side between which it is told what gets louder, and what softer."""
THIRDS = (slice(0, 10), slice(10, 22), slice(22, 32))
"""Low, middle and high bands."""
CHANGES = {"sound": 2, "attack": 4, "chords": 12}
"""Which of a bar's figures are how much the sound changes over four bars, what begins over one, and the pattern of
chords."""
BESIDE = (0, 2, 4, 8, 10, 12, 15)
"""Which changes are compared with those at the bars around: sound over 1 and 4 bars, what begins over 1, chords over
1 and 4, their pattern, and chords that come again from there on."""
COMPARED = 4
"""Bars before and after a bar line that are looked for elsewhere."""
STEPS = (range(COMPARED), range(-COMPARED, 0))
WEIGHTS = (0.7, 0.7, 0.9)
"""How much sound, what begins and chords count, where they are looked for together."""
NEIGHBOURS = (-4, -2, -1, 1, 2, 4)
ENDS = 16
"""Bars from which a song's start and end are far away."""
FARTHEST = 5.0
"""Standard deviations beyond which a figure counts no further."""
CHORDS = 48
"""Columns of a song's chords."""
HEARD = (1, 2, 4, 8)
"""How many bars away each layer of a net looks, on either side."""


@dataclass(frozen=True, eq=False)
class EdgeNets:
    """The weights, float32: k nets, each h wide, whose odds are averaged."""

    mean: Singles
    spread: Singles
    first: Singles
    """(k, c, h): from a bar's figures to the first layer."""
    first_bias: Singles
    turns: Singles
    """(k, r, 3h, h): from a layer at a bar, so many before it and so many after it, to what the next layer adds."""
    turns_bias: Singles
    out: Singles
    """(k, h): from the last layer to the log odds."""
    out_bias: Singles

    def odds(self, figures: Floats) -> Floats:
        """The log odds (n,) of a section beginning at each bar, from figures (n, c)."""
        scaled = np.clip((figures - self.mean) / self.spread, -FARTHEST, FARTHEST).astype(np.float32)
        return np.asarray(np.mean([self._odds(scaled, net) for net in range(len(self.first))], axis=0), np.float64)

    def _odds(self, scaled: Singles, net: int) -> Singles:
        layer = np.maximum(scaled @ self.first[net] + self.first_bias[net], 0)
        layer = beside_others(layer, self.turns[net], self.turns_bias[net], HEARD)
        return np.asarray(layer @ self.out[net] + self.out_bias[net])


@cache
def edge_nets() -> EdgeNets:
    """The nets that come with the program."""
    with np.load(FILE, allow_pickle=False) as kept:
        return EdgeNets(**{name: kept[name].astype(np.float32) for name in kept.files})


def edge_figures(bars: Bars) -> Floats:
    """What the nets see of each bar (n, 91): how much changes there over shorter and longer spans, alone, among the
    song's bars and beside the bars around; what gets louder and what softer; how long bars are, and how far the song's
    start and end."""
    count = len(bars)
    tables = (bars.sound, bars.attack, np.zeros((count, CHORDS)) if bars.chords is None else bars.chords)
    change = [novelty(table, reach) for table in tables for reach in REACHES]
    alike = lagged(tables[2])
    whole = lagged(np.hstack([table * weight for table, weight in zip(tables, WEIGHTS, strict=True)]))
    changes = np.stack([*change, pattern_novelty(alike), *come_again(whole), *come_again(alike)], axis=1)
    ranks = np.argsort(np.argsort(changes, axis=0, kind="stable"), axis=0) / max(1, count - 1)
    some = changes[:, BESIDE]
    beside = [some - moved(some, away) for away in NEIGHBOURS]
    risen = [_risen(table, reach) for table in tables[:2] for reach in RISEN]
    now = np.arange(count)
    usual = np.full(count, np.log(np.median(np.diff(bars.edges))))
    place = np.stack([np.minimum(now, ENDS) / ENDS, np.minimum(count - now, ENDS) / ENDS, usual], axis=1)
    return np.hstack([changes, ranks, *beside, *risen, place])


def novelty(rows: Floats, reach: int) -> Floats:
    """How far the means of the ``reach`` rows (n, c) before and from each row on lie apart (n,), root mean square."""
    past, coming = _around(rows, reach)
    return np.asarray(np.sqrt(np.mean((past - coming) ** 2, axis=1)))


def lagged(rows: Floats) -> Floats:
    """How like each row (n, c) is to those up to `LAGS` before and after (n, 2 l + 1), 0 to 1; nan beyond the ends."""
    count, lags = len(rows), min(LAGS, len(rows) - 1)
    padded = np.full((count + 2 * lags, rows.shape[1]), np.nan)
    padded[lags : lags + count] = rows
    apart = np.stack([np.mean((rows - padded[lag : lag + count]) ** 2, axis=1) for lag in range(2 * lags + 1)], axis=1)
    return np.asarray(np.exp(-apart / max(float(np.nanmedian(apart)), 1e-9)))


def pattern_novelty(alike: Floats) -> Floats:
    """How much the distances at which rows come again change at each row (n,), in standard deviations.

    Where bar 9 sounds as bar 25 does, and bar 10 as bar 26, the distance is 16; where a section ends, it changes.
    ``alike`` is what `lagged` gives.
    """
    lags = alike.shape[1] // 2
    known = np.nan_to_num(alike)
    known[:, max(0, lags - 2) : lags + 3] = 0.0  # every bar is like itself and its neighbours
    change = novelty(known, PATTERN_REACH)
    change[: PATTERN_REACH // 2] = change[len(change) - PATTERN_REACH // 2 :] = 0.0
    return change / max(float(change.std()), FAINT_PATTERN)


def come_again(alike: Floats) -> tuple[Floats, Floats]:
    """How much more like another place of the song the bars from each on are than those before it (n,), at the place
    where that is most so, and how much less: where a part that is heard twice begins, and where it ends.

    ``alike`` is what `lagged` gives.
    """
    count, lags = len(alike), alike.shape[1] // 2
    known = ~np.isnan(alike)
    known[:, max(0, lags - COMPARED + 1) : lags + COMPARED] = False  # what is near is no other place
    told = np.where(known, alike, 0.0)
    sums = [
        [sum(moved(table, step) for step in steps) for table in (told, known.astype(np.float64))] for steps in STEPS
    ]
    (coming, ahead), (past, behind) = sums
    whole = np.minimum(COMPARED, count - np.arange(count))[:, None]
    more = coming / np.maximum(ahead, 1) - past / np.maximum(behind, 1)
    usable = (ahead >= whole) & (behind > 0)
    most, least = (np.where(usable, sign * more, -np.inf).max(axis=1, initial=-np.inf) for sign in (1, -1))
    return np.where(np.isfinite(most), most, 0.0), np.where(np.isfinite(least), least, 0.0)


def _around(rows: Floats, reach: int) -> tuple[Floats, Floats]:
    """The means (n, c) of the ``reach`` rows before each row and from it on."""
    count = len(rows)
    sums = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0)])
    now = np.arange(count)
    before, after = np.maximum(now - reach, 0), np.minimum(now + reach, count)
    past = (sums[now] - sums[before]) / np.maximum(now - before, 1)[:, None]
    return past, (sums[after] - sums[now]) / (after - now)[:, None]


def _risen(rows: Floats, reach: int) -> Floats:
    """How much low, middle and high bands (n, 32) have risen at each row (n, 3)."""
    past, coming = _around(rows, reach)
    return np.stack([(coming - past)[:, third].mean(axis=1) for third in THIRDS], axis=1)
