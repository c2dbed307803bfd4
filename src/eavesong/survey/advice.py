"""What to measure next: the lengths that shrink the error of the props most, and check what nothing checks.

A measure between two points adds one equation to the least squares. By how much it would shrink the covariance is
known before it is measured (the update of Kalman 1960; optimal design after Fedorov 1972, the trace criterion), so
all pairs can be compared at a desk. So is what it would do for the others: how large an error of each would go
unseen, and by how much that would move the props (internal and external reliability; Baarda 1968).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from eavesong.survey.doubt import seen_from
from eavesong.survey.known import TAPE, Floats, Indices

REACH = 2.0
"""Metres above the ground that a hand reaches without a ladder."""
LONGEST, SHORTEST = 15.0, 0.3
"""Metres a tape is laid in one go, and below which it says too little."""
ABOVE_REACH = 0.5
"""Share of its gain that a measure above reach still counts for: at hand height first."""
WORTH_IT = 0.06
"""Share of what could be wrong with the props, squared, that a measure must take away to be advised."""
MISREAD = 0.2
"""Metres a tape is off by that was misread, or hooked over the wrong nail."""
OFTEN = 0.05
"""How often that happens: one measure in twenty (our assumption)."""
SURELY = 1000.0
"""In its place where a measure is sought that checks the others, whatever else it does."""
AT_A_TIME = 4096
"""Pairs looked at together, which bounds memory."""


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
    checks: tuple[int, ...] = ()
    """The measures already taken whose misreading would go unseen without it, and be seen with it."""


def advised(points: Floats, covariance: Floats, anchors: list[int], ends: Indices, give: Floats,
            most: int = 3, often: float = OFTEN) -> list[Advice]:  # fmt: skip
    """The measures to take next, each after the ones before it, at most ``most``.

    ``points`` (n, 3) metres, ``covariance`` (3n, 3n); ``anchors`` are the points whose error counts (all where empty);
    ``ends`` (m, 2) and ``give`` (m,) metres are the measures already taken, which are not advised again. The more
    ``often`` tapes are misread, the more is what checks others preferred to what makes props surer.
    """
    counted = np.concatenate([3 * point + np.arange(3) for point in (anchors or range(len(points)))])
    pairs = _pairs(points, {tuple(sorted(pair)) for pair in ends.tolist()})
    high = points[pairs, 1].max(axis=1) > REACH
    taken, found = len(ends), list[Advice]()
    while len(found) < most and len(pairs):
        plan = _Plan(points, covariance, counted, ends, give, often)
        left = plan.left_by(pairs)
        best = int(np.argmax((plan.harm - left) * np.where(high, ABOVE_REACH, 1.0)))
        if left[best] > (1 - WORTH_IT) * plan.harm:
            break
        covariance = plan.covariance_with(pairs[best])
        ends, give = np.concatenate([ends, pairs[[best]]]), np.append(give, TAPE)
        after = _Plan(points, covariance, counted, ends, give, often)
        checks = np.flatnonzero((plan.seen[:taken] > MISREAD) & (after.seen[:taken] <= MISREAD))
        a, b = pairs[best].tolist()
        found.append(Advice(a, b, not high[best], plan.typical, after.typical, tuple(checks.tolist())))
        pairs, high = np.delete(pairs, best, axis=0), np.delete(high, best)
    return found


def _pairs(points: Floats, taken: set[tuple[int, ...]]) -> Indices:
    """(p, 2) pairs of points a tape can be laid between."""
    a, b = np.triu_indices(len(points), 1)
    length = np.linalg.norm(points[a] - points[b], axis=1)
    usable = (length > SHORTEST) & (length < LONGEST)
    pairs = np.stack([a[usable], b[usable]], axis=1)
    return np.array([pair for pair in pairs.tolist() if tuple(pair) not in taken], dtype=np.int64).reshape(-1, 2)


class _Plan:
    """Measures taken or planned: how sure the props are with them, and how bad a misread one would be."""

    def __init__(self, points: Floats, covariance: Floats, counted: Indices, ends: Indices, give: Floats,
                 often: float) -> None:  # fmt: skip
        self.points, self.covariance, self.counted, self.give, self.often = points, covariance, counted, give, often
        self.moved = self._moved(ends)
        self.used = self._own(self.moved, ends) / give**2
        self.seen = seen_from(self.used, give)
        # By how much an error of a metre in each measure moves each counted coordinate.
        self.bend = self.moved[counted] / give**2
        self.trace = float(np.maximum(np.diag(covariance)[counted], 0).sum())
        self.harm = self.trace + often * float(_harm(self.seen, (self.bend**2).sum(axis=0)).sum())
        """Square metres by which the props are to be expected off: by chance, and by misread tapes."""

    @property
    def typical(self) -> float:
        """Metres: twice the root of the mean variance of a prop's place."""
        return float(2 * np.sqrt(self.trace / (len(self.counted) / 3)))

    def left_by(self, pairs: Indices) -> Floats:
        """(p,) the harm that would be left by each of ``pairs`` (p, 2) if it were measured too, and rightly."""
        parts = [self._left_by(pairs[at : at + AT_A_TIME]) for at in range(0, len(pairs), AT_A_TIME)]
        return np.concatenate(parts) if parts else np.zeros(0)

    def covariance_with(self, pair: Indices) -> Floats:
        """(3n, 3n): the covariance if ``pair`` (2,) were measured too."""
        moved = self._moved(pair[None])
        spread = float(self._own(moved, pair[None])[0]) + TAPE**2
        return self.covariance - np.outer(moved[:, 0], moved[:, 0]) / spread

    def _left_by(self, pairs: Indices) -> Floats:
        moved = self._moved(pairs)
        spread = self._own(moved, pairs) + TAPE**2
        apart = moved[self.counted]
        size = (apart**2).sum(axis=0)
        # What each measure has in common with each pair (m, p), and what it would still bend with that known.
        common = self._along(pairs).T @ self.moved
        share = common.T / self.give[:, None] ** 2
        used = self.used[:, None] - common.T * share / spread
        bend = (self.bend**2).sum(axis=0)[:, None] - 2 * (self.bend.T @ apart) * share / spread
        bend += size * (share / spread) ** 2
        harm = _harm(seen_from(used, self.give[:, None]), bend).sum(axis=0)
        return np.asarray(self.trace - size / spread + self.often * harm)

    def _along(self, pairs: Indices) -> Floats:
        """(3n, p): what lengthens each of ``pairs`` (p, 2)."""
        apart = self.points[pairs[:, 0]] - self.points[pairs[:, 1]]
        along = apart / np.maximum(np.linalg.norm(apart, axis=1), 1e-9)[:, None]
        out = np.zeros((len(self.covariance), len(pairs)))
        column = np.arange(len(pairs))[:, None]
        out[3 * pairs[:, [0]] + np.arange(3), column] = along
        out[3 * pairs[:, [1]] + np.arange(3), column] = -along
        return out

    def _moved(self, pairs: Indices) -> Floats:
        """(3n, p): the covariance of every coordinate with each length."""
        return np.asarray(self.covariance @ self._along(pairs))

    def _own(self, moved: Floats, pairs: Indices) -> Floats:
        """(p,) square metres: the variance of each length."""
        return np.asarray((moved * self._along(pairs)).sum(axis=0))


def _harm(seen: Floats, bend: Floats) -> Floats:
    """Square metres by which the props are off where a measure was misread, of which as much as goes unseen stays."""
    return np.asarray(np.minimum(seen, MISREAD) ** 2 * np.maximum(bend, 0.0))
