"""Whole explanations of a song, its beats together with its bars, and how good each is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.beside import COUNT, beside
from eavesong.music.candidates import share_in_common
from eavesong.music.evidence import beat_figures, pulse_near
from eavesong.music.figures import TEMPO, TRIPLE, Traces, figures
from eavesong.music.metre import METRES, bars
from eavesong.music.model import Model

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.pulse import Pulse

    Singles = NDArray[np.float32]
    Floats = NDArray[np.float64]

WAYS: tuple[tuple[int, ...], ...] = ((2,), (3,), (4,), (5,), (6,), (7,), METRES)
"""Bars that each candidate is explained with: of one length all through, or changing."""
AGREE = 0.8
"""Share of beats in common that makes two explanations one level and phase."""


@dataclass(frozen=True, eq=False)
class Pulsed:
    """What the pulse says of a candidate."""

    down: Floats
    """(n,) chance of each beat beginning a bar."""
    whole: Floats
    """What it says of the beats as a whole (7,)."""
    metres: Floats
    """(6,) log shares of the metres."""
    total: float
    """Downbeats that the pulse expects in all while the beats last."""

    @classmethod
    def of(cls, beats: Floats, pulse: Pulse) -> Pulsed:
        """What the pulse says of ``beats`` (n,) in frames."""
        first, last = max(0, int(beats[0]) - 4), int(beats[-1]) + 5
        odds = pulse_near(pulse.beat, beats)
        on, all_on = _expected(odds), _peaks(pulse.beat[first:last])
        down, all_down = _expected(pulse_near(pulse.downbeat, beats)), _peaks(pulse.downbeat[first:last])
        tempo = 60 * FRAME_RATE / np.median(np.diff(beats))
        near = pulse.tempo_odds(np.array([tempo, 2 * tempo, tempo / 2]))
        share = float(on.sum()) / max(all_on, float(on.sum()), 1e-3)
        best = float(pulse.tempi.max())
        whole = [on.mean(), odds.mean(), share, share * on.mean(), near[0] - best, near[0] - near[1], near[0] - near[2]]
        return cls(down, np.array(whole), pulse.metres.astype(np.float64), max(all_down, 1e-3))

    @property
    def tempo_gap(self) -> float:
        """How much less likely its tempo is, by the pulse, than the likeliest: log shares, 0 at best."""
        return float(self.whole[4])


def _expected(odds: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-odds)))


def _peaks(odds: Singles) -> float:
    """The sum of the chances at the peaks of log odds (f,): as many events as are expected."""
    top = np.flatnonzero((odds[1:-1] > odds[:-2]) & (odds[1:-1] >= odds[2:])) + 1
    return float(_expected(odds[top].astype(np.float64)).sum())


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
    pulsed: Pulsed
    stands: Floats
    """How it stands beside the song's other candidates (10,), see `beside`."""

    @classmethod
    def of(cls, beats: Floats, odds: Floats, figures: Floats, pulsed: Pulsed) -> Judged:
        """A candidate from what the model says of its beats (n, 3), what describes it, and the pulse on its beats."""
        return cls(beats, odds[:, 0], odds[:, 1], float(odds[:, 2].mean()), figures, pulsed, np.zeros(COUNT))


@dataclass(frozen=True, eq=False)
class Explanation:
    """Beats and bars together, with what speaks for them."""

    judged: Judged
    positions: NDArray[np.int16]
    """(n,): short numbers, as there are some hundreds of explanations."""
    way: tuple[int, ...]
    """Beats of the bars that were looked for."""
    figures: Floats
    score: float = 0.0


def judge(beats: Floats, traces: Traces, model: Model) -> Judged:
    """The candidate with these ``beats`` (n,) in frames, judged."""
    odds = model.judge(beat_figures(beats, traces))
    return Judged.of(beats, odds, figures(beats, traces), Pulsed.of(beats, traces.pulse))


def compared(candidates: list[Judged]) -> list[Judged]:
    """The candidates of a song, each knowing how it stands beside the others."""
    told = [[one.favour, one.right.mean(), *one.pulsed.whole[[3, 1, 0]]] for one in candidates]
    table = beside([one.beats for one in candidates], np.array(told)) if candidates else np.zeros((0, COUNT))
    return [replace(one, stands=stands) for one, stands in zip(candidates, table, strict=True)]


def explanations(judged: Judged, ways: tuple[tuple[int, ...], ...] = WAYS) -> list[Explanation]:
    """A candidate with every way of bars that are looked for; not yet scored."""
    found = [bars(judged.downbeat, way, changing=len(way) > 1) for way in ways]
    agreement = np.array([share for _, share in found])
    return [
        Explanation(judged, positions.astype(np.int16), way, _figures(judged, positions, way, share, agreement))
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
    down = judged.pulsed.down[positions == 1]
    found, sure = (
        float(down.sum()) / max(judged.pulsed.total, float(down.sum())),
        float(down.mean()) if len(down) else 0.0,
    )
    metre = np.clip(int(np.argmax(lengths[2:8])), 0, len(judged.pulsed.metres) - 1)
    metres = judged.pulsed.metres
    barred += [sure, found, np.sqrt(sure * found), metres[metre], metres[metre] - metres.max()]
    whole = [*judged.pulsed.whole, len(starts) / max(1, len(positions))]
    by_way = [chosen, chosen * triple, chosen * octaves]
    return np.concatenate([judged_well, barred, whole, *by_way, lengths, judged.stands])


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
