"""Whether the error bars can be believed: a walk along the longest of them, and a look at other solutions.

The covariance is that of a straight world. Where focal length and depth trade against each other, or a roof is seen
at a grazing angle, the valley of good solutions bends. So the solution is pushed along the direction it knows least,
everything else following; what the misfit and the points do on the way says how true the bars are, and where they are
not, the spread of the walked solutions, weighted by how well they fit, takes their place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from eavesong.survey.adjust import Adjusted, pushed
from eavesong.survey.known import Floats

GLANCED = (-2.0, 2.0)
"""Standard errors to either side at which it is seen whether the valley bends."""
WALKED = (-3.0, -2.25, -1.5, -0.75, 0.75, 1.5, 2.25, 3.0)
STRAIGHT = 0.15
"""Share of a bar by which the walked points may miss a straight line, and share of the misfit likewise."""
SHORT = 0.02
"""Metres: where the longest bar's standard error is below this, nothing can bend that matters."""
AS_GOOD = 9.0
"""Another solution counts that has a sum of squares larger by no more than this (three standard errors)."""


@dataclass(frozen=True, eq=False)
class Trust:
    """The covariance of the points to be told, and why."""

    covariance: Floats
    """(3n, 3n) square metres."""
    bent: float
    """How far the valley is from straight, as a share of a bar; 0 where it was not walked."""
    another: float
    """Metres by which a point stands elsewhere in another solution that fits as well; 0 where there is none."""


def trust(best: Adjusted, others: list[Adjusted]) -> Trust:
    """How far the covariance of ``best`` is to be believed; ``others`` are further local solutions."""
    covariance, bent = _walked(best)
    another = 0.0
    for other in others:
        apart = other.points - best.points
        bars = np.sqrt(np.maximum(np.diag(covariance), 0)).reshape(-1, 3)
        if other.cost - best.cost < AS_GOOD and (np.abs(apart) > 2 * bars + 0.02).any():
            share = 1 / (1 + np.exp((other.cost - best.cost) / 2))
            covariance = covariance + share * np.outer(apart.ravel(), apart.ravel())
            another = max(another, float(np.linalg.norm(apart, axis=1).max()))
    return Trust(covariance, bent, another)


def _walked(best: Adjusted) -> tuple[Floats, float]:
    covariance = best.point_covariance
    sizes, ways = np.linalg.eigh(covariance)
    size, way = float(np.sqrt(max(sizes[-1], 0.0))), ways[:, -1]
    if size < SHORT:
        return covariance, 0.0
    glanced = [pushed(best, way, step * size) for step in GLANCED]
    bent = max(_bend(best, one, way, step * size, step) for one, step in zip(glanced, GLANCED, strict=True))
    if bent < STRAIGHT:
        return covariance, bent
    return _spread(best, way, size), bent


def _bend(best: Adjusted, one: Adjusted, way: Floats, push: float, step: float) -> float:
    """By what share of its bar a point misses the straight line, or the misfit its parabola."""
    bars = np.sqrt(np.maximum(np.diag(best.point_covariance), 1e-6))
    straight = best.point_covariance @ way * push / float(way @ best.point_covariance @ way)
    missed = np.abs((one.points - best.points).ravel() - straight) / bars / abs(step)
    return max(float(missed.max()), abs((one.cost - best.cost) / step**2 - 1))


def _spread(best: Adjusted, way: Floats, size: float) -> Floats:
    """The second moment of the points about the best ones, over the walk."""
    walked = [(0.0, best)] + [(step, pushed(best, way, step * size)) for step in WALKED]
    # Laplace's approximation across the walk: how well each fits, times the room round it.
    logs = np.array([-(one.cost - best.cost) / 2 + _room(one, best) for _, one in walked])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    total = np.zeros_like(best.point_covariance)
    for weight, (_, one) in zip(weights, walked, strict=True):
        across = _across(one, way)
        apart = (one.points - best.points).ravel()
        total += weight * (across + np.outer(apart, apart))
    # Never less than the straight world says.
    grown = np.maximum(np.sqrt(np.diag(best.point_covariance) / np.maximum(np.diag(total), 1e-12)), 1.0)
    return np.asarray(total * np.outer(grown, grown))


def _across(one: Adjusted, way: Floats) -> Floats:
    """The covariance of the points when the walked direction is held."""
    covariance = one.point_covariance
    along = covariance @ way
    return covariance - np.outer(along, along) / max(float(way @ along), 1e-12)


def _room(one: Adjusted, best: Adjusted) -> float:
    """Half the logarithm of how much more room there is round ``one`` than round ``best``."""
    free = best.misfit.at.free()
    rooms = [np.linalg.slogdet(each.slope[:, free].T @ each.slope[:, free])[1] for each in (one, best)]
    return float(np.clip((rooms[1] - rooms[0]) / 2, -3.0, 3.0))
