"""Where bars begin along a row of beats: nets that hear each beat beside those up to 63 before it and after it.

What tells a bar's beginning is often how a beat is like those 2, 4, 8 or 16 beats away, and how unlike its neighbours:
chords, basses and drums come again by bars. So the nets see, beside what sounds in each quarter of a beat and what
begins in it, how like it is to others far and near. ``tests/benchmarks/hearing/train_bars.py`` makes the weights.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.blocks import in_blocks
from eavesong.music.ear import CHROMA_RATE
from eavesong.music.novelty import running_mean
from eavesong.music.rownets import beside_others

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.ear import Ear

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

FILE = Path(__file__).with_name("barlines.npz")
QUARTERS, WIDE = 4, 8
"""Parts of a beat, and wide bands of each that the nets see themselves."""
DEEPEST, SCALE = 7.2, 0.425
"""Bels below the song's loudest at which a band is silent, and what a bel counts."""
LAGS = (1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 24, 32)
"""Beats before and after a beat with which it is compared."""
REACHES = (1, 2, 4, 8, 16, 32)
"""How many beats away each layer of a net looks, on either side."""
SPAN = 160
"""Beats over whose mean a net knows what the song is like: the longest stretches that they learned from."""
AT_ONCE, MARGIN = 1 << 12, sum(REACHES) + SPAN // 2
"""Beats judged together, for memory in long recordings, and those that a beat may depend on, on either side."""
FARTHEST = 4.0
"""Standard deviations beyond which a figure counts no further."""


@dataclass(frozen=True, eq=False)
class Sounds:
    """What the bars of a song are told from."""

    bands: NDArray[np.float16]
    """(f, 32): bels above -90 dB of full scale, a hundred times a second."""
    chroma: Singles
    """(g, 24): as `eavesong.music.ear.Ear.chroma`."""

    @classmethod
    def of(cls, ear: Ear) -> Sounds:
        """What is needed of what was heard."""
        return cls((ear.fine[:, ::2] + ear.fine[:, 1::2]) * np.float16(0.5), ear.chroma)


@dataclass(frozen=True, eq=False)
class BarNets:
    """The weights, float32: k nets whose odds are averaged, each h wide."""

    mean: Singles
    spread: Singles
    """(c,): of what describes a beat, over the songs that were learned from."""
    first: Singles
    """(k, c, h): from there to the first layer."""
    first_bias: Singles
    turns: Singles
    """(k, r, 3h, h): from a layer at a beat, so many before it and so many after it, to what the next layer adds."""
    turns_bias: Singles
    out: Singles
    """(k, 2h): from the last layer, and its mean around, to the log odds of a bar's beginning."""
    out_bias: Singles

    def odds(self, figures: Singles) -> Floats:
        """The log odds (n,) of each beat beginning a bar, from what describes all beats (n, c)."""
        return in_blocks(len(figures), AT_ONCE, MARGIN, lambda rows: self._told(figures[rows]))

    def _told(self, figures: Singles) -> Floats:
        scaled = np.clip((figures - self.mean) / self.spread, -FARTHEST, FARTHEST)
        return np.asarray(np.mean([self._odds(scaled, net) for net in range(len(self.first))], axis=0), np.float64)

    def _odds(self, scaled: Singles, net: int) -> Singles:
        layer = np.maximum(scaled @ self.first[net] + self.first_bias[net], 0)
        layer = beside_others(layer, self.turns[net], self.turns_bias[net], REACHES)
        around = running_mean(layer, SPAN).astype(np.float32)
        return np.asarray(np.hstack([layer, around]) @ self.out[net] + self.out_bias[net])


@cache
def bar_nets() -> BarNets:
    """The nets that come with the program."""
    with np.load(FILE, allow_pickle=False) as kept:
        return BarNets(**{name: kept[name].astype(np.float32) for name in kept.files})


def bar_odds(beats: Floats, sounds: Sounds) -> Floats:
    """The log odds (n,) of a bar's beginning at each of the ``beats`` (n,), in frames."""
    return bar_nets().odds(beat_sounds(beats, sounds))


def beat_sounds(beats: Floats, sounds: Sounds) -> Singles:
    """What describes each beat (n, 184): the level of 8 wide bands in each of its quarters, and its rise; how like it
    is to those before and after it in basses, in notes above, in sound and in what begins; and its notes, low and high.
    """
    count = len(beats)
    levels = _means(sounds.bands, _parts(beats, QUARTERS))
    levels = SCALE * np.clip(levels - levels.max() + DEEPEST, 0.0, DEEPEST)
    levels -= levels.mean(axis=0)
    rises = np.maximum(np.diff(levels, axis=0, prepend=levels[:1]), 0.0)
    notes = _means(sounds.chroma, _parts(beats, 2) * CHROMA_RATE / FRAME_RATE).reshape(count, 2, 2, 12)
    notes = np.sqrt(notes / np.maximum(notes.max(axis=3, keepdims=True), 1e-12)).mean(axis=1)
    by_beat = [levels.reshape(count, -1), rises.reshape(count, -1)]
    alike = [_likeness(_centred(table)) for table in (notes[:, 0], notes[:, 1])]
    alike += [_likeness(by_beat[0]), _likeness(_centred(by_beat[1]))]
    wide = [table.reshape(count, QUARTERS, WIDE, -1).mean(axis=3).reshape(count, -1) for table in by_beat]
    return np.hstack([*wide, *alike, notes.reshape(count, -1)]).astype(np.float32)


def _parts(beats: Floats, parts: int) -> Floats:
    """The frames between which so many equal parts of each beat lie; the last beat is as long as most."""
    count = len(beats)
    ends = np.append(beats, beats[-1] + np.median(np.diff(beats)))
    return np.asarray(np.interp(np.arange(parts * count + 1) / parts, np.arange(count + 1), ends))


def _means(rows: NDArray[np.floating], edges: Floats) -> Floats:
    """The means (n, c) of rows (f, c) from each edge to the next (n + 1,); of one row at least."""
    near = np.clip(np.rint(edges).astype(np.int64), 0, len(rows) - 1)
    sums = np.add.reduceat(rows, near, axis=0, dtype=np.float32)[:-1]
    return np.asarray(sums / np.maximum(np.diff(near), 1)[:, None], np.float64)


def _centred(rows: Floats) -> Floats:
    return np.asarray(rows - rows.mean(axis=0))


def _likeness(rows: Floats) -> Floats:
    """How like each row (n, c) is to those `LAGS` before and after it (n, 24), -1 to 1; 0 beyond the ends."""
    straight = rows / np.maximum(np.linalg.norm(rows, axis=1, keepdims=True), 1e-6)
    told = np.zeros((len(rows), 2 * len(LAGS)))
    for at, lag in enumerate(LAGS):
        if lag < len(rows):
            like = (straight[lag:] * straight[:-lag]).sum(axis=1)
            told[lag:, 2 * at] = told[:-lag, 2 * at + 1] = like
    return told
