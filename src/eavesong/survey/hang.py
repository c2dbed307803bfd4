"""Props on their points: what the layout says of each, and how sure every number is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from eavesong.survey.anchors import Hung
from eavesong.survey.known import UPRIGHT, Floats
from eavesong.survey.read import Read
from eavesong.survey.solution import SURE, Solution, radius
from eavesong.survey.tape import Size

Values = dict[str, Floats]
"""Metres, and degrees for ``rotate``, by the layout's keys; each an array of any length."""

LEVEL = 2.0
"""Degrees of turn that are left out where they are within their own error."""


@dataclass(frozen=True, eq=False)
class Placed:
    """One prop as the layout has it."""

    prop: Hung
    values: Values
    gives: dict[str, float]
    """Metres (degrees for ``rotate``) within which each is, 95 of 100."""

    @property
    def kept(self) -> dict[str, Any]:
        """What was written of the prop besides its points, by the layout's keys; lengths are sizes."""
        hung = set(self.prop.anchors_keys()) | {"name", "shape", "tags", "repeat"}
        written = {key: getattr(self.prop, key) for key in type(self.prop).model_fields if key not in hung}
        asked = {
            key: value for key, value in written.items() if key in self.prop.model_fields_set and value is not None
        }
        return {("pitch" if key == "spacing" else key): value for key, value in asked.items()}


def hang(read: Read, solution: Solution) -> list[Placed]:
    """Every prop of the survey, placed."""
    return [_placed(read, solution, prop) for prop in read.survey.prop]


def _placed(read: Read, solution: Solution, prop: Hung) -> Placed:
    numbers = {name: index for index, name in enumerate(solution.known.points)}
    names = list(dict.fromkeys([*prop.anchors(), *([prop.repeat.last] if prop.repeat and prop.repeat.last else [])]))
    points = np.array([numbers[name] for name in names])
    facing = _facing(solution, int(points[0]))
    units = read.survey.units

    def of(places: Floats) -> Values:
        """The keys of the prop at these places (n, 3) of its points."""
        where = dict(zip(names, places, strict=True))
        values = SHAPES[prop.shape](prop, where, facing)
        if prop.repeat:
            values["step"] = _step(prop, where, units)
        return values

    here = solution.points[points]
    values = of(here)
    entries = (3 * points[:, None] + np.arange(3)).ravel()
    covariance = solution.covariance[np.ix_(entries, entries)]
    gives = {key: _give(lambda places, key=key: of(places)[key], here, covariance) for key in values}  # type: ignore[misc]
    return Placed(prop, values, gives)


def _give(of: Callable[[Floats], Floats], places: Floats, covariance: Floats) -> float:
    """How sure a value is: its covariance by differences of a millimetre, as a radius that holds 95 of 100."""
    base = np.atleast_2d(of(places))
    slope = np.zeros((base.size, places.size))
    for entry in range(places.size):
        moved = places.copy()
        moved.flat[entry] += 1e-3
        slope[:, entry] = (np.atleast_2d(of(moved)) - base).ravel() / 1e-3
    if base.ndim == 2 and base.shape[0] > 1:  # several places: the least sure of them
        return max(
            radius(part @ covariance @ part.T) for part in slope.reshape(base.shape[0], base.shape[1], places.size)
        )
    if base.size == 1:
        return float(SURE * np.sqrt(max(float((slope @ covariance @ slope.T)[0, 0]), 0.0)))
    return radius(slope @ covariance @ slope.T)


def _facing(solution: Solution, point: int) -> float:
    """Degrees to the right that something on a point faces: as its wall does, else the street."""
    for other, wall in solution.known.on.tolist():
        if other == point and solution.known.walls[wall].pitch == UPRIGHT:
            return float(np.degrees(solution.adjusted.heading(wall)))
    return 0.0


def turns(right: Floats, up: Floats) -> Floats:
    """Degrees (x, y, z) of the layout's ``rotate`` that turn own x to ``right`` (3,) and own y nearest to ``up``."""
    right = right / np.linalg.norm(right)
    up = up - right * (up @ right)
    up = up / np.linalg.norm(up)
    front = np.cross(right, up)
    matrix = np.stack([right, up, front], axis=1)
    x = -np.arcsin(np.clip(matrix[1, 2], -1, 1))
    return np.degrees([x, np.arctan2(matrix[0, 2], matrix[2, 2]), np.arctan2(matrix[1, 0], matrix[1, 1])])


UP = np.array([0.0, 1.0, 0.0])
Where = dict[str, Floats]


def _spot(prop: Any, where: Where, facing: float) -> Values:
    return {"at": where[prop.where]}


def _line(prop: Any, where: Where, facing: float) -> Values:
    return {"from": where[prop.start_point], "to": where[prop.end_point]}


def _polyline(prop: Any, where: Where, facing: float) -> Values:
    return {"points": np.array([where[name] for name in prop.points])}


def _arch(prop: Any, where: Where, facing: float) -> Values:
    left, right = (where[name] for name in prop.feet)
    values = _between(left, right)
    if prop.crown is not None:
        values["height"] = np.array([np.linalg.norm(where[prop.crown] - values["at"])])
    return values


def _between(left: Floats, right: Floats) -> Values:
    across = right - left
    return {"at": (left + right) / 2, "width": np.array([np.linalg.norm(across)]), "rotate": turns(across, UP)}


def _hung(prop: Any, where: Where, facing: float) -> Values:
    return {"at": where[prop.centre], "rotate": np.array([0.0, facing, 0.0])}


def _ball(prop: Any, where: Where, facing: float) -> Values:
    return {"at": where[prop.centre]}


def _stands(prop: Any, where: Where, facing: float) -> Values:
    values = {"at": where[prop.foot]}
    if prop.tip is not None:
        values["height"] = np.array([np.linalg.norm(where[prop.tip] - where[prop.foot])])
    return values


def _sheet(prop: Any, where: Where, facing: float) -> Values:
    low_left, low_right, top_right, top_left = (where[name] for name in prop.corners)
    across = low_right - low_left + top_right - top_left
    up = top_left - low_left + top_right - low_right
    wide = (np.linalg.norm(low_right - low_left) + np.linalg.norm(top_right - top_left)) / 2
    tall = (np.linalg.norm(top_left - low_left) + np.linalg.norm(top_right - low_right)) / 2
    return {
        "at": (low_left + low_right) / 2, "width": np.array([wide]), "height": np.array([tall]),
        "rotate": turns(across, up),
    }  # fmt: skip


def _edge(prop: Any, where: Where, facing: float) -> Values:
    return _between(where[prop.start_point], where[prop.end_point])


def _step(prop: Hung, where: Where, units: str) -> Floats:
    """From each member of a row to the next, metres."""
    assert prop.repeat is not None
    if prop.repeat.last is not None:
        step: Floats = (where[prop.repeat.last] - where[prop.anchors()[0]]) / (prop.repeat.count - 1)
        return step
    assert prop.repeat.step is not None
    return np.array([size.metres(units) for size in prop.repeat.step])


SHAPES: dict[str, Callable[[Any, Where, float], Values]] = {
    "spot": _spot, "line": _line, "polyline": _polyline, "arch": _arch, "ring": _hung, "rectangle": _sheet,
    "cane": _stands, "star": _hung, "spokes": _hung, "grid": _sheet, "cone": _stands, "helix": _stands,
    "sphere": _ball, "icicles": _edge,
}  # fmt: skip
"""What each shape takes from its points."""


def metres_of(value: Any, units: str) -> Any:
    """A kept value with its sizes in the file's units."""
    from eavesong.words import METRES

    if isinstance(value, Size):
        return value.metres(units) / METRES[units]
    if isinstance(value, tuple):
        return [metres_of(each, units) for each in value]
    return value
