"""Figures that describe a candidate's beats: what falls on them, between them, and how it repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.candidates import LOUDEST
from eavesong.music.ear import CHROMA_RATE, Ear
from eavesong.music.novelty import note_change, notes_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

PARTS = 12
"""Places in a beat that are looked at: halves, thirds, quarters and sixths are among them."""
MIDDLE_TEMPO = 115.0
"""Beats a minute that people tap most readily, about (van Noorden & Moelants 1999: 109 to 120)."""
WEAKER_OF_TWO = -1
"""Which of the figures says how much weaker every second beat is."""
LAGS = (1, 2, 3, 4, 6, 8)
"""Beats after which a bar may repeat."""


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


def traces(ear: Ear, curves: Singles) -> Traces:
    """The traces of a song with these novelty curves (f, 5)."""
    clipped = np.minimum(curves, LOUDEST)
    smooth = clipped.copy()
    smooth[1:-1] = 0.5 * clipped[1:-1] + 0.25 * (clipped[2:] + clipped[:-2])
    fine = ear.fine.astype(np.float32).reshape(len(ear.fine), 8, 8).mean(axis=2)
    notes = notes_of(ear)
    change = np.stack([note_change(notes[:, :12]), note_change(notes[:, 12:])], axis=1)
    slow = np.arange(len(curves)) * CHROMA_RATE / FRAME_RATE
    stretched = [np.interp(slow, np.arange(len(change)), column) for column in change.T]
    return Traces(smooth, fine, np.stack(stretched, axis=1).astype(np.float32), notes)


def figures(beats: Floats, traces: Traces) -> Floats:
    """What describes a candidate with these ``beats`` (n,) in frames: numbers in a fixed order."""
    gaps = np.diff(beats)
    return np.concatenate([_tempo(beats, gaps), _profile(beats, gaps, traces), _repeats(beats, traces)])


def _tempo(beats: Floats, gaps: Floats) -> Floats:
    period = float(np.median(gaps)) / FRAME_RATE
    octaves = np.log2(60 / period / MIDDLE_TEMPO)
    waver = np.abs(np.diff(np.log(gaps)))
    bells = np.exp(-0.5 * ((octaves - np.linspace(-1.5, 1.25, 12)) / 0.25) ** 2)
    return np.array([octaves, octaves**2, waver.mean() * 20, float(np.median(waver)) * 20, np.log(len(beats)), *bells])


def _profile(beats: Floats, gaps: Floats, traces: Traces) -> Floats:
    """How much begins at each twelfth of a beat, in each curve, against the mean; and how the notes change."""
    places = beats[:-1, None] + np.arange(PARTS) / PARTS * gaps[:, None]
    at = np.clip(np.rint(places), 0, len(traces.curves) - 1).astype(np.int64)
    mean = traces.curves[at].mean(axis=0, dtype=np.float64)
    overall = traces.curves.mean(axis=0, dtype=np.float64) + 1e-3
    change = traces.change[at[:, ::3]].mean(axis=0, dtype=np.float64)
    usual = traces.change.mean(axis=0, dtype=np.float64) + 1e-3
    total = mean.sum(axis=1) / overall.sum()
    return np.concatenate(
        [np.log(0.1 + mean / overall).ravel(), np.log(0.1 + total), np.log(0.1 + change / usual).ravel()]
    )


def _repeats(beats: Floats, traces: Traces) -> Floats:
    """How alike beats are that lie 1, 2, 3, 4, 6 and 8 apart: what begins on them, their sound, their notes."""
    rows = beat_rows(beats, traces)
    parts = []
    for table in rows:
        centred = table - table.mean(axis=0)
        scale = (centred**2).sum() + 1e-9
        alike = [float((centred[lag:] * centred[:-lag]).sum() / scale) if len(table) > lag else 0.0 for lag in LAGS]
        parts += alike
    accents = rows[0]
    spread = accents.std(axis=0) / (accents.mean(axis=0) + 0.1)
    return np.array([*parts, *spread, *_weaker_of_two(accents.sum(axis=1))])


def _weaker_of_two(accents: Floats) -> Floats:
    """The logarithm of how much weaker the weaker of odd and even beats (n,) are: 0 where as much begins on both."""
    means = [float(accents[phase::2].mean()) for phase in (0, 1) if len(accents) > phase]
    return np.array([np.log((min(means) + 0.05) / (max(means) + 0.05))])


def beat_rows(beats: Floats, traces: Traces) -> tuple[Floats, Floats, Floats]:
    """What begins on each beat (n, 5), what it sounds like until the next (n, 8), and its notes (n, 24)."""
    at = np.clip(np.rint(beats), 0, len(traces.curves) - 1).astype(np.int64)
    accents = np.max([traces.curves[np.clip(at + step, 0, len(traces.curves) - 1)] for step in (-2, 0, 2)], axis=0)
    return accents.astype(np.float64), _means(traces.level, at), _means(traces.notes, at * CHROMA_RATE // FRAME_RATE)


def _means(table: NDArray[np.floating], at: NDArray[np.int64]) -> Floats:
    """The mean row of ``table`` from each index to the next."""
    total = np.concatenate([np.zeros((1, table.shape[1])), np.cumsum(table, axis=0, dtype=np.float64)])
    stop = np.append(at[1:], min(len(table), 2 * at[-1] - at[-2] if len(at) > 1 else at[-1] + 1))
    stop = np.minimum(np.maximum(stop, at + 1), len(table))
    return (total[stop] - total[np.minimum(at, stop - 1)]) / np.maximum(stop - np.minimum(at, stop - 1), 1)[:, None]
