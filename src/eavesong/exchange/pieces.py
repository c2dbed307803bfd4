"""Which stretches of a song are in another copy of it, and where: an edit taken apart.

With the speed known, every few seconds of the copy are compared with every place in the song. The likeliest way
through the copy stays with the song as long as it can: going on costs nothing, a jump costs as much as some seconds
that do not fit, and what is like nothing in the song is new (dynamic programming; Viterbi 1967).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavesong.exchange.lines import NEAR, Course, Floats, Singles, likeness_along, peak, stretched
from eavesong.exchange.trace import RATE

COARSE = 2
"""Moments taken together where pieces are looked for."""
WINDOW, HOP = 250, 25
"""Coarse moments of what is compared, and from one to the next: 5 s, every half second."""
LEAST_WINDOW = 50
"""Coarse moments of the shortest that is compared: a second."""
JUMP = 3.0
"""What a jump costs, in windows' likeness."""
HOME = 0.05
"""Likeness that the place of the line has ahead of others: songs repeat themselves."""
FITS = 0.7
"""Share of the usual likeness below which a window is like nothing in the song."""
LEAST = 0.25
"""Likeness below which nothing fits in any case."""
FAINTLY = 0.12
"""Likeness from which on what stands before or after pieces that fit is taken to go on, under something else."""
OVER = 10.0
"""Seconds that something may lie over the beginning of a song and hide it."""
MOST = 30_000_000
"""Comparisons kept at once, which bounds memory."""
SLACK = 3.0
"""Seconds around where two pieces meet within which the place is sought."""
NEW = -1


@dataclass(frozen=True)
class Piece:
    """From ``begin`` to ``end`` seconds the copy holds the song moved by ``line``; nothing of it where that is None."""

    begin: float
    end: float
    line: Course | None
    likeness: float = 0.0
    """Cosine of both on the way, 0 to 1."""

    @property
    def seconds(self) -> float:
        """How long it is in the copy."""
        return self.end - self.begin

    def source(self) -> tuple[float, float]:
        """From when to when it is in the song; nothing where it is new."""
        if self.line is None:
            return 0.0, 0.0
        begin, end = ((each - self.line.delay) / self.line.stretch for each in (self.begin, self.end))
        return begin, end


def pieces_of(one: Singles, other: Singles, line: Course) -> list[Piece]:
    """The copy ``other`` (5, g) in pieces of the song ``one`` (5, f), without gaps, at the speed of ``line``."""
    # On the grid of coarse moments the line is exact: else another place, where the song is nearly the same, may win.
    home = COARSE * round(line.delay * RATE / COARSE)
    later = line.delay * RATE - home
    song = stretched(one, line.stretch, later)
    runs = _runs(song, other, home)
    length = other.shape[1] / RATE
    joined = _joined([_exact(song, other, run) for run in runs], song, other)
    pieces = _met(joined, song, other, length, line.stretch)
    return [piece if piece.line is None else replace(piece, line=Course(piece.line.delay + later / RATE, line.stretch))
            for piece in pieces]  # fmt: skip


@dataclass(frozen=True)
class _Run:
    """Windows of the copy that go on with the song: where it lies, in moments of the copy's clock."""

    begin: int
    end: int
    shift: float
    likeness: float


def _runs(song: Singles, other: Singles, home: int) -> list[_Run]:
    """The likeliest way through the copy; ``home`` is where most of the song lies, in moments."""
    coarse, copy = _coarse(song), _coarse(other)
    window = min(WINDOW, coarse.shape[1], copy.shape[1])
    if window < LEAST_WINDOW:
        return []
    hop = max(HOP, -(-copy.shape[1] * coarse.shape[1] // MOST))
    starts = np.arange(0, copy.shape[1] - window + 1, hop)
    like = _likenesses(coarse, copy, starts, window)
    usual = float(np.median(np.sort(like.max(axis=1))[len(starts) // 2 :]))
    gain = like - max(LEAST, FITS * usual)
    at_home = starts - home // COARSE
    inside = np.flatnonzero((at_home >= 0) & (at_home < gain.shape[1]))
    gain[inside, at_home[inside]] += HOME
    path = _path(gain, hop)
    runs: list[_Run] = []
    first = 0
    for at in range(1, len(starts) + 1):
        goes_on = at < len(starts) and path[at] != NEW and path[at] == path[at - 1] + hop
        if goes_on or (at < len(starts) and path[at] == path[at - 1] == NEW):
            continue
        if path[first] != NEW:
            height = float(np.mean([like[k, path[k]] for k in range(first, at)]))
            shift = COARSE * float(starts[first] - path[first])
            runs.append(_Run(COARSE * int(starts[first]), COARSE * int(starts[at - 1] + window), shift, height))
        first = at
    return runs


def _coarse(curves: Singles) -> Singles:
    count = curves.shape[1] // COARSE
    return np.asarray(curves[:, : count * COARSE].reshape(len(curves), count, COARSE).mean(axis=2))


def _likenesses(song: Singles, copy: Singles, starts: NDArray[np.int64], window: int) -> Singles:
    """(w, p): cosine of each window of the copy with each place in the song."""
    from scipy.fft import irfft, next_fast_len, rfft

    size = next_fast_len(song.shape[1] + window, real=True)
    places = song.shape[1] - window + 1
    known = np.conj(rfft(song, size, axis=1))
    energy = _energies(song, np.arange(places), window)
    own = _energies(copy, starts, window)
    out = np.empty((len(starts), places), np.float32)
    for first in range(0, len(starts), 16):
        some = starts[first : first + 16]
        parts = np.stack([copy[:, at : at + window] for at in some])
        common = irfft((np.conj(rfft(parts, size, axis=2)) * np.conj(known)).sum(axis=1), size, axis=1)
        out[first : first + 16] = common[:, :places] / np.sqrt(np.maximum(own[first : first + 16, None] * energy, 1e-3))
    return out


def _energies(curves: Singles, starts: NDArray[np.int64], window: int) -> Floats:
    total = np.concatenate([[0.0], np.cumsum((curves.astype(np.float64) ** 2).sum(axis=0))])
    return np.asarray(total[starts + window] - total[starts])


def _path(gain: Singles, hop: int) -> list[int]:
    """The place in the song of each window, or NEW, that gains most: (w, p) gains, places go on by ``hop``."""
    count, places = gain.shape
    jumped = np.zeros((count, places), bool)
    came = np.zeros(count, np.int64)
    new_came = np.zeros(count, np.int64)
    here, new = gain[0].astype(np.float64), 0.0
    for at in range(1, count):
        stay = np.full(places, -np.inf)
        stay[hop:] = here[: max(places - hop, 0)]
        best = int(np.argmax(here))
        jump = max(here[best] - JUMP, new - JUMP / 2)
        came[at] = best if here[best] - JUMP >= new - JUMP / 2 else NEW
        new_came[at] = NEW if new >= here[best] - JUMP / 2 else best
        new = max(new, here[best] - JUMP / 2)
        jumped[at] = jump > stay
        here = np.maximum(stay, jump) + gain[at]
    place = int(np.argmax(here)) if here.max() > new else NEW
    path = [place]
    for at in range(count - 1, 0, -1):
        place = int(new_came[at]) if place == NEW else int(came[at]) if jumped[at, place] else place - hop
        path.append(place)
    return path[::-1]


def _exact(song: Singles, other: Singles, run: _Run) -> _Run:
    """The run with its place to a fraction of a moment, and how like both are along it."""
    begin = max(run.begin, round(run.shift), 0)
    end = min(run.end, round(run.shift) + song.shape[1], other.shape[1])
    shifts, heights = [], []
    for start in range(begin, max(begin + 1, end - 400), 800):
        piece = song[:, start - round(run.shift) : min(start + 800, end) - round(run.shift)]
        low = max(0, start - NEAR)
        along = likeness_along(piece, other[:, low : start + NEAR + piece.shape[1]])
        at, height = peak(along)
        shifts.append(round(run.shift) + low - start + at)
        heights.append(height)
    return _Run(run.begin, run.end, float(np.median(shifts)), float(np.mean(heights)))


def _joined(runs: list[_Run], song: Singles, other: Singles) -> list[_Run]:
    """Runs that go on at the same place joined, whatever lay over the song between them; ends drawn out likewise."""
    joined: list[_Run] = []
    for run in runs:
        if joined and abs(run.shift - joined[-1].shift) < 2.5:
            before = joined.pop()
            longer = run if run.end - run.begin > before.end - before.begin else before
            run = _Run(before.begin, run.end, longer.shift, longer.likeness)
        joined.append(run)
    if joined:
        first, last = joined[0], joined[-1]
        start, stop = max(0, round(first.shift)), min(other.shape[1], round(last.shift) + song.shape[1])
        under = start < RATE and first.begin - start < OVER * RATE  # both begin together: a voice over the beginning
        if under or _along(song, other, first.shift, start, first.begin) > FAINTLY:
            joined[0] = _Run(start, first.end, first.shift, first.likeness)
        last = joined[-1]
        if _along(song, other, last.shift, last.end, stop) > FAINTLY:
            joined[-1] = _Run(last.begin, stop, last.shift, last.likeness)
    return joined


def _along(song: Singles, other: Singles, shift: float, begin: int, end: int) -> float:
    """The cosine of both from ``begin`` to ``end``; 1 where there is next to nothing between."""
    if end - begin < RATE // 2:
        return 1.0
    one, two = song[:, begin - round(shift) : end - round(shift)], other[:, begin:end]
    size = np.sqrt(float((one**2).sum()) * float((two**2).sum()))
    return float(float((one * two).sum()) / max(size, 1e-6))


def _met(runs: list[_Run], song: Singles, other: Singles, length: float, stretch: float) -> list[Piece]:
    """Pieces without gaps: what is in no run is new, and runs meet where both together fit best."""
    pieces: list[Piece] = []
    at = 0.0
    for number, run in enumerate(runs):
        before = runs[number - 1] if number else None
        near = before is not None and run.begin - before.end < 2 * SLACK * RATE
        if near and before is not None:
            begin = _seam(song, other, before.shift, run.shift, (before.end + run.begin) / 2)
            pieces[-1] = Piece(pieces[-1].begin, begin, pieces[-1].line, pieces[-1].likeness)
        else:
            begin = _seam(song, other, None, run.shift, run.begin) if run.begin > 0 else max(0.0, run.shift / RATE)
            begin = max(begin, at, run.shift / RATE)
            if begin > at + 1 / RATE:
                pieces.append(Piece(at, begin, None))
        last = number == len(runs) - 1 or runs[number + 1].begin - run.end >= 2 * SLACK * RATE
        stop = min(length, (run.shift + song.shape[1]) / RATE)
        end = min(stop, run.end / RATE)
        if last and end < stop - 1 / RATE:
            end = min(stop, max(begin, _seam(song, other, run.shift, None, run.end)))
        pieces.append(Piece(begin, end, Course(run.shift / RATE, stretch), run.likeness))
        at = end
    if at < length - 1 / RATE:
        pieces.append(Piece(at, length, None))
    return [piece for piece in pieces if piece.seconds > 1 / RATE]


def _seam(song: Singles, other: Singles, before: float | None, after: float | None, near: float) -> float:
    """The second near the moment ``near`` at which the copy best goes over from one shift, or nothing, to another."""
    begin = max(0, round(near - SLACK * RATE))
    end = min(other.shape[1], round(near + SLACK * RATE))
    misfit = [_misfit(song, other, shift, begin, end) for shift in (before, after)]
    cost = np.concatenate([[0.0], np.cumsum(misfit[0] - misfit[1])])
    return (begin + int(np.argmin(cost))) / RATE


def _misfit(song: Singles, other: Singles, shift: float | None, begin: int, end: int) -> Floats:
    copy = other[:, begin:end].astype(np.float64)
    if shift is None:
        return np.asarray((copy**2).sum(axis=0) * 0.9, dtype=np.float64)
    at = np.arange(begin, end) - round(shift)
    inside = (at >= 0) & (at < song.shape[1])
    moved = np.where(inside, song[:, np.clip(at, 0, song.shape[1] - 1)], 0.0)
    return np.asarray(np.where(inside, ((copy - moved) ** 2).sum(axis=0), (copy**2).sum(axis=0) * 2))
