"""Least squares over cameras, walls and points together, from several starts; the covariance of the result."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from eavesong.survey.camera import Lens, small_turn
from eavesong.survey.known import Floats, Known
from eavesong.survey.misfit import OF_VIEW, Misfit, normal
from eavesong.survey.start import Start, starts

TRIED = 4
"""Starts from which least squares begins."""
GLANCE = 12
"""Evaluations of each before the better ones go on."""
LONGEST = 100
"""Evaluations at most; a survey that fits takes some twenty."""
SAME = 1e-4
"""Share of the sum of squares within which two solutions are the same one."""


@dataclass(frozen=True, eq=False)
class Adjusted:
    """The unknowns that fit best and how sure they are."""

    known: Known
    unknowns: Floats
    turns: list[Floats]
    cost: float
    """Sum of squared residuals in standard deviations."""
    residuals: Floats
    slope: Floats
    """(r, u) derivatives of the residuals by all unknowns."""
    covariance: Floats
    """(u, u) of all unknowns; 0 for those that are known for certain."""

    @property
    def misfit(self) -> Misfit:
        """The misfit that was made small."""
        return Misfit(self.known, self.turns)

    def lens(self, view: int) -> Lens:
        """The camera of a view."""
        return self.misfit.lens(self.unknowns, view)

    @property
    def points(self) -> Floats:
        """(n, 3) metres."""
        return self.misfit.points(self.unknowns)

    def off_wall(self, point: int, wall: int) -> float:
        """Metres by which a point stands before a wall, or above a roof or the ground."""
        return self.off_place(self.points[point], wall)

    def off_place(self, place: Floats, wall: int) -> float:
        """The same of any place (3,)."""
        at, about = self.misfit.at, self.known.walls[wall]
        n, _, _ = normal(self.unknowns[at.heading(wall)], self.unknowns[at.pitch(wall)], about.tilted)
        return float(place @ n - self.unknowns[at.offset(wall)])

    def heading(self, wall: int) -> float:
        """Radians a wall is turned to the right."""
        return float(self.unknowns[self.misfit.at.heading(wall)])

    @property
    def point_covariance(self) -> Floats:
        """(3n, 3n) square metres."""
        first = self.misfit.at.points_at
        return self.covariance[first:, first:]


def adjust(known: Known) -> list[Adjusted]:
    """Local solutions that differ, the best first."""
    glances = [_descended(known, start, GLANCE) for start in starts(known)[:TRIED]]
    glances.sort(key=lambda start: start.cost)
    done: list[Start] = []
    for glance in glances:
        if len(done) < 2 and all(abs(glance.cost - other.cost) > SAME * (1 + other.cost) for other in done):
            done.append(_descended(known, glance, LONGEST))
    done.sort(key=lambda start: start.cost)
    return [finished(known, start) for start in done]


def readjust(known: Known, before: Adjusted) -> Adjusted:
    """The solution of something a little different, begun from ``before``."""
    return finished(known, _descended(known, Start(before.unknowns, before.turns, 0.0), 60))


def pushed(best: Adjusted, way: Floats, push: float) -> Adjusted:
    """The best solution among those whose points are ``push`` metres along ``way`` (3n,) from those of ``best``.

    Its cost is without the push; its slope and covariance are those of the place it was pushed to.
    """
    hold = _Hold(best.misfit.at.points_at, way, float(way @ best.points.ravel()) + push)
    straight = best.covariance[:, hold.first :] @ way * (push / float(way @ best.point_covariance @ way))
    start = _descended(best.known, Start(best.unknowns + straight, best.turns, 0.0), 30, hold)
    residuals, _ = Misfit(best.known, start.turns).of(start.unknowns)
    return finished(best.known, Start(start.unknowns, start.turns, float(residuals @ residuals)))


@dataclass(frozen=True, eq=False)
class _Hold:
    """Something all points together are held to: ``way`` times points is ``value``."""

    first: int
    way: Floats
    value: float

    def row(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """The residual (1,) and its derivatives (1, u); it is held to a tenth of a millimetre."""
        slope = np.zeros((1, len(unknowns)))
        slope[0, self.first :] = self.way / 1e-4
        return np.array([(float(self.way @ unknowns[self.first :]) - self.value) / 1e-4]), slope


def _descended(known: Known, start: Start, most: int, hold: _Hold | None = None) -> Start:
    from scipy.optimize import least_squares

    misfit = Misfit(known, start.turns)
    free = misfit.at.free()
    unknowns = start.unknowns.copy()
    memory: dict[bytes, tuple[Floats, Floats]] = {}

    def evaluated(x: Floats) -> tuple[Floats, Floats]:
        """Misfits and their slopes at the free unknowns, kept for the next call with the same."""
        if (key := x.tobytes()) not in memory:
            memory.clear()
            unknowns[free] = x
            out, slope = misfit.of(unknowns)
            if hold is not None:
                more, more_slope = hold.row(unknowns)
                out, slope = np.concatenate([out, more]), np.concatenate([slope, more_slope])
            memory[key] = out, slope[:, free]
        return memory[key]

    done = least_squares(
        lambda x: evaluated(x)[0], unknowns[free], lambda x: evaluated(x)[1],
        method="lm", x_scale="jac", max_nfev=most, xtol=1e-9, ftol=1e-9,
    )  # fmt: skip
    unknowns[free] = done.x
    return _recentred(misfit, unknowns, 2 * float(done.cost))


def _recentred(misfit: Misfit, unknowns: Floats, cost: float) -> Start:
    """The same with the cameras' small turns taken into their turns."""
    unknowns, turns = unknowns.copy(), []
    for view, turn in enumerate(misfit.turns):
        small = unknowns[misfit.at.view(view)][2:5]
        turns.append(small_turn(small)[0] @ turn)
        unknowns[OF_VIEW * view + 2 : OF_VIEW * view + 5] = 0.0
    return Start(unknowns, turns, cost)


def finished(known: Known, start: Start) -> Adjusted:
    """With residuals and covariance: the inverse of the normal equations."""
    misfit = Misfit(known, start.turns)
    residuals, slope = misfit.of(start.unknowns)
    free = misfit.at.free()
    own = slope[:, free]
    scale = np.maximum(np.sqrt((own**2).sum(axis=0)), 1e-12)
    own = own / scale
    squares = own.T @ own
    inverse = np.linalg.pinv(squares, hermitian=True, rcond=1e-15) / np.outer(scale, scale)
    covariance = np.zeros((misfit.at.count, misfit.at.count))
    covariance[np.ix_(free, free)] = inverse
    return Adjusted(known, start.unknowns, start.turns, start.cost, residuals, slope, covariance)
