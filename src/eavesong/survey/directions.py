"""How each camera is turned, from lines whose direction in the house is known: the vanishing points.

A line of the house and the camera span a plane; the line's direction lies in it (Caprile & Torre 1990; Hartley &
Zisserman 2004, 8.6). Turning the camera and choosing its focal length so that this holds for all lines at once is a
fit of four numbers, tried from several sides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from eavesong.survey.camera import Lens, turned
from eavesong.survey.known import UPRIGHT, Floats, Known, Wall

YAWS = np.radians([-60.0, -25.0, 0.0, 25.0, 60.0])
"""Turns a fit begins from."""

TILTED, ROLLED = np.radians(15.0), np.radians(5.0)
"""Standard deviations of a hand-held camera's pitch and roll (from memory of our own pictures); weak beside lines."""

SURE = 0.08
"""Standard deviation of the logarithm of a focal length that lines have settled."""

FOCALS = (0.6, 0.8, 1.25, 1.6)
"""Shares of the expected focal length that are tried as well where lines do not settle it."""


@dataclass(frozen=True)
class Turn:
    """A way a camera may be turned."""

    focal: float
    turn: Floats
    """(3, 3): house axes to camera axes."""
    cost: float
    """Sum of the squares of what lines and expectations are off by, in standard deviations."""


def along_wall(heading: float) -> Floats:
    """The level direction (3,) along a wall."""
    return np.array([np.cos(heading), 0.0, -np.sin(heading)])


def wall_heading(known: Known, wall: int) -> float | None:
    """The heading of a wall, that of the wall it is like; None where it is unknown."""
    about = known.walls[wall]
    return wall_heading(known, about.like) if about.like is not None else about.heading


def is_ground(wall: Wall) -> bool:
    """Whether it is level."""
    return wall.pitch == 0.0


def level_pairs(known: Known) -> Iterator[tuple[int, int, int]]:
    """Pairs of points on a level line along a wall, and the wall."""
    walls_of: dict[int, set[int]] = {}
    for point, wall in known.on.tolist():
        walls_of.setdefault(point, set()).add(wall)
    level = {(min(a, b), max(a, b)) for a, b, axis in known.same.tolist() if axis == 1}
    for a, b in combinations(sorted(walls_of), 2):
        shared = walls_of[a] & walls_of[b]
        standing = [wall for wall in sorted(shared) if not is_ground(known.walls[wall])]
        upright = [wall for wall in standing if known.walls[wall].pitch == UPRIGHT]
        grounded = any(is_ground(known.walls[wall]) and not known.walls[wall].tilted for wall in shared)
        if standing and ((a, b) in level or grounded or (upright and len(standing) > 1)):
            yield a, b, (upright or standing)[0]


def upright_pairs(known: Known) -> Iterator[tuple[int, int]]:
    """Pairs of points straight above each other."""
    axes: dict[tuple[int, int], set[int]] = {}
    for a, b, axis in known.same.tolist():
        axes.setdefault((a, b), set()).add(axis)
    return (pair for pair, same in axes.items() if {0, 2} <= same)


def _segments(known: Known, view: int) -> tuple[Floats, Floats, Floats]:
    """Pixel places (s, 2, 2) of segments of known direction in a view, the directions (s, 3) and the gives (s,)."""
    mine = np.flatnonzero(known.click_view == view)
    click_of = {int(known.click_point[click]): int(click) for click in mine}
    found: list[tuple[int, int, Floats]] = [(a, b, np.array([0.0, 1.0, 0.0])) for a, b in upright_pairs(known)]
    for a, b, wall in level_pairs(known):
        heading = wall_heading(known, wall)
        if heading is not None:
            found.append((a, b, along_wall(heading)))
    found = [entry for entry in found if entry[0] in click_of and entry[1] in click_of]
    if not found:
        return np.zeros((0, 2, 2)), np.zeros((0, 3)), np.zeros(0)
    ends = np.array([[click_of[a], click_of[b]] for a, b, _ in found])
    return known.clicks[ends], np.array([along for _, _, along in found]), known.click_give[ends].max(axis=1)


def turns_of(known: Known, view: int) -> list[Turn]:
    """Ways the camera of ``view`` may be turned, the likeliest first; never empty."""
    about = known.views[view]
    ends, along, give = _segments(known, view)
    found: list[Turn] = []
    for yaw in YAWS:
        found += _fit(known, view, (ends, along, give), np.array([yaw, 0.0, 0.0, np.log(about.focal)]))
    found.sort(key=lambda turn: turn.cost)
    before = [turn for turn in found if turn.turn[2, 2] < 0]  # the same house seen from behind fits just as well
    return _distinct(before or found)


def _fit(known: Known, view: int, segments: tuple[Floats, Floats, Floats], start: Floats) -> list[Turn]:
    from scipy.optimize import least_squares

    about = known.views[view]
    ends, along, give = segments
    centre = np.array([about.width / 2, about.height / 2])
    blur = np.sqrt(2) * give / np.maximum(np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1), 4 * give)

    def misfit(x: Floats) -> Floats:
        """Misfits of the lens that ``x`` stands for: of every line, then of what is expected beforehand."""
        lens = Lens(float(np.exp(x[3])), 0.0, turned(*x[:3]), np.zeros(3), centre)
        one, two = lens.rays(ends[:, 0]), lens.rays(ends[:, 1])
        across = np.cross(one, two)
        across /= np.maximum(np.linalg.norm(across, axis=1), 1e-12)[:, None]
        lines = (across * along).sum(axis=1) / blur
        expected = [x[1] / TILTED, x[2] / ROLLED, (x[3] - np.log(about.focal)) / about.focal_spread]
        return np.concatenate([lines, expected])

    done = least_squares(misfit, start, method="lm", x_scale=np.array([0.3, 0.1, 0.03, 0.1]), max_nfev=150)
    turns = [Turn(float(np.exp(done.x[3])), turned(*done.x[:3]), 2 * float(done.cost))]
    squares = done.jac.T @ done.jac + 1e-9 * np.eye(4)
    if np.linalg.inv(squares)[3, 3] > SURE**2 and not about.focal_told:
        turns += [Turn(about.focal * share, turned(*done.x[:3]), 2 * float(done.cost) + 2) for share in FOCALS]
    return turns


def _distinct(turns: list[Turn]) -> list[Turn]:
    """Without those that hardly differ from a likelier one."""
    kept: list[Turn] = []
    for turn in turns:
        if all(
            abs(np.log(turn.focal / other.focal)) > 0.05
            or np.trace(turn.turn @ other.turn.T) < 1 + 2 * np.cos(np.radians(4))
            for other in kept
        ):
            kept.append(turn)
    return kept
