"""What to measure next: the lengths that shrink the error of the props most.

A measure between two points adds one equation to the least squares. By how much it would shrink the covariance is
known before it is measured (the update of Kalman 1960; optimal design after Fedorov 1972, the trace criterion), so
all pairs can be compared at a desk.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from eavesong.survey.known import TAPE, Floats

REACH = 2.0
"""Metres above the ground that a hand reaches without a ladder."""
LONGEST, SHORTEST = 15.0, 0.3
"""Metres a tape is laid in one go, and below which it says too little."""
ABOVE_REACH = 0.5
"""Share of its gain that a measure above reach still counts for: at hand height first."""
WORTH_IT = 0.03
"""Share of the error that a measure must take away to be advised."""


@dataclass(frozen=True)
class Advice:
    """A measure to take next."""

    start: int
    end: int
    within_reach: bool
    before: float
    """Metres: typical error of the props, 95 of 100, without it."""
    after: float
    """And with it."""


def advised(points: Floats, covariance: Floats, anchors: list[int], taken: set[tuple[int, int]],
            most: int = 3) -> list[Advice]:  # fmt: skip
    """The measures to take next, each after the ones before it, at most ``most``.

    ``points`` (n, 3) metres, ``covariance`` (3n, 3n); ``anchors`` are the points whose error counts (all where empty);
    ``taken`` are pairs (lower number first) already measured.
    """
    counted = np.concatenate([3 * point + np.arange(3) for point in (anchors or range(len(points)))])
    pairs = _pairs(points, taken)
    found: list[Advice] = []
    for _ in range(most):
        if not len(pairs):
            break
        gain, spread, moved = _gains(points, covariance, pairs, counted)
        high = points[pairs, 1].max(axis=1) > REACH
        best = int(np.argmax(gain * np.where(high, ABOVE_REACH, 1.0)))
        before = _typical(covariance, counted)
        covariance = covariance - np.outer(moved[:, best], moved[:, best]) / spread[best]
        after = _typical(covariance, counted)
        if after > (1 - WORTH_IT) * before:
            break
        a, b = pairs[best].tolist()
        found.append(Advice(a, b, not high[best], before, after))
        pairs = np.delete(pairs, best, axis=0)
    return found


def _pairs(points: Floats, taken: set[tuple[int, int]]) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    """(p, 2) pairs of points a tape can be laid between."""
    a, b = np.triu_indices(len(points), 1)
    length = np.linalg.norm(points[a] - points[b], axis=1)
    usable = (length > SHORTEST) & (length < LONGEST)
    pairs = np.stack([a[usable], b[usable]], axis=1)
    return np.array([pair for pair in pairs.tolist() if tuple(pair) not in taken], dtype=np.int64).reshape(-1, 2)


def _gains(points: Floats, covariance: Floats, pairs: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
           counted: np.ndarray[tuple[int, ...], np.dtype[np.int64]]) -> tuple[Floats, Floats, Floats]:  # fmt: skip
    """For each pair: what it takes from the trace, the variance of its length as measured, and C g (3n, p)."""
    apart = points[pairs[:, 0]] - points[pairs[:, 1]]
    along = apart / np.linalg.norm(apart, axis=1)[:, None]
    blocks = covariance.reshape(len(covariance), -1, 3)
    moved = np.einsum("rpk,pk->rp", blocks[:, pairs[:, 0]] - blocks[:, pairs[:, 1]], along)
    at = 3 * pairs[:, :, None] + np.arange(3)
    every = np.arange(len(pairs))[:, None]
    own = ((moved[at[:, 0], every] - moved[at[:, 1], every]) * along).sum(axis=1)
    spread = own + TAPE**2
    return (moved[counted] ** 2).sum(axis=0) / spread, spread, moved


def _typical(covariance: Floats, counted: np.ndarray[tuple[int, ...], np.dtype[np.int64]]) -> float:
    """Metres: twice the root of the mean variance of a point's place."""
    return float(2 * np.sqrt(np.maximum(np.diag(covariance)[counted], 0).reshape(-1, 3).sum(axis=1).mean()))
