"""How far a guess is from everything that is known, in standard deviations, and how that changes with the guess.

The unknowns stand in one vector: ten numbers for each view (logarithm of the focal length, radial term, a small turn,
place, optical centre), three for each wall (heading, pitch, offset) and three for each point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from eavesong.survey.camera import NEAREST, Lens, cross_matrix, small_turn
from eavesong.survey.known import FLAT, LENS, Floats, Indices, Known

OF_VIEW, OF_WALL, OF_POINT = 10, 3, 3
HELD = 1e-4
"""Metres the origin is held to."""
FARTHEST = 300.0
"""Metres: a weak pull of cameras and walls to within this keeps a guess from running away."""
AWAY, AWAY_SPREAD = 12.0, 1.5
"""Metres clicked points are from their camera, and the standard deviation of the logarithm of that, for all of a
photo together. It weighs nothing against any measure, but keeps what nothing holds from shrinking into the camera,
where every click is right."""


@dataclass(frozen=True, eq=False)
class Places:
    """Which entries of the vector of unknowns belong to what."""

    known: Known

    @property
    def walls_at(self) -> int:
        """Where the unknowns of walls begin, behind those of views."""
        return OF_VIEW * len(self.known.views)

    @property
    def points_at(self) -> int:
        """Where the unknowns of points begin, behind those of walls."""
        return self.walls_at + OF_WALL * len(self.known.walls)

    @property
    def count(self) -> int:
        """How many unknowns there are."""
        return self.points_at + OF_POINT * len(self.known.points)

    def view(self, view: int) -> slice:
        """The unknowns of a view."""
        return slice(OF_VIEW * view, OF_VIEW * (view + 1))

    def point(self, points: Indices) -> Indices:
        """(n, 3) entries of ``points`` (n,)."""
        entries: Indices = self.points_at + OF_POINT * np.asarray(points)[..., None] + np.arange(3)
        return entries

    def heading(self, wall: int) -> int:
        """The entry of a wall's heading: that of the wall it is like."""
        like = self.known.walls[wall].like
        return self.heading(like) if like is not None else self.walls_at + OF_WALL * wall

    def pitch(self, wall: int) -> int:
        """The place of the pitch of a wall, in radians."""
        return self.walls_at + OF_WALL * wall + 1

    def offset(self, wall: int) -> int:
        """The place of the offset of a wall, in metres."""
        return self.walls_at + OF_WALL * wall + 2

    def free(self) -> Indices:
        """The entries that are sought; the others are known for certain."""
        sought = np.ones(self.count, dtype=bool)
        for number, view in enumerate(self.known.views):
            if not view.centre_spread:
                sought[self.view(number)][8:] = False
        for number, wall in enumerate(self.known.walls):
            sought[self.walls_at + OF_WALL * number] = wall.like is None and (wall.heading is None or wall.tilted)
            sought[self.pitch(number)] = wall.pitch is None or wall.tilted
            sought[self.offset(number)] = wall.offset is None
        return np.flatnonzero(sought)


def normal(heading: float, pitch: float, tilted: bool) -> tuple[Floats, Floats, Floats]:
    """A wall's normal (3,) and its derivatives by heading and by pitch."""
    if tilted:  # the ground y = rise to the right * x + rise to the street * z
        return np.array([-heading, 1.0, -pitch]), np.array([-1.0, 0, 0]), np.array([0, 0, -1.0])
    ch, sh, cp, sp = np.cos(heading), np.sin(heading), np.cos(pitch), np.sin(pitch)
    return (
        np.array([sp * sh, cp, sp * ch]),
        np.array([sp * ch, 0.0, -sp * sh]),
        np.array([cp * sh, -sp, cp * ch]),
    )


class Misfit:
    """Residuals and their derivatives for one ``Known``, with the cameras' turns counted from ``turns``."""

    def __init__(self, known: Known, turns: list[Floats]) -> None:
        self.known, self.turns = known, turns
        self.at = Places(known)
        self.clicks_by_view = [np.flatnonzero(known.click_view == view) for view in range(len(known.views))]
        set_backs = [wall for wall in known.walls if wall.set_back]
        sizes = [
            2 * len(known.clicks), len(known.lengths), len(known.on), len(known.same), 3 * len(known.along),
            len(set_backs), 7 * len(known.views), len(known.walls), len(known.hold),
            len(known.clicks),
        ]  # fmt: skip
        ends = np.cumsum(sizes)
        self.rows = [np.arange(end - size, end) for end, size in zip(ends, sizes, strict=True)]
        self.count = int(ends[-1])

    @property
    def rows_of(self) -> dict[str, Indices]:
        """The rows (n, k) of every click, measure, statement about a wall, and line."""
        clicks, measures, on, same, along = self.rows[:5]
        return {
            "measures": measures[:, None], "clicks": clicks.reshape(-1, 2), "on": on[:, None], "same": same[:, None],
            "along": along.reshape(-1, 3),
        }  # fmt: skip

    def lens(self, unknowns: Floats, view: int) -> Lens:
        """The camera of a view."""
        of = unknowns[self.at.view(view)]
        return Lens(float(np.exp(of[0])), float(of[1]), small_turn(of[2:5])[0] @ self.turns[view], of[5:8], of[8:10])

    def points(self, unknowns: Floats) -> Floats:
        """(n, 3) metres."""
        return unknowns[self.at.points_at :].reshape(-1, 3)

    def of(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Residuals (r,) in standard deviations and their derivatives (r, unknowns)."""
        out, slope = np.zeros(self.count), np.zeros((self.count, self.at.count))
        points = self.points(unknowns)
        self._clicks(unknowns, points, out, slope)
        self._measures(points, out, slope)
        self._walls(unknowns, points, out, slope)
        self._same(points, out, slope)
        self._along(points, out, slope)
        self._set_backs(unknowns, out, slope)
        self._expected(unknowns, points, out, slope)
        return out, slope

    def _clicks(self, unknowns: Floats, points: Floats, out: Floats, slope: Floats) -> None:
        known = self.known
        for view, clicks in enumerate(self.clicks_by_view):
            if not len(clicks):
                continue
            rows = self.rows[0].reshape(-1, 2)[clicks]
            which = known.click_point[clicks]
            lens = self.lens(unknowns, view)
            seen, by_seen, by_lens = lens.slopes(points[which])
            give = known.click_give[clicks]
            out[rows] = (seen - known.clicks[clicks]) / give[:, None]
            by_place = by_seen @ lens.turn
            _, jacobian = small_turn(unknowns[self.at.view(view)][2:5])
            swung = -cross_matrix((points[which] - lens.place) @ lens.turn.T) @ jacobian
            own = np.concatenate(
                [by_lens, by_seen @ swung, -by_place, np.broadcast_to(np.eye(2), (len(rows), 2, 2))], 2
            )
            self._away(lens, points[which], clicks, swung, out, slope)
            first = self.at.view(view).start
            slope[rows[:, :, None], np.arange(first, first + OF_VIEW)] = own / give[:, None, None]
            slope[rows[:, :, None], self.at.point(which)[:, None]] = by_place / give[:, None, None]

    def _away(self, lens: Lens, points: Floats, clicks: Indices, swung: Floats, out: Floats, slope: Floats) -> None:
        """How far before the camera points are expected."""
        rows, view = self.rows[9][clicks], int(self.known.click_view[clicks[0]])
        depth = np.maximum(lens.depth(points), NEAREST)
        spread = AWAY_SPREAD * np.sqrt(len(clicks))
        out[rows] = np.log(depth / AWAY) / spread
        share = np.where(depth > NEAREST, 1 / depth, 1 / NEAREST)[:, None] / spread
        first = self.at.view(view).start
        slope[rows[:, None], first + 2 + np.arange(3)] = swung[:, 2] * share
        slope[rows[:, None], first + 5 + np.arange(3)] = -lens.turn[2] * share
        slope[rows[:, None], self.at.point(self.known.click_point[clicks])] = lens.turn[2] * share

    def _measures(self, points: Floats, out: Floats, slope: Floats) -> None:
        known, rows = self.known, self.rows[1]
        a, b = known.measure_ends.T
        apart = points[a] - points[b]
        length = np.linalg.norm(apart, axis=1)
        out[rows] = (length - known.lengths) / known.measure_give
        along = apart / np.maximum(length, 1e-9)[:, None] / known.measure_give[:, None]
        slope[rows[:, None], self.at.point(a)] = along
        slope[rows[:, None], self.at.point(b)] = -along

    def _walls(self, unknowns: Floats, points: Floats, out: Floats, slope: Floats) -> None:
        for wall, about in enumerate(self.known.walls):
            mine = np.flatnonzero(self.known.on[:, 1] == wall)
            rows, which = self.rows[2][mine], self.known.on[mine, 0]
            heading, pitch, offset = self.at.heading(wall), self.at.pitch(wall), self.at.offset(wall)
            n, by_heading, by_pitch = normal(unknowns[heading], unknowns[pitch], about.tilted)
            out[rows] = (points[which] @ n - unknowns[offset]) / about.flat
            slope[rows[:, None], self.at.point(which)] = n / about.flat
            slope[rows, heading] = points[which] @ by_heading / about.flat
            slope[rows, pitch] = points[which] @ by_pitch / about.flat
            slope[rows, offset] = -1 / about.flat

    def _same(self, points: Floats, out: Floats, slope: Floats) -> None:
        rows = self.rows[3]
        a, b, axis = self.known.same.T
        out[rows] = (points[a, axis] - points[b, axis]) / FLAT
        slope[rows, self.at.point(a)[np.arange(len(a)), axis]] = 1 / FLAT
        slope[rows, self.at.point(b)[np.arange(len(b)), axis]] = -1 / FLAT

    def _along(self, points: Floats, out: Floats, slope: Floats) -> None:
        """Parallel lines: the cross product of both directions, over the longer one's length."""
        rows = self.rows[4].reshape(-1, 3)
        a, b, c, d = self.known.along.T
        one, two = points[b] - points[a], points[d] - points[c]
        long_one, long_two = np.linalg.norm(one, axis=1), np.linalg.norm(two, axis=1)
        length = np.maximum(np.maximum(long_one, long_two), 1e-6)
        out[rows] = np.cross(one, two) / (length * FLAT)[:, None]
        scale = (length * FLAT)[:, None, None]
        # The longer line's own length stands below as well.
        shrink = out[rows][:, :, None] / (length**2)[:, None, None]
        by_one = (
            -cross_matrix(two) / scale - np.where(long_one >= long_two, 1, 0)[:, None, None] * shrink * one[:, None]
        )
        by_two = cross_matrix(one) / scale - np.where(long_one < long_two, 1, 0)[:, None, None] * shrink * two[:, None]
        for which, change in ((a, -by_one), (b, by_one), (c, -by_two), (d, by_two)):
            at = self.at.point(which)[:, None]
            np.add.at(slope, (rows[:, :, None], at), change)  # a point may stand in both lines

    def _set_backs(self, unknowns: Floats, out: Floats, slope: Floats) -> None:
        walls = [number for number, wall in enumerate(self.known.walls) if wall.set_back]
        for row, wall in zip(self.rows[5], walls, strict=True):
            about = self.known.walls[wall]
            assert about.set_back is not None
            assert about.like is not None
            metres, give = about.set_back
            own, other = self.at.offset(wall), self.at.offset(about.like)
            out[row] = (unknowns[other] - unknowns[own] - metres) / give
            slope[row, other], slope[row, own] = 1 / give, -1 / give

    def _expected(self, unknowns: Floats, points: Floats, out: Floats, slope: Floats) -> None:
        """What is expected of lenses, and weak pulls; the origin."""
        rows = self.rows[6].reshape(-1, 7)
        for view, about in enumerate(self.known.views):
            middle = np.array([np.log(about.focal), 0.0, 0.0, 0.0, 0.0, about.width / 2, about.height / 2])
            spread = np.array([about.focal_spread, LENS, *[FARTHEST] * 3, *[about.centre_spread or 1.0] * 2])
            at = self.at.view(view).start + np.array([0, 1, 5, 6, 7, 8, 9])
            out[rows[view]] = (unknowns[at] - middle) / spread
            slope[rows[view], at] = 1 / spread
        offsets = np.array([self.at.offset(wall) for wall in range(len(self.known.walls))], dtype=np.int64)
        out[self.rows[7]] = unknowns[offsets] / FARTHEST
        slope[self.rows[7], offsets] = 1 / FARTHEST
        axes = np.array(self.known.hold)
        out[self.rows[8]] = points[self.known.origin, axes] / HELD
        slope[self.rows[8], self.at.point(np.array(self.known.origin))[axes]] = 1 / HELD
