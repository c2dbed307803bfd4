"""What candidates are measured against, what falls on their beats, and the few figures that describe one as a whole."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.candidates import LOUDEST
from eavesong.music.ear import CHROMA_RATE, Ear
from eavesong.music.novelty import AT_ONCE, note_change, notes_of
from eavesong.music.pulse import Pulse

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

PARTS = 12
"""Places in a beat that are looked at: halves, thirds, quarters and sixths are among them."""
MIDDLE_TEMPO = 115.0
"""Beats a minute that people tap most readily, about (van Noorden & Moelants 1999: 109 to 120)."""
TEMPO, TRIPLE, WEAKER_OF_TWO = range(3)
"""Which of the figures is which."""


@dataclass(frozen=True, eq=False)
class Traces:
    """What a song's candidates are measured against."""

    curves: Singles
    """(f, 5) novelty, clipped and smeared, 100 a second."""
    level: Singles
    """(f, 8) how loud each of eight stretches of the spectrum is, 100 a second."""
    change: Singles
    """(f, 2) change of bass notes and of upper notes, 100 a second."""
    notes: Floats
    """(g, 24), 10 a second."""
    pulse: Pulse


def traces(ear: Ear, curves: Singles, pulse: Pulse) -> Traces:
    """The traces of a song with these novelty curves (f, 5) and this pulse.

    The curves are clipped and smeared in place, as two tables of a long song take much memory.
    """
    for curve in curves.T:
        clipped = np.minimum(curve, LOUDEST)
        curve[:] = clipped
        curve[1:-1] = 0.5 * clipped[1:-1] + 0.25 * (clipped[2:] + clipped[:-2])
    fine = np.empty((len(ear.fine), 8), np.float32)
    for start in range(0, len(fine), AT_ONCE):
        part = ear.fine[start : start + AT_ONCE].astype(np.float32)
        fine[start : start + AT_ONCE] = part.reshape(len(part), 8, 8).mean(axis=2)
    notes = notes_of(ear)
    change = np.stack([note_change(notes[:, :12]), note_change(notes[:, 12:])], axis=1)
    slow = np.arange(len(curves)) * CHROMA_RATE / FRAME_RATE
    stretched = np.empty((len(curves), 2), np.float32)
    for number, column in enumerate(change.T):
        stretched[:, number] = np.interp(slow, np.arange(len(change)), column)
    return Traces(curves, fine, stretched, notes, pulse)


def figures(beats: Floats, traces: Traces) -> Floats:
    """What describes a candidate with these ``beats`` (n,) in frames, apart from how they are judged (3,).

    Octaves of its tempo above 115; how much more begins on the thirds of its beats than on their quarters; how much
    weaker every second beat is.
    """
    octaves = np.log2(60 * FRAME_RATE / float(np.median(np.diff(beats))) / MIDDLE_TEMPO)
    return np.array([octaves, _triple(beats, traces), _weaker_of_two(accents(beats, traces).sum(axis=1))])


def _triple(beats: Floats, traces: Traces) -> float:
    """The mean logarithm of what begins on the thirds of beats, less that of what begins on their quarters."""
    places = beats[:-1, None] + np.arange(PARTS) / PARTS * np.diff(beats)[:, None]
    at = np.clip(np.rint(places), 0, len(traces.curves) - 1).astype(np.int64)
    overall = traces.curves.mean(axis=0, dtype=np.float64) + 1e-3
    profile = np.log(0.1 + traces.curves[at].mean(axis=0, dtype=np.float64) / overall)
    return float(profile[[4, 8]].mean() - profile[[3, 6, 9]].mean())


def _weaker_of_two(accents: Floats) -> float:
    """The logarithm of how much weaker the weaker of odd and even beats (n,) are: 0 where as much begins on both."""
    means = [float(accents[phase::2].mean()) for phase in (0, 1) if len(accents) > phase]
    return float(np.log((min(means) + 0.05) / (max(means) + 0.05)))


def accents(beats: Floats, traces: Traces) -> Floats:
    """What begins on each beat (n, 5), within two frames."""
    last = len(traces.curves) - 1
    at = np.clip(np.rint(beats), 0, last).astype(np.int64)
    begins: Floats = np.max([traces.curves[np.clip(at + step, 0, last)] for step in (-2, 0, 2)], axis=0)
    return begins.astype(np.float64)


def beat_rows(beats: Floats, traces: Traces) -> tuple[Floats, Floats, Floats]:
    """What begins on each beat (n, 5), what it sounds like until the next (n, 8), and its notes (n, 24)."""
    at = np.clip(np.rint(beats), 0, len(traces.curves) - 1).astype(np.int64)
    return accents(beats, traces), _means(traces.level, at), _means(traces.notes, at * CHROMA_RATE // FRAME_RATE)


def _means(table: NDArray[np.floating], at: NDArray[np.int64]) -> Floats:
    """The mean row of ``table`` from each index to the next. Column by column: sums of all take much memory."""
    stop = np.append(at[1:], min(len(table), 2 * at[-1] - at[-2] if len(at) > 1 else at[-1] + 1))
    stop = np.minimum(np.maximum(stop, at + 1), len(table))
    start = np.minimum(at, stop - 1)
    means = np.empty((len(at), table.shape[1]))
    for number, column in enumerate(table.T):
        total = np.concatenate([[0.0], np.cumsum(column, dtype=np.float64)])
        means[:, number] = (total[stop] - total[start]) / np.maximum(stop - start, 1)
    return means
