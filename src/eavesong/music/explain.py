"""Whole explanations of a song, its beats together with its bars, and how good each is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.candidates import share_in_common
from eavesong.music.evidence import beat_figures
from eavesong.music.figures import TEMPO, TRIPLE, Traces, figures
from eavesong.music.metre import METRES, bars
from eavesong.music.model import Model

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

WAYS: tuple[tuple[int, ...], ...] = ((2,), (3,), (4,), (6,), METRES)
"""Bars that each candidate is explained with: of one length all through, or changing."""
AGREE = 0.8
"""Share of beats in common that makes two explanations one level and phase."""


@dataclass(frozen=True, eq=False)
class Judged:
    """A candidate whose beats have been judged one by one."""

    beats: Floats
    """(n,) frames."""
    right: Floats
    """(n,) log odds of each beat being one."""
    downbeat: Floats
    """(n,) log odds of each beat beginning a bar."""
    favour: float
    """What in its beats speaks for it among the song's candidates."""
    figures: Floats
    """What describes the candidate (3,)."""

    @classmethod
    def of(cls, beats: Floats, odds: Floats, figures: Floats) -> Judged:
        """A candidate from what the model says of its beats (n, 3), and what describes it."""
        return cls(beats, odds[:, 0], odds[:, 1], float(odds[:, 2].mean()), figures)


@dataclass(frozen=True, eq=False)
class Explanation:
    """Beats and bars together, with what speaks for them."""

    judged: Judged
    positions: NDArray[np.int64]
    figures: Floats
    score: float = 0.0


def judge(beats: Floats, traces: Traces, model: Model) -> Judged:
    """The candidate with these ``beats`` (n,) in frames, judged."""
    return Judged.of(beats, model.judge(beat_figures(beats, traces)), figures(beats, traces))


def explanations(judged: Judged, ways: tuple[tuple[int, ...], ...] = WAYS) -> list[Explanation]:
    """A candidate with every way of bars that are looked for; not yet scored."""
    found = [bars(judged.downbeat, way, changing=len(way) > 1) for way in ways]
    agreement = np.array([share for _, share in found])
    return [
        Explanation(judged, positions, _figures(judged, positions, way, share, agreement))
        for way, (positions, share) in zip(ways, found, strict=True)
    ]


def _figures(
    judged: Judged, positions: NDArray[np.int64], way: tuple[int, ...], share: float, agreement: Floats
) -> Floats:
    """What an explanation is ranked by."""
    chance = 1 / (1 + np.exp(-judged.right))
    mean = float(np.clip(chance.mean(), 1e-3, 1 - 1e-3))
    octaves, triple = judged.figures[TEMPO], judged.figures[TRIPLE]
    chosen = np.array([float(way == other) for other in WAYS])
    starts = np.flatnonzero(np.append(positions, 1) == 1)
    lengths = np.bincount(np.minimum(np.diff(starts), 8), minlength=9) / max(1, len(starts) - 1)
    judged_well = [judged.right.mean(), np.log(mean / (1 - mean)), np.percentile(judged.right, 15)]
    judged_well += [np.median(judged.right), judged.right.std(), np.log(len(positions) / 30), judged.favour]
    barred = [share, share - agreement.max(), agreement.max(), judged.downbeat.std(), (judged.downbeat > 0).mean()]
    return np.concatenate([judged_well, barred, chosen, chosen * triple, chosen * octaves, lengths])


def standing(best: Explanation, others: list[Explanation]) -> Floats:
    """How an explanation stands (3,) among all: its beats' odds, the share of belief in its level and phase, its
    lead in score over the best that has other beats."""
    scores = np.array([other.score for other in others])
    belief = np.exp(scores - scores.max())
    same = np.array([share_in_common(best.judged.beats, other.judged.beats) > AGREE for other in others])
    mass = float(np.clip(belief[same].sum() / belief.sum(), 1e-3, 1 - 1e-3))
    lead = best.score - float(scores[~same].max()) if (~same).any() else 5.0
    mean = float(np.clip((1 / (1 + np.exp(-best.judged.right))).mean(), 1e-3, 1 - 1e-3))
    return np.array([np.log(mean / (1 - mean)), np.log(mass / (1 - mass)), np.clip(lead, -5.0, 5.0)])
