"""Drum strokes: low ones (bass drum), middle ones (snare, clap, toms) and high ones (hi-hat, cymbals, shaker).

A small net, learned from generated songs whose every stroke is known, judges each hundredth of a second from the fine
bands around it; peaks of its judgement are strokes. ``tests/benchmarks/hearing/train_strokes.py`` makes the weights.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.blocks import in_blocks, moved
from eavesong.music.borrowed import peak_pick
from eavesong.music.ear import FINE_BANDS, HIGHEST, LOWEST, WINDOW
from eavesong.music.novelty import running_mean

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Halves = NDArray[np.float16]

FILE = Path(__file__).with_name("strokes.npz")
STROKES = ("low", "middle", "high")
HERTZ = ((30.0, 150.0), (180.0, 4_000.0), (5_000.0, 20_000.0))
"""Between which each kind of stroke is as loud as it is strong."""
LAG = 2
"""Frames over which a rise is measured."""
SPREAD = 1.5
"""Powers of ten that are 1 to the net."""
NEAR = 2
"""Frames on either side of each that the first layer sees."""
REACHES = (1, 2, 4, 8, 16, 32, 64, 128)
"""Frames away that each further layer looks, on either side."""
SPAN = 200
"""Frames over whose mean the net knows what the song is like around a frame."""
MARGIN = NEAR + sum(REACHES) + SPAN // 2
AT_ONCE = 1 << 14
"""Frames judged together: memory stays small in long recordings."""
APART = 4
"""Frames that strokes of a kind are apart at least, less one."""
BELOW, ABOVE, BLUR, FEWEST = 1.0, 0.5, 0.3, 8
"""Log odds around the least within which a song's own is looked for, how much its peaks are blurred for that, and
how many of them it takes."""
DOUBLE = 10**0.03
"""Strength to a decibel: twice as loud every 10 dB (Stevens 1955)."""


@dataclass(frozen=True, eq=False)
class Strokes:
    """The strokes of one kind, in their order."""

    times: Floats
    """Seconds (n,)."""
    strengths: Floats
    """(n,): 0 to 1 beside the song's other strokes of the kind."""


@dataclass(frozen=True, eq=False)
class StrokeNet:
    """The weights, float32, h wide."""

    first: Singles
    """((2 NEAR + 1) * 128, h): from the figures of frames next to each other."""
    first_bias: Singles
    turns: Singles
    """(r, 3h, h): from a layer at a frame, so many before it and so many after it, to what the next layer adds."""
    turns_bias: Singles
    out: Singles
    """(2h, 3): from the last layer, and its mean around, to the log odds of a stroke of each kind."""
    out_bias: Singles
    least: Singles
    """(3,): log odds from which a peak is a stroke."""

    def odds(self, figures: Singles) -> Singles:
        """The log odds (f, 3) of a stroke of each kind in each frame, from the figures (f, 128)."""
        stacked = np.hstack([moved(figures, shift) for shift in range(-NEAR, NEAR + 1)])
        layer = np.maximum(stacked @ self.first + self.first_bias, 0)
        for reach, turn, bias in zip(REACHES, self.turns, self.turns_bias, strict=True):
            three = np.hstack([moved(layer, -reach), layer, moved(layer, reach)])
            layer = layer + np.maximum(three @ turn + bias, 0)
        around = running_mean(layer, SPAN).astype(np.float32)
        return np.asarray(np.hstack([layer, around]) @ self.out + self.out_bias)


@cache
def stroke_net() -> StrokeNet:
    """The net that comes with the program."""
    with np.load(FILE, allow_pickle=False) as kept:
        return StrokeNet(**{name: kept[name].astype(np.float32) for name in kept.files})


def find_strokes(fine: Halves) -> dict[str, Strokes]:
    """The strokes of each kind in a song's fine bands (f, 64); none in silence."""
    net = stroke_net()
    odds = stroke_odds(fine, net)
    return {kind: _picked(odds[:, at], float(net.least[at]), fine, HERTZ[at]) for at, kind in enumerate(STROKES)}


def stroke_odds(fine: Halves, net: StrokeNet) -> Singles:
    """The log odds (f, 3) of a stroke of each kind in each frame."""
    usual = usual_level(fine)
    return in_blocks(len(fine), AT_ONCE, MARGIN, lambda rows: net.odds(stroke_figures(fine[rows], usual)))


def usual_level(fine: Halves) -> Singles:
    """The mean level (64,) of each band where there is sound: what a recording's own colour adds to it."""
    sounding = fine[:: max(1, len(fine) // 20_000)].astype(np.float32)
    sounding = sounding[sounding.max(axis=1, initial=0.0) > 0]
    return sounding.mean(axis=0) if len(sounding) else np.zeros(fine.shape[1], np.float32)


def stroke_figures(fine: Halves, usual: Singles) -> Singles:
    """What the net sees of each frame (f, 128): the level of each band beside the usual, and how much it has risen."""
    level = fine.astype(np.float32)
    rise = np.zeros_like(level)
    rise[LAG:] = np.maximum(0.0, level[LAG:] - level[:-LAG])
    return np.hstack([(level - usual) / np.float32(SPREAD), rise / np.float32(SPREAD)])


def _parting(odds: Singles, least: float) -> float:
    """The log odds near ``least`` at which fewest of a song's peaks (n,) lie: between its strokes and the rest."""
    near = odds[odds > least - 3]
    if len(near) < FEWEST:
        return least
    places = np.arange(least - BELOW, least + ABOVE + 0.01, 0.1)
    crowd = np.exp(-0.5 * ((near[:, None] - places) / BLUR) ** 2).mean(axis=0)
    return float(places[np.argmin(crowd + 0.02 * np.abs(places - least))])


def _picked(odds: Singles, least: float, fine: Halves, hertz: tuple[float, float]) -> Strokes:
    """The peaks of ``odds`` (f,) that are ``least`` at least, or what parts this song's peaks better near it."""
    peaks = peak_pick(odds, APART)
    peaks = peaks[odds[peaks] >= _parting(odds[peaks], least)]
    bands = np.geomspace(LOWEST, HIGHEST, FINE_BANDS)
    part = fine[:, (bands >= hertz[0]) & (bands < hertz[1])]
    after = np.minimum(peaks[:, None] + np.arange(4), len(fine) - 1)
    decibels = 10 * part[after].astype(np.float64).max(axis=(1, 2)) if len(peaks) else np.zeros(0)
    top = float(np.percentile(decibels, 90)) if len(peaks) else 0.0
    times = np.maximum(peaks / FRAME_RATE - WINDOW / 2, 0.0)
    return Strokes(times, np.clip(DOUBLE ** (decibels - top), 0.0, 1.0))
