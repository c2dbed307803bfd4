"""A first solution: cameras' turns from lines, then all places at once by linear equations, then metres.

With turns and focal lengths settled, a click says that the point, less the camera's place, is along a known ray;
walls and lines are linear as well. The whole is one homogeneous system whose size the measures give.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import product

import numpy as np

from eavesong.survey.camera import Lens
from eavesong.survey.directions import Turn, level_pairs, turns_of, wall_heading
from eavesong.survey.known import Floats, Known
from eavesong.survey.misfit import Misfit, Places, normal

ROOF = np.radians(35.0)
"""Pitch a roof of unknown slope is begun with."""

MOST_WAYS = 10
"""Combinations of the cameras' turns whose places are computed."""
UNLIKELY = 60.0
"""A combination whose lines are off by this much more than the best's, in squares, is not looked at."""


@dataclass(frozen=True, eq=False)
class Start:
    """A guess: the unknowns, and the cameras' turns they are counted from."""

    unknowns: Floats
    turns: list[Floats]
    cost: float


def starts(known: Known) -> list[Start]:
    """Guesses to begin least squares from, the likeliest first."""
    by_view = [turns_of(known, view)[:6] for view in range(len(known.views))]
    ways = sorted(product(*by_view), key=lambda way: sum(turn.cost for turn in way))
    costs = [sum(turn.cost for turn in way) for way in ways]
    likely = [way for way, cost in zip(ways, costs, strict=True) if cost < costs[0] + UNLIKELY]
    found = [_solved(known, list(way)) for way in likely[:MOST_WAYS]]
    return sorted(found, key=lambda start: start.cost)


def _solved(known: Known, way: list[Turn]) -> Start:
    system = _System(known, way)
    unknowns = system.solve()
    misfit = Misfit(known, [turn.turn for turn in way])
    residuals, _ = misfit.of(unknowns)
    return Start(unknowns, misfit.turns, float(np.minimum(residuals**2, 1e4).sum()))


@dataclass
class _System:
    """The linear equations in cameras' places, walls' offsets and points."""

    known: Known
    way: list[Turn]
    rows: list[Floats] = field(default_factory=list)
    right: list[Floats] = field(default_factory=list)

    def __post_init__(self) -> None:
        known = self.known
        self.at = Places(known)
        self.base = np.zeros(self.at.count)
        self.lenses = []
        for number, (view, turn) in enumerate(zip(known.views, self.way, strict=True)):
            centre = np.array([view.width / 2, view.height / 2])
            self.base[self.at.view(number)][:2] = np.log(turn.focal), 0.0
            self.base[self.at.view(number)][8:] = centre
            self.lenses.append(Lens(turn.focal, 0.0, turn.turn, np.zeros(3), centre))
        for number, wall in enumerate(known.walls):
            self.base[self.at.pitch(number)] = ROOF if wall.pitch is None else wall.pitch
            if wall.like is None and not wall.tilted:
                self.base[self.at.heading(number)] = self._heading(number)
            self.base[self.at.offset(number)] = wall.offset or 0.0
        places = [self.at.view(number).start + 5 + np.arange(3) for number in range(len(known.views))]
        offsets = [self.at.offset(number) for number, wall in enumerate(known.walls) if wall.offset is None]
        self.sought = np.concatenate(
            [*places, np.array(offsets, dtype=int), np.arange(self.at.points_at, self.at.count)]
        )
        self.column = np.full(self.at.count, -1)
        self.column[self.sought] = np.arange(len(self.sought))

    def _heading(self, wall: int) -> float:
        """The wall's heading where it is known, else from its level lines: they lie in their planes of sight."""
        heading = wall_heading(self.known, wall)
        if heading is not None:
            return heading
        squares = np.zeros((2, 2))
        for a, b, on in level_pairs(self.known):
            if on != wall and self.known.walls[on].like != wall:
                continue
            for view, lens in enumerate(self.lenses):
                mine = {int(self.known.click_point[c]): c for c in np.flatnonzero(self.known.click_view == view)}
                if a in mine and b in mine:
                    one, two = lens.rays(self.known.clicks[[mine[a], mine[b]]])
                    across = np.cross(one, two)[[0, 2]]
                    squares += np.outer(across, across)
        if not squares.any():
            return 0.3
        x, z = np.linalg.eigh(squares)[1][:, 0]  # along = (x, 0, z) = (cos, 0, -sin)
        heading = float(np.arctan2(-z, x))
        return float(heading - np.pi * np.round(heading / np.pi))

    def solve(self) -> Floats:
        """All unknowns, in metres."""
        depths = np.ones(len(self.known.clicks))
        self._shape(depths, scale=1.0)
        self._depth_is(depths, weight=0.03)
        self._mean_depth()
        unknowns = self._best()
        for _ in range(3):
            unknowns = self._in_metres(unknowns)
        return unknowns

    def _in_metres(self, unknowns: Floats) -> Floats:
        """Once more, with depths known well enough to weigh clicks, and measures along their present direction."""
        known = self.known
        a, b = known.measure_ends.T
        points = unknowns[self.at.points_at :].reshape(-1, 3)
        apart = points[a] - points[b]
        lengths = np.maximum(np.linalg.norm(apart, axis=1), 1e-9)
        size = float(np.exp(np.median(np.log(known.lengths / lengths)))) if len(lengths) else 10.0
        depths = np.zeros(len(known.clicks))
        for view, lens in enumerate(self.lenses):
            mine = known.click_view == view
            place = unknowns[self.at.view(view)][5:8]
            depths[mine] = (points[known.click_point[mine]] - place) @ lens.turn[2] * size
        depths = np.clip(depths, 0.3, 200.0)
        self.rows, self.right = [], []
        self._shape(depths, scale=float(np.median(depths)))
        self._depth_is(depths, weight=0.003)
        row = np.zeros((len(lengths), self.at.count))
        along = apart / lengths[:, None] / 0.05
        row[np.arange(len(lengths))[:, None], self.at.point(a)] = along
        row[np.arange(len(lengths))[:, None], self.at.point(b)] = -along
        self._add(row, known.lengths / 0.05)
        self._set_backs()
        return self._best()

    def _add(self, rows: Floats, right: Floats | float = 0.0) -> None:
        self.rows.append(rows)
        self.right.append(np.broadcast_to(np.asarray(right, dtype=float), (len(rows),)))

    def _best(self) -> Floats:
        rows, right = np.concatenate(self.rows), np.concatenate(self.right)
        squares = rows[:, self.sought].T @ rows[:, self.sought]
        squares[np.diag_indices_from(squares)] += 1e-9
        unknowns = self.base.copy()
        unknowns[self.sought] = np.linalg.solve(squares, rows[:, self.sought].T @ (right - rows @ self._fixed()))
        return unknowns

    def _fixed(self) -> Floats:
        fixed = self.base.copy()
        fixed[self.sought] = 0.0
        fixed[: self.at.walls_at] = 0.0
        return fixed

    def _shape(self, depths: Floats, scale: float) -> None:
        """What is known but for its size; ``scale``: the typical depth in the unit of the solution."""
        known = self.known
        for view, lens in enumerate(self.lenses):
            mine = np.flatnonzero(known.click_view == view)
            rays = lens.rays(known.clicks[mine])
            one = np.cross(rays, [0.31, 0.83, 0.46])
            one /= np.linalg.norm(one, axis=1)[:, None]
            weight = (lens.focal / known.click_give[mine] / depths[mine] / 500)[:, None]
            for across in (one, np.cross(rays, one)):
                rows = np.zeros((len(mine), self.at.count))
                rows[np.arange(len(mine))[:, None], self.at.point(known.click_point[mine])] = across * weight
                rows[:, self.at.view(view).start + 5 + np.arange(3)] = -across * weight
                self._add(rows)
        firm = 300.0 / scale
        self._walls(firm)
        a, b, axis = known.same.T
        rows = np.zeros((len(a), self.at.count))
        rows[np.arange(len(a)), self.at.point(a)[np.arange(len(a)), axis]] = firm
        rows[np.arange(len(a)), self.at.point(b)[np.arange(len(a)), axis]] = -firm
        self._add(rows)
        rows = np.zeros((len(known.hold), self.at.count))
        rows[np.arange(len(known.hold)), self.at.point(np.array(known.origin))[list(known.hold)]] = firm
        self._add(rows)

    def _walls(self, firm: float) -> None:
        for wall, about in enumerate(self.known.walls):
            which = self.known.on[self.known.on[:, 1] == wall, 0]
            n, _, _ = normal(self.base[self.at.heading(wall)], self.base[self.at.pitch(wall)], about.tilted)
            weight = firm * (0.02 if about.pitch is None or about.tilted else 1.0)
            rows = np.zeros((len(which), self.at.count))
            rows[np.arange(len(which))[:, None], self.at.point(which)] = n * weight
            rows[:, self.at.offset(wall)] = -weight
            self._add(rows)

    def _set_backs(self) -> None:
        for wall, about in enumerate(self.known.walls):
            if about.set_back and about.like is not None:
                row = np.zeros((1, self.at.count))
                row[0, self.at.offset(about.like)], row[0, self.at.offset(wall)] = 30.0, -30.0
                self._add(row, 30.0 * about.set_back[0])

    def _depth_is(self, depths: Floats, weight: float) -> None:
        """A weak pull of every point to a depth, for those that nothing else holds."""
        self._add(self._depth_rows() * weight / depths[:, None], weight)

    def _mean_depth(self) -> None:
        self._add(self._depth_rows().mean(axis=0)[None] * 100, 100.0)

    def _depth_rows(self) -> Floats:
        """(c, unknowns): what gives each clicked point's depth before its camera."""
        known = self.known
        rows = np.zeros((len(known.clicks), self.at.count))
        for view, lens in enumerate(self.lenses):
            mine = np.flatnonzero(known.click_view == view)
            rows[mine[:, None], self.at.point(known.click_point[mine])] = lens.turn[2]
            rows[mine[:, None], self.at.view(view).start + 5 + np.arange(3)] = -lens.turn[2]
        return rows
