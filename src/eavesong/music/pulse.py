"""The pulse of a song: how likely each moment is a beat and begins a bar, and which tempo and metre go through it.

A temporal convolutional net (cf. Boeck & Davies 2020): layers that look ever farther to either side of each fiftieth of
a second, and know the mean of the twenty seconds around. What it says is evidence, not an answer: candidates are
found in it, and judged by it among other things.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.ear import CHROMA_RATE, Ear
from eavesong.music.novelty import likeness, notes_of, running_mean
from eavesong.music.strokes import usual_level

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Halves = NDArray[np.float16]

FILE = Path(__file__).with_name("pulse.npz")
ROW_RATE = FRAME_RATE // 2
"""Rows a second: a beat within 10 ms is near enough for evidence."""
LAG = 2
"""Frames over which a rise is measured."""
SPREAD = 1.5
"""Powers of ten by which levels usually differ."""
SPANS = (4, 8, 16)
"""Frames of notes before and after a moment that are compared: 0.4, 0.8 and 1.6 s."""
REACHES = (1, 2, 4, 8, 16, 32, 64, 128, 256), (2, 8, 32, 128, 512)
"""How many rows away each layer looks, on either side: before the song around is known, and after."""
SPAN = 1_000
"""Rows over whose mean the net knows what the song is like around."""
AT_ONCE, MARGIN = 1 << 13, 2_300
"""Rows taken together, and those that a row may depend on, on either side."""
SLOWEST, OCTAVE, TEMPI = 36.0, 16, 45
"""Beats a minute of the first tempo, tempi of an octave, and how many there are: up to 242."""
METRES = (2, 3, 4, 5, 6, 7)
"""Beats of the bars that are told apart."""


@dataclass(frozen=True, eq=False)
class Pulse:
    """What the net says of a song."""

    beat: Singles
    """(f,) log odds of a beat in each frame of the fine bands."""
    downbeat: Singles
    """(f,) log odds of a bar's beginning there."""
    tempi: Singles
    """(45,) log shares of the tempi, over the whole song."""
    metres: Singles
    """(6,) log shares of the metres."""

    def tempo_odds(self, tempo: Floats) -> Floats:
        """The log shares (n,) of ``tempo`` (n,) in beats a minute, between the tempi that are told apart."""
        place = np.clip(OCTAVE * np.log2(np.maximum(tempo, 1.0) / SLOWEST), 0, TEMPI - 1)
        return np.asarray(np.interp(place, np.arange(TEMPI), self.tempi))


@dataclass(frozen=True, eq=False)
class PulseNet:
    """The weights, float32, h wide."""

    first: Singles
    """(198, h): from what describes a row to the first layer."""
    first_bias: Singles
    turns: Singles
    """(r, 3h, h): from a layer at a row, so many before it and so many after it, to what the next layer adds."""
    turns_bias: Singles
    wide: Singles
    """(2h, h): from a layer, and its mean around, to what the song around adds."""
    wide_bias: Singles
    out: Singles
    """(2h, 53): from the last layer, and its mean around, to log odds of a beat and a downbeat, tempi and metres."""
    out_bias: Singles

    def answers(self, rows: Singles) -> Singles:
        """What the net says (m, 53) of each row of figures (m, 198)."""
        layer = np.maximum(rows @ self.first + self.first_bias, 0)
        count = len(REACHES[0])
        for reach, turn, bias in zip(REACHES[0], self.turns[:count], self.turns_bias[:count], strict=True):
            layer += _turned(layer, reach, turn, bias)
        layer += np.maximum(_with_around(layer) @ self.wide + self.wide_bias, 0)
        for reach, turn, bias in zip(REACHES[1], self.turns[count:], self.turns_bias[count:], strict=True):
            layer += _turned(layer, reach, turn, bias)
        return np.asarray(_with_around(layer) @ self.out + self.out_bias)


def _turned(layer: Singles, reach: int, turn: Singles, bias: Singles) -> Singles:
    before, here, after = np.split(turn, 3)
    total = layer @ here + bias
    if reach < len(layer):
        total[reach:] += layer[:-reach] @ before
        total[:-reach] += layer[reach:] @ after
    return np.asarray(np.maximum(total, 0, out=total))


def _with_around(layer: Singles) -> Singles:
    return np.hstack([layer, running_mean(layer, SPAN).astype(np.float32)])


@cache
def pulse_net() -> PulseNet:
    """The net that comes with the program."""
    return read_net(FILE)


def read_net(path: Path) -> PulseNet:
    """The net in a file that ``tests/benchmarks/hearing/train_pulse.py`` made."""
    with np.load(path, allow_pickle=False) as kept:
        return PulseNet(**{name: kept[name].astype(np.float32) for name in kept.files})


def find_pulse(ear: Ear, net: PulseNet) -> Pulse:
    """The pulse of a song."""
    frames = len(ear.fine)
    usual, change = usual_level(ear.fine), note_changes(ear)
    count = (frames + 1) // 2
    odds = np.zeros((count, 2), np.float32)
    sounding = ear.fine[::2].max(axis=1, initial=0.0) > 0
    counted = sounding if sounding.any() else np.ones(count, bool)
    tempi, metres = np.zeros(TEMPI), np.zeros(len(METRES))
    for start in range(0, count, AT_ONCE):
        begin, end = max(0, start - MARGIN), min(count, start + AT_ONCE + MARGIN)
        told = net.answers(pulse_figures(ear.fine, usual, change, begin, end))[start - begin :][:AT_ONCE]
        odds[start : start + AT_ONCE] = told[:, :2]
        heard = told[counted[start : start + AT_ONCE]]
        tempi += _shares(heard[:, 2 : 2 + TEMPI])
        metres += _shares(heard[:, 2 + TEMPI :])
    at = np.arange(frames) / 2 - 0.25
    beat, downbeat = (_between(odds[:, column], at) for column in (0, 1))
    rows = max(1, int(counted.sum()))
    return Pulse(beat, downbeat, (tempi / rows).astype(np.float32), (metres / rows).astype(np.float32))


def _between(values: Singles, at: Floats) -> Singles:
    """``values`` (m,) at the places (n,) between them."""
    if not len(values):
        return np.zeros(len(at), np.float32)
    return np.interp(at, np.arange(len(values)), values).astype(np.float32)


def _shares(odds: Singles) -> Floats:
    """The log shares (c,) of rows of log odds (m, c), summed."""
    lifted = odds - odds.max(axis=1, keepdims=True)
    shares = lifted - np.log(np.exp(lifted).sum(axis=1, keepdims=True))
    return np.asarray(shares.sum(axis=0, dtype=np.float64))


def pulse_figures(fine: Halves, usual: Singles, change: Singles, begin: int, end: int) -> Singles:
    """What the net sees of the rows from ``begin`` to ``end`` (m, 198): the level of each band beside the usual, how
    much it rises in the two frames of a row, and how much notes change around it."""
    first, last = 2 * begin - LAG, 2 * end
    level = fine[max(0, first) : last].astype(np.float32)
    level = np.pad(level, ((max(0, -first), max(0, last - len(fine))), (0, 0)), mode="edge")
    rise = np.maximum(0.0, level[LAG:] - level[:-LAG]).reshape(end - begin, -1)
    level = level[LAG:].reshape(end - begin, 2, -1).mean(axis=1)
    at = np.arange(begin, end) * (CHROMA_RATE / ROW_RATE)
    changes = [np.interp(at, np.arange(len(change)), column) for column in change.T]
    table = [(level - usual) / np.float32(SPREAD), rise / np.float32(SPREAD), np.stack(changes, axis=1)]
    return np.hstack(table).astype(np.float32)


def note_changes(ear: Ear) -> Singles:
    """How much the notes of the bass and above change (g, 6), ten times a second, over shorter and longer spans."""
    notes = notes_of(ear)
    return np.stack([_change(part, span) for span in SPANS for part in (notes[:, :12], notes[:, 12:])], axis=1).astype(
        np.float32
    )


def _change(notes: Floats, span: int) -> Floats:
    """One minus the likeness of the means of ``span`` frames before each frame and from it on."""
    total = np.concatenate([np.zeros((1, notes.shape[1])), np.cumsum(notes, axis=0)])
    now = np.arange(len(notes))
    before = total[now] - total[np.maximum(now - span, 0)]
    after = total[np.minimum(now + span, len(notes))] - total[now]
    return 1.0 - likeness(before, after)
