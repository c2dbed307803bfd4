"""The whole of a survey in one readable run: what is known → adjusted → doubts → trust → advice."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from eavesong.errors import Problem, SurveyError
from eavesong.survey.adjust import Adjusted, adjust
from eavesong.survey.advice import MISREAD, SURELY, Advice, advised
from eavesong.survey.camera import Lens
from eavesong.survey.doubt import Doubt, likely_cost, misfit_of, smallest_seen, without_wrong
from eavesong.survey.known import Floats, Known
from eavesong.survey.read import Read, read_survey
from eavesong.survey.trust import Trust, trust

SURE = 1.959964
"""Standard deviations that hold 95 of 100 (two-sided normal)."""
NO_VALLEY = 100.0
"""Times the misfit that chance brings beyond which error bars mean nothing, as the report then says."""
UNHELD = 10.0
"""Metres of standard error beyond which nothing holds a point."""


@dataclass(frozen=True, eq=False)
class Solution:
    """A house in metres, and how sure that is."""

    known: Known
    adjusted: Adjusted
    trust: Trust
    doubts: tuple[Doubt, ...]
    """What disagreed with the rest and was left out."""
    advice: tuple[Advice, ...]
    """What to measure next."""
    check: Advice | None = None
    """What to measure so that a misread measure shows; None where each would."""

    @property
    def points(self) -> Floats:
        """(n, 3) metres: right from the origin, up from the ground, towards the street from the front."""
        return self.adjusted.points

    @property
    def covariance(self) -> Floats:
        """(3n, 3n) square metres."""
        return self.trust.covariance

    @property
    def standard_errors(self) -> Floats:
        """(n, 3) metres, axis by axis."""
        return np.sqrt(np.maximum(np.diag(self.covariance), 0.0)).reshape(-1, 3)

    def bar(self, point: int) -> float:
        """Metres within which the point is in 95 of 100 cases, in whatever direction."""
        block = slice(3 * point, 3 * point + 3)
        return radius(self.covariance[block, block])

    def lens(self, view: int) -> Lens:
        """The camera of a photo."""
        return self.adjusted.lens(view)

    def focal_give(self, view: int) -> float:
        """Standard deviation of the logarithm of a photo's focal length."""
        at = self.adjusted.misfit.at.view(view).start
        return float(np.sqrt(max(self.adjusted.covariance[at, at], 0.0)))

    @property
    def fits(self) -> bool:
        """Whether what is left of misfit is what chance brings."""
        misfit, freedom = misfit_of(self.adjusted)
        return misfit < likely_cost(freedom)

    @property
    def unheld(self) -> tuple[int, ...]:
        """Points that nothing holds."""
        return tuple(np.flatnonzero(self.standard_errors.max(axis=1) > UNHELD).tolist())


def radius(covariance: Floats) -> float:
    """The radius that holds 95 of 100 draws from a normal distribution with ``covariance`` (k, k) round 0.

    The square of the distance has the distribution of a sum of weighted chi squares, taken as one scaled chi square of
    the same mean and variance (Satterthwaite 1946); exact where one axis rules.
    """
    from scipy.special import gammaincinv

    mean = float(np.trace(covariance))
    if mean <= 0:
        return 0.0
    variance = 2 * float((covariance**2).sum())
    freedom = 2 * mean**2 / variance
    return float(np.sqrt(mean / freedom * 2 * gammaincinv(freedom / 2, 0.95)))


def solve(known: Known, anchors: tuple[int, ...] = ()) -> Solution:
    """The house that fits best what is known.

    ``anchors`` are the points whose error counts when it is advised what to measure next; all of them where empty.
    """
    best, *others = adjust(known)
    cleared, doubts = without_wrong(known, best)
    if doubts:
        others = []
    misfit, freedom = misfit_of(cleared)
    # Where nothing fits, there is no valley to walk in.
    told = (
        trust(cleared, others) if misfit < NO_VALLEY * max(freedom, 1.0) else Trust(cleared.point_covariance, 0.0, 0.0)
    )
    measures = cleared.known.measure_ends, cleared.known.measure_give
    advice = advised(cleared.points, told.covariance, list(anchors), *measures)
    check = checking(cleared, told.covariance, anchors)
    return Solution(known, cleared, told, doubts, tuple(advice), check)


def checking(adjusted: Adjusted, covariance: Floats, anchors: tuple[int, ...]) -> Advice | None:
    """The measure that best checks what too little else does; ``covariance`` (3n, 3n) square metres of the points."""
    if not len(adjusted.known.lengths) or (smallest_seen(adjusted) <= MISREAD).all():
        return None
    known = adjusted.known
    found = advised(adjusted.points, covariance, list(anchors), known.measure_ends, known.measure_give, 1, SURELY)
    return found[0] if found else None


def survey(path: str | Path) -> tuple[Read, Solution]:
    """Read the survey file ``path`` and solve it; SurveyError where it cannot be used."""
    read = read_survey(path)
    names = [name for prop in read.survey.prop for name in prop.anchors()]
    anchors = tuple(dict.fromkeys(read.known.points.index(name) for name in names))
    try:
        return read, solve(read.known, anchors)
    except (np.linalg.LinAlgError, FloatingPointError, ValueError):
        problem = Problem(str(path), "", "what it says of the house has no solution",
                          "Look for points clicked in the wrong place, or said to lie on the wrong plane.")  # fmt: skip
        raise SurveyError(problem) from None
