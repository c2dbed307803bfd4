"""The lead: whether a voice or a lead instrument is active, and its notes.

A small net looks at the harmonics of every possible note (cf. Bittner et al. 2017, deep salience), in the same way at
every pitch, and at what sounds around; the likeliest way through notes and rests is the lead. It was learned from
generated songs whose tunes are known; ``tests/benchmarks/hearing/train_lead.py`` makes the weights.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from eavesong.music.blocks import in_blocks, moved
from eavesong.music.borrowed import likeliest_states
from eavesong.music.novelty import running_mean
from eavesong.music.tones import LOWEST_NOTE, PER_DECIBEL, STEPS, TONE_COUNT, TONE_RATE, TONE_WINDOW

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Bytes = NDArray[np.uint8]

FILE = Path(__file__).with_name("lead.npz")
LOWEST, NOTES = 43, 55
"""MIDI note of the lowest lead, G2, and how many semitones are looked at, up to C#7."""
HARMONICS = (0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0)
AROUND = STEPS // 2
"""Steps on either side over which a tone is compared with what sounds around it."""
SCALE = 20.0 * PER_DECIBEL
"""Steps of a level that are 1 to the net."""
SPAN = 2 * TONE_RATE
"""Frames over whose mean the net knows what sounds around a frame."""
SIDES = (1, 2)
"""Frames before and after that the first two layers see."""
REACHES = (2, 4, 8)
"""Frames away that each of the last layers looks, on either side."""
AT_ONCE = 500
"""Frames judged together."""
MARGIN = SPAN + sum(SIDES) + sum(REACHES)
STAY, BEGIN, LEAP = 0.9, 0.06, 0.35
"""Chance of staying on a note or a rest from frame to frame, of a rest beginning, and share that each semitone of a
leap leaves."""
STRETCH, SETTLED = 600 * TONE_RATE, 30 * TONE_RATE
"""Frames whose way is found at once, and those on either side that it is found with: what lies farther away does not
change it, and memory stays small in long recordings."""
SHORTEST = 2
"""Frames of the shortest note."""


@dataclass(frozen=True)
class LeadNote:
    """A note of the lead: seconds, and its MIDI number."""

    start: float
    end: float
    pitch: int


@dataclass(frozen=True, eq=False)
class LeadNet:
    """The weights, float32: layers h wide that look at every semitone alike, and what tells a rest."""

    first: Singles
    """(3 * 5 * c, h): from the channels of three frames and five steps of half a semitone."""
    first_bias: Singles
    second: Singles
    """(5 * 3 * h, h): from the first layer at five frames and three semitones."""
    second_bias: Singles
    beside: Singles
    """(3h, h): from a note, and the most of each figure among the notes above it and below it."""
    beside_bias: Singles
    others: Singles
    """(4h, h): from the mean and largest over the pitches, now and around."""
    turns: Singles
    """(r, 3h, h): from a note, and what it is so many frames before and after."""
    turns_bias: Singles
    out: Singles
    """(h, 1): to the log odds of a note."""
    rest: Singles
    """(6h,): from the last layer's mean and largest over the pitches, now and around, to the log odds of a rest."""
    rest_bias: Singles

    def odds(self, tones: Singles) -> Singles:
        """The log odds, up to a constant, of a rest and of each note (g, 1 + NOTES), from channels (g, p, c)."""
        layer = np.maximum(_convolved(tones, self.first, SIDES[0], 2, 2) + self.first_bias, 0)
        layer = np.maximum(_convolved(layer, self.second, SIDES[1], 1, 1) + self.second_bias, 0)
        pooled, around = _pooled(layer)
        together = np.hstack([pooled, around]) @ self.others
        three = np.concatenate([layer, _most_above(layer), _most_above(layer[:, ::-1])[:, ::-1]], axis=2)
        layer = layer + np.maximum(three @ self.beside + self.beside_bias + together[:, None], 0)
        for reach, turn, bias in zip(REACHES, self.turns, self.turns_bias, strict=True):
            three = np.concatenate([moved(layer, -reach), layer, moved(layer, reach)], axis=2)
            layer = layer + np.maximum(three @ turn + bias, 0)
        pooled, around = _pooled(layer)
        rest = np.hstack([pooled, around, pooled - around]) @ self.rest + self.rest_bias
        return np.asarray(np.hstack([rest[:, None], (layer @ self.out)[:, :, 0]]))


def _pooled(layer: Singles) -> tuple[Singles, Singles]:
    """The mean and the largest over the pitches of a layer (g, p, h), and their mean around: (g, 2h) each."""
    pooled = np.hstack([layer.mean(axis=1), layer.max(axis=1)])
    return pooled, running_mean(pooled, SPAN).astype(np.float32)


def _most_above(layer: Singles) -> Singles:
    """The most of each figure (g, p, h) among the pitches above each, 0 for the highest."""
    most = np.zeros_like(layer)
    most[:, :-1] = np.maximum.accumulate(layer[:, :0:-1], axis=1)[:, ::-1]
    return most


def _convolved(rows: Singles, weights: Singles, frames: int, steps: int, stride: int) -> Singles:
    """What ``weights`` (t * s * c, h) make of all that lies within so many frames and steps of each frame and pitch of
    ``rows`` (g, p, c): (g, p / stride, h). The steps are laid side by side once; frames are added up afterwards."""
    width = 2 * frames + 1
    padded = np.pad(rows, ((0, 0), (steps, steps), (0, 0)))
    beside = sliding_window_view(padded, 2 * steps + 1, axis=1)[:, ::stride].transpose(0, 1, 3, 2)
    beside = beside.reshape(*beside.shape[:2], -1)
    each = weights.reshape(width, beside.shape[2], -1).transpose(1, 0, 2).reshape(beside.shape[2], -1)
    made = (beside @ each).reshape(*beside.shape[:2], width, -1)
    total = made[:, :, frames].copy()
    for shift in range(1, min(frames, len(rows) - 1) + 1):
        total[shift:] += made[:-shift, :, frames - shift]
        total[:-shift] += made[shift:, :, frames + shift]
    return total


@cache
def lead_net() -> LeadNet:
    """The net that comes with the program."""
    with np.load(FILE, allow_pickle=False) as kept:
        return LeadNet(**{name: kept[name].astype(np.float32) for name in kept.files})


def find_lead(tones: Bytes) -> tuple[LeadNote, ...]:
    """The notes of a song's lead from its tones (g, 176); none in silence."""
    if not tones.any():
        return ()
    return notes_of(lead_states(lead_odds(tones, lead_net())))


def lead_odds(tones: Bytes, net: LeadNet) -> Singles:
    """The log odds (g, 1 + NOTES) of a rest and of each note in each frame."""
    top = top_level(tones)
    return in_blocks(len(tones), AT_ONCE, MARGIN, lambda rows: net.odds(lead_channels(tones[rows], top)))


def top_level(tones: Bytes) -> float:
    """The level of the song's strong tones."""
    return float(np.percentile(tones.max(axis=1, initial=0), 95)) if len(tones) else 0.0


def lead_channels(tones: Bytes, top: float) -> Singles:
    """What the net sees (g, p, c) at each step of half a semitone, two before the lowest note to two after the highest:
    how strong each harmonic is beside the song's strong tones, and beside what sounds around it."""
    level = np.maximum((tones.astype(np.float32) - np.float32(top)) / np.float32(SCALE), -2.0)
    padded = np.pad(level, ((0, 0), (AROUND, AROUND)), mode="edge")
    total = np.concatenate([np.zeros((len(level), 1), np.float32), np.cumsum(padded, axis=1)], axis=1)
    around = (total[:, 2 * AROUND + 1 :] - total[:, : -2 * AROUND - 1]) / np.float32(2 * AROUND + 1)
    steps = 2 * (LOWEST - LOWEST_NOTE) + np.arange(2 * NOTES - 1)
    channels = []
    for harmonic in HARMONICS:
        at = steps + round(STEPS * float(np.log2(harmonic)))
        inside = (at >= 0) & (at < TONE_COUNT)
        held = np.clip(at, 0, TONE_COUNT - 1)
        channels += [np.where(inside, level[:, held], -2.0), np.where(inside, (level - around)[:, held], 0.0)]
    return np.stack(channels, axis=2).astype(np.float32)


def lead_states(odds: Singles) -> NDArray[np.int64]:
    """The likeliest way (g,) through rests, 0, and notes, 1 for the lowest.

    Whether anything leads is decided by all notes together: the likeliest counts as much as all of them, the others in
    proportion. Else a lead whose note is not clear would be a rest.
    """
    turns = _turns()
    return in_blocks(len(odds), STRETCH, SETTLED, lambda rows: likeliest_states(_chances(odds[rows]).T, turns))


def _chances(odds: Singles) -> Floats:
    chances = np.exp(odds.astype(np.float64) - odds.max(axis=1, keepdims=True))
    rest, notes = chances[:, :1], chances[:, 1:]
    notes *= notes.sum(axis=1, keepdims=True) / np.maximum(notes.max(axis=1, keepdims=True), 1e-300)
    both = np.hstack([rest, notes])
    return np.asarray(both / both.sum(axis=1, keepdims=True))


def _turns() -> Floats:
    """How likely each note or rest follows each (1 + NOTES, 1 + NOTES): the nearer the likelier."""
    apart = np.abs(np.subtract.outer(np.arange(NOTES), np.arange(NOTES)))
    leaps = np.where(apart > 0, LEAP ** (apart / 4), 0.0)
    turns = np.zeros((1 + NOTES, 1 + NOTES))
    turns[1:, 1:] = leaps / leaps.sum(axis=1, keepdims=True) * (1 - STAY - BEGIN)
    turns[1:, 0] = BEGIN
    turns[0, 1:] = (1 - STAY) / NOTES
    np.fill_diagonal(turns, STAY)
    return np.asarray(turns / turns.sum(axis=1, keepdims=True))


def notes_of(states: NDArray[np.int64]) -> tuple[LeadNote, ...]:
    """The notes of a way (g,) through notes and rests."""
    edges = [0, *(np.flatnonzero(np.diff(states)) + 1), len(states)]
    notes = []
    for begin, end in pairwise(edges):
        if states[begin] and end - begin >= SHORTEST:
            start, stop = (max(0.0, (frame - 0.5) / TONE_RATE - TONE_WINDOW / 2) for frame in (begin, end))
            notes.append(LeadNote(round(start, 3), round(stop, 3), LOWEST - 1 + int(states[begin])))
    return tuple(notes)
