"""A song found in a copy of it: speed, pieces, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from eavesong.exchange.lines import Course, Singles, curves_of, exact_line, rough_lines
from eavesong.exchange.pieces import Piece, pieces_of
from eavesong.exchange.trace import RATE, Trace

PLAIN = 0.85
"""Share of the shorter song, by likeness, that a line explains so well that no other is looked at."""
SEAM = 1.5
"""Seconds of likeness that a further piece has to bring."""
SAME_BAR = 0.85
"""Likeness from which on two bars of a song are the same."""
LEAST_BARS = 8
"""Bars that are needed to tell whether bars are more like their own than like others."""
SHIFTED = (1, 2, 3, 4, 6, 8)
"""Bars by which both are shifted to see whether they fit as well then."""


@dataclass(frozen=True)
class Alignment:
    """Where a song lies in a copy of it."""

    line: Course
    """The longest piece's; its stretch is that of all."""
    pieces: tuple[Piece, ...]
    """The whole copy in order, without gaps."""
    seconds: float
    """How long the song is."""
    length: float
    """How long the copy is."""
    likeness: float
    """Cosine of both where they go together, 0 to 1."""
    margin: float
    """By how much that is more than with both shifted by whole bars: songs with a like beat lose nothing by that."""
    own: float | None = None
    """Share of the copy's bars that are more like their own bar of the song than like any that differs from it; None
    where too few bars differ. Another song with the same beat has the same strokes in every bar, but not the rest."""

    @property
    def found(self) -> float:
        """Share of the shorter of both that goes together."""
        return sum(piece.seconds for piece in self.pieces if piece.line) / max(min(self.seconds, self.length), 1e-9)


def align(song: Trace, copy: Trace, bar: float = 2.0) -> Alignment:
    """Where ``song`` lies in ``copy``; ``bar`` is the usual length of its bars in seconds."""
    one, other = curves_of(song), curves_of(copy)
    best: tuple[float, Course, list[Piece]] | None = None
    shorter = min(song.seconds, copy.seconds)
    for rough in rough_lines(one, other):
        line = exact_line(one, other, rough)
        pieces = pieces_of(one, other, line)
        worth = sum(piece.seconds * piece.likeness - SEAM for piece in pieces if piece.line)
        if best is None or worth > best[0]:
            best = worth, line, pieces
        if worth > PLAIN * shorter:
            break
    assert best is not None
    _, line, pieces = best
    known = [piece for piece in pieces if piece.line]
    longest = max(known, key=lambda piece: piece.seconds, default=None)
    likeness, margin = _sureness(one, other, known, bar)
    return Alignment(longest.line if longest and longest.line else line, tuple(pieces), song.seconds, copy.seconds,
                     likeness, margin, _own(one, other, known, bar))  # fmt: skip


def _sureness(one: Singles, other: Singles, known: list[Piece], bar: float) -> tuple[float, float]:
    """The likeness of all pieces together, and how much better than shifted by bars to either side."""
    here = _together(one, other, known, 0.0)
    shifted = [_together(one, other, known, sign * count * bar) for count in SHIFTED for sign in (-1, 1)]
    return here, here - max(shifted, default=0.0)


def _together(one: Singles, other: Singles, known: list[Piece], later: float) -> float:
    """The cosine of both along the pieces, with the song ``later`` seconds of its own later."""
    common = first = second = 0.0
    for piece in known:
        assert piece.line is not None
        at = np.arange(round(piece.begin * RATE), round(piece.end * RATE))
        source = np.rint((at / RATE - piece.line.delay) / piece.line.stretch * RATE + later * RATE).astype(np.int64)
        inside = (source >= 0) & (source < one.shape[1]) & (at < other.shape[1])
        a, b = one[:, source[inside]], other[:, at[inside]]
        common, first, second = common + float((a * b).sum()), first + float((a**2).sum()), second + float((b**2).sum())
    return float(common / max(np.sqrt(first * second), 1e-6))


def _own(one: Singles, other: Singles, known: list[Piece], bar: float) -> float | None:
    """See ``Alignment.own``."""
    pairs = list(_bars(one, other, known, bar))
    if len(pairs) < LEAST_BARS:
        return None
    song, copy = (_lengthened(np.stack(bars)) for bars in zip(*pairs, strict=True))
    like, differs = copy @ song.T, song @ song.T < SAME_BAR
    rivals = differs.any(axis=1)
    if rivals.sum() < LEAST_BARS:
        return None
    best = np.where(differs, like, -1.0).max(axis=1)
    return float((np.diag(like) > best)[rivals].mean())


def _bars(one: Singles, other: Singles, known: list[Piece], bar: float) -> Iterator[tuple[Singles, Singles]]:
    """Stretches of a bar of the song and of the copy that go together, each flat, one after the other."""
    size = round(bar * RATE)
    for piece in known:
        assert piece.line is not None
        for begin in np.arange(piece.begin, piece.end - bar, bar * piece.line.stretch):
            at = np.arange(round(begin * RATE), round(begin * RATE) + size)
            source = np.rint((at / RATE - piece.line.delay) / piece.line.stretch * RATE).astype(np.int64)
            if source[0] >= 0 and source[-1] < one.shape[1] and at[-1] < other.shape[1]:
                yield one[:, source].ravel(), other[:, at].ravel()


def _lengthened(bars: Singles) -> Singles:
    """Each row at length 1."""
    return np.asarray(bars / np.maximum(np.linalg.norm(bars, axis=1, keepdims=True), 1e-6))
