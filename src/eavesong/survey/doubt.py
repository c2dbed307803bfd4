"""What does not agree with the rest: data snooping (Baarda 1968).

A residual over its own standard deviation, which is smaller than the measure's by as much as the measure itself has
shaped the solution, is normal with variance 1 where nothing is wrong. Where one is beyond its critical value, those
with the largest are left out in turn; that without which the rest fits best is the wrong one, and the search goes on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from eavesong.survey.adjust import Adjusted, readjust
from eavesong.survey.known import FIELDS_OF, Floats, Indices, Known

CRITICAL = {"measures": 3.29, "clicks": 4.0, "on": 4.0, "same": 4.0, "along": 4.0}
"""Beyond these something is wrong: one time in a thousand by chance for a measure (two-sided normal, Baarda's own
choice); less often for what there is more of."""
POWER = 0.84
"""Standard deviations beyond a critical value for it to be passed in 8 of 10 cases (one-sided normal)."""
SUSPECT = 2.58
"""Beyond this, one time in a hundred by chance, a measure is told of but kept."""
UNCHECKED = 0.002
"""Share of its variance that the rest must hold against something; below, an error in it could not be seen."""
MOST_WRONG = 4
"""Things that are left out; beyond, it is not single things."""
LOOKED_AT = 5
"""How many measures, and how many others with all that is said of their points, are left out in turn."""
AS_WELL = 0.95
"""What helps this share of the best as much explains the disagreement as well."""
AS_LIKELY = 4.6
"""So does a thing of the same kind that takes away a sum of squares smaller by no more than this, if it would be
doubted by itself: the odds are less than 10 to 1. Two measures that check each other, and little else does, can hardly
be told apart (Förstner 1983, on the separability of model errors)."""
HOPELESS = 20_000.0
"""Times the misfit that chance brings from which on it is not single things: one click off by half the photo brings
less."""
LIKELIER = 0.85
"""A measure is doubted rather than a click or a statement where leaving it out helps this much as well: tapes are
misread, and a wrong measure shows in clicks too."""


@dataclass(frozen=True)
class Doubt:
    """Something that disagrees with the rest."""

    kind: str
    """One of ``measures``, ``clicks``, ``on``, ``same``, ``along``."""
    index: int
    """Which, in the order of what is known."""
    size: float
    """By how much: metres, or picture elements for a click; positive for a measure that is too long."""
    give: float
    """Standard deviation of that."""
    left_out: bool = True
    """Whether it was left out; else it only looks wrong."""
    instead: tuple[tuple[str, int], ...] = ()
    """Kinds and numbers of what would explain the disagreement as well."""


def smallest_seen(solution: Adjusted) -> Floats:
    """(m,) metres: the error of each measure that would be found in 8 of 10 cases; infinite where nothing checks it.

    Baarda's smallest detectable error: a residual beyond 3.29 with a power of 80 % over the root of the redundancy
    number.
    """
    rows = solution.misfit.rows_of["measures"][:, 0]
    used = np.einsum("ij,ij->i", solution.slope @ solution.covariance, solution.slope)[rows]
    return seen_from(used, solution.known.measure_give)


def seen_from(used: Floats, give: Floats) -> Floats:
    """Metres: the smallest error that would be found in 8 of 10 cases, in measures that ``give`` as much.

    ``used`` is the share of its variance by which a measure has shaped the solution, 1 less its redundancy number.
    """
    left = np.maximum(1 - used, 1e-12)
    return np.where(left > UNCHECKED, (CRITICAL["measures"] + POWER) * give / np.sqrt(left), np.inf)


def normalised(solution: Adjusted) -> Floats:
    """(r,) residuals over their own standard deviations; 0 for those nothing else checks."""
    slope = solution.slope
    used = np.einsum("ij,ij->i", slope @ solution.covariance, slope)
    left = np.maximum(1 - used, 0.0)
    return np.where(left > UNCHECKED, solution.residuals / np.sqrt(np.maximum(left, UNCHECKED)), 0.0)


def without_wrong(known: Known, solution: Adjusted) -> tuple[Adjusted, tuple[Doubt, ...]]:
    """The solution without what disagrees with the rest, and that, in the order it was found.

    Large errors bend the solution, so the linear figures alone would not always name the wrong one: the likely ones
    are left out in turn and all is solved again.
    """
    misfit, freedom = misfit_of(solution)
    if not misfit < HOPELESS * max(freedom, 1.0):
        return solution, ()
    wrong: dict[str, list[int]] = {kind: [] for kind in FIELDS_OF}
    here = solution
    found: list[tuple[tuple[str, int], tuple[tuple[str, int], ...]]] = []
    while len(found) < MOST_WRONG and (likely := _likely(known, here, wrong)):
        tried = {each: readjust(_left(known, wrong, each), here) for each in likely}
        gains = {each: (here.cost - one.cost) * (1 if each[0] == "measures" else LIKELIER)
                 for each, one in tried.items()}  # fmt: skip
        best = max(gains, key=lambda each: gains[each])
        if gains[best] < CRITICAL[best[0]] ** 2:
            break
        as_well = tuple(each for each in gains if each != best and _as_well(each, best, gains))
        here = tried[best]
        wrong[best[0]].append(best[1])
        found.append((best, as_well))
    if not found and (suspect := _suspect(known, here)) is not None:
        without = readjust(known.without("measures", [suspect]), here)
        return here, (replace(_doubted_measure(known, without, suspect), left_out=False),)
    return here, tuple(replace(_doubt(known, here, *best), instead=as_well) for best, as_well in found)


def _as_well(each: tuple[str, int], best: tuple[str, int], gains: dict[tuple[str, int], float]) -> bool:
    """Whether leaving out ``each`` explains the disagreement about as well as leaving out ``best``."""
    likely = gains[each] > max(gains[best] - AS_LIKELY, CRITICAL[each[0]] ** 2)
    return gains[each] > AS_WELL * gains[best] or (each[0] == best[0] and likely)


def _suspect(known: Known, solution: Adjusted) -> int | None:
    """The measure with the largest normalised residual, where that is hardly chance."""
    figures = np.abs(normalised(solution)[solution.misfit.rows_of["measures"][:, 0]])
    worst = int(np.argmax(figures))
    return worst if figures[worst] > SUSPECT else None


def _left(known: Known, wrong: dict[str, list[int]], also: tuple[str, int]) -> Known:
    for kind, which in wrong.items():
        known = known.without(kind, [*which, also[1]] if kind == also[0] else which)
    return known


def _likely(known: Known, solution: Adjusted, wrong: dict[str, list[int]]) -> list[tuple[str, int]]:
    """The things with the largest normalised residuals; empty where none is beyond its critical value."""
    figures: list[tuple[float, str, int]] = []
    size = np.abs(normalised(solution))
    for kind, rows in solution.misfit.rows_of.items():
        kept = np.setdiff1d(np.arange(len(rows) + len(wrong[kind])), wrong[kind])
        own = size[rows].max(axis=1) if len(rows) else np.zeros(0)
        figures += [(float(value), kind, int(index)) for value, index in zip(own, kept, strict=True)]
    figures.sort(reverse=True)
    if not any(value > CRITICAL[kind] for value, kind, _ in figures):
        return []
    measures = [(kind, index) for value, kind, index in figures if kind == "measures" and value > 2][:LOOKED_AT]
    others = [(kind, index) for value, kind, index in figures if kind != "measures" and value > 3][:LOOKED_AT]
    return list(dict.fromkeys([*measures, *others, *_said_of_their_points(known, others, wrong)]))


def _said_of_their_points(
    known: Known, things: list[tuple[str, int]], wrong: dict[str, list[int]]
) -> list[tuple[str, int]]:
    """Everything said of the points that ``things`` are about, and of those they are level with or stand above.

    A far wrong statement pulls the solution so far that its own residual is small and others' are not.
    """
    about = {point for kind, index in things for point in _points_of(known, kind, index)}
    tied = {int(point) for row in known.same[:, :2] if about & set(row.tolist()) for point in row}
    found = []
    for kind in ("on", "clicks", "same", "along"):
        count = len(getattr(known, FIELDS_OF[kind][0]))
        found += [(kind, index) for index in range(count) if index not in wrong[kind]
                  and set(_points_of(known, kind, index)) & (about | tied if kind == "on" else about)]  # fmt: skip
    return found


def _points_of(known: Known, kind: str, index: int) -> list[int]:
    """The points that something is about."""
    rows = {"measures": known.measure_ends, "clicks": known.click_point[:, None], "on": known.on[:, :1],
            "same": known.same[:, :2], "along": known.along}  # fmt: skip
    return [int(point) for point in rows[kind][index]]


def _doubt(known: Known, solution: Adjusted, kind: str, index: int) -> Doubt:
    """What something that was left out differs by from what the rest says."""
    if kind == "measures":
        return _doubted_measure(known, solution, index)
    if kind == "clicks":
        seen = solution.lens(int(known.click_view[index])).see(solution.points[[known.click_point[index]]])[0]
        return Doubt(kind, index, float(np.linalg.norm(known.clicks[index] - seen)), float(known.click_give[index]))
    if kind == "on":
        point, wall = known.on[index]
        return Doubt(kind, index, solution.off_wall(int(point), int(wall)), 0.0)
    if kind == "same":
        a, b, axis = known.same[index]
        return Doubt(kind, index, float(solution.points[a, axis] - solution.points[b, axis]), 0.0)
    a, b, c, d = known.along[index]
    one, two = solution.points[b] - solution.points[a], solution.points[d] - solution.points[c]
    longer = max(float(np.linalg.norm(one)), float(np.linalg.norm(two)), 1e-9)
    off = float(np.linalg.norm(np.cross(one, two))) / longer
    return Doubt(kind, index, off, 0.0)


def _doubted_measure(known: Known, solution: Adjusted, measure: int) -> Doubt:
    a, b = known.measure_ends[measure]
    length, spread = length_between(solution.points, solution.point_covariance, int(a), int(b))
    give = float(np.hypot(spread, known.measure_give[measure]))
    return Doubt("measures", measure, float(known.lengths[measure] - length), give)


def length_between(points: Floats, covariance: Floats, a: int, b: int) -> tuple[float, float]:
    """Metres from point ``a`` to ``b`` and their standard deviation; ``covariance`` (3n, 3n)."""
    apart = points[a] - points[b]
    length = float(np.linalg.norm(apart))
    ends: Indices = np.concatenate([3 * a + np.arange(3), 3 * b + np.arange(3)])
    along = np.concatenate([apart, -apart]) / max(length, 1e-9)
    variance = float(along @ covariance[np.ix_(ends, ends)] @ along)
    return length, max(variance, 0.0) ** 0.5


def misfit_of(solution: Adjusted) -> tuple[float, float]:
    """The sum of squared residuals of all that was observed or stated, and of their redundancy numbers.

    What is merely expected of lenses and distances is left out of both.
    """
    rows = np.concatenate([rows.ravel() for rows in solution.misfit.rows_of.values()])
    used = np.einsum("ij,ij->i", solution.slope @ solution.covariance, solution.slope)[rows]
    return float((solution.residuals[rows] ** 2).sum()), float(np.maximum(1 - used, 0.0).sum())


def likely_cost(freedom: float) -> float:
    """The sum of squares that chance exceeds one time in a thousand (chi squared; Wilson & Hilferty 1931)."""
    freedom = max(freedom, 1.0)
    return float(freedom * (1 - 2 / (9 * freedom) + 3.09 * np.sqrt(2 / (9 * freedom))) ** 3)
