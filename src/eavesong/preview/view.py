"""Where a house is seen from: metres to picture elements.

An eye looks straight ahead, and the picture is shifted until the house lies in it, as a view camera does it: uprights
stay upright, however close the eye stands (central projection; Hartley & Zisserman 2004, 6.1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import MisfitError, nearest
from eavesong.scene.sight import Sight, Standpoint

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

MARGIN = 0.05
"""Share of the picture's width left free on either side of the house."""
SKY = 0.10
"""Share of the picture's height left free above it."""
GROUND = 0.09
"""Share of the picture's height left free below what is lowest."""
WIDE, TALL = 0.40, 0.36
"""Tangents of the angles to the side and upwards within which an eye in the street sees all of the house."""
NEAREST = 4.0
"""Metres from it to the nearest light, at least."""
AROUND, AFAR = 3.2, 60.0
"""Half diagonals of the house from its middle to an eye that goes round it, and to one that sees it flat."""
HIDDEN = 0.3
"""Metres before the eye within which nothing is drawn."""


@dataclass(frozen=True)
class View:
    """Where somebody stands: in the ``street``, or ``turn`` degrees to the right of it and ``rise`` above it."""

    turn: float = 0.0
    rise: float = 0.0
    street: bool = False
    flat: bool = False
    """Seen from so far away that nothing is smaller than what is nearer, as on a drawing."""

    @property
    def level(self) -> bool:
        """Whether the eye is no higher than the house, so that its lowest lights stand near the picture's foot."""
        return self.rise < 2

    def axes(self) -> Floats:
        """(3, 3): the directions to the right, upwards and towards the eye, in metres of the house."""
        turn, rise = math.radians(self.turn), math.radians(self.rise)
        right = (math.cos(turn), 0.0, -math.sin(turn))
        up = (-math.sin(turn) * math.sin(rise), math.cos(rise), -math.cos(turn) * math.sin(rise))
        towards = (math.sin(turn) * math.cos(rise), math.sin(rise), math.cos(turn) * math.cos(rise))
        return np.array([right, up, towards])


STREET, FRONT = View(street=True), View(flat=True)
VIEWS = {"street": STREET, "corner": View(32.0, 24.0), "plan": View(0.0, 90.0, flat=True), "front": FRONT}
"""From the street, from above one corner, from above with the street below, and flat from ahead."""


def parse_view(text: str) -> View:
    """The view called ``text``, or ``TURN,RISE`` in degrees. Raises MisfitError for anything else."""
    if text in VIEWS:
        return VIEWS[text]
    try:
        turn, rise = (float(part) for part in text.split(","))
    except ValueError:
        close = nearest(text, VIEWS)
        hint = f"Did you mean '{close}'?" if close else f"Write {', '.join(VIEWS)}, or TURN,RISE in degrees: 30,15."
        raise MisfitError(f"'{text}' is no view", hint) from None
    if not (-360 <= turn <= 360 and 0 <= rise <= 90):
        raise MisfitError(f"'{text}' looks from nowhere", "Turn by -360 to 360 and rise by 0 to 90 degrees.")
    return View(turn, rise)


@dataclass(frozen=True, eq=False)
class Projection:
    """How metres come to a picture of a given size."""

    eye: Floats
    """(3,) metres."""
    axes: Floats
    """(3, 3): to the right, upwards, and towards the eye."""
    focal: float
    """Picture elements."""
    centre: tuple[float, float]
    """Column and row straight ahead of the eye."""
    bend: float = 0.0
    """The radial term of a photo's lens."""

    def depth(self, metres: NDArray[np.generic]) -> Floats:
        """Metres (n,) before the eye of places (n, 3)."""
        return np.asarray(-(np.asarray(metres, np.float64) - self.eye) @ self.axes[2])

    def place(self, metres: NDArray[np.generic]) -> tuple[Singles, Singles]:
        """Columns and rows (n,) of places (n, 3); far outside for what is not before the eye."""
        flat, depth = slopes(self.eye, self.axes, metres)
        bent = flat * (1 + self.bend * (flat**2).sum(axis=1))[:, None]
        columns, rows = self.centre[0] + bent[:, 0] * self.focal, self.centre[1] - bent[:, 1] * self.focal
        seen = depth > HIDDEN
        return np.where(seen, columns, -1e4).astype(np.float32), np.where(seen, rows, -1e4).astype(np.float32)

    @property
    def horizon(self) -> float:
        """Row of the horizon: below it lies the ground. Minus infinity for an eye that looks straight down."""
        ahead = -self.axes[2]
        level = float(np.hypot(ahead[0], ahead[2]))
        return self.centre[1] + self.focal * ahead[1] / level if level > 1e-6 else -math.inf


def slopes(eye: Floats, axes: Floats, metres: NDArray[np.generic]) -> tuple[Floats, Floats]:
    """How far to the right and up places (n, 3) are seen, in metres at one metre away (n, 2), and how deep (n,)."""
    seen = (np.asarray(metres, np.float64) - eye) @ axes.T
    depth = -seen[:, 2]
    return seen[:, :2] / np.where(np.abs(depth) > 1e-6, depth, 1e-6)[:, None], depth


def project(
    metres: NDArray[np.float32],
    size: tuple[int, int],
    view: View = STREET,
    sight: Sight | None = None,
    front: float | None = None,
) -> Projection:
    """The projection that brings the whole house into a picture of ``size`` (width, height).

    metres: (n, 3) the lights. sight: what the layout says of ground and street. front: z of the lights on the walls,
    from which the street is measured; the middle of all lights if not given.
    """
    sight = sight or Sight()
    places = metres.astype(np.float64)
    ground = ground_below(places, sight)
    axes = view.axes()
    eye = _eye(places, view, axes, ground, sight.standpoint, front)
    flat, depth = slopes(eye, axes, places)
    seen = flat[depth > HIDDEN] if (depth > HIDDEN).any() else flat
    if view.level and not view.flat:
        foot = np.array([[eye[0], ground, min(places[:, 2].max(), eye[2] - 1.0)]]) if view.street else places[:1]
        seen = np.concatenate([seen, slopes(eye, axes, foot)[0] if view.street else seen[:1]])
    return _fitted(seen, size, view, eye, axes, sight.standpoint.field if view.street else None)


def ground_below(places: Floats, sight: Sight) -> float:
    """Height of the ground: as the layout has it, but never above the lowest light nor ten metres below it."""
    lowest = float(places[:, 1].min(initial=math.inf))
    return min(sight.ground, lowest) if sight.ground > lowest - 10 else lowest


def _eye(
    places: Floats, view: View, axes: Floats, ground: float, standpoint: Standpoint, front: float | None
) -> Floats:
    low, high = places.min(axis=0), places.max(axis=0)
    middle, half = (low + high) / 2, max(float(np.linalg.norm(high - low)) / 2, 0.5)
    if not view.street:
        eye = middle + axes[2] * half * (AFAR if view.flat else AROUND)
        return np.array([eye[0], ground + 0.01 * half, eye[2]]) if view.flat and view.level else eye
    across, height = middle[0] + standpoint.aside, ground + standpoint.height
    wall = float(np.median(places[:, 2])) if front is None else front
    if standpoint.distance is not None:
        return np.array([across, height, wall + standpoint.distance])
    sides = places[:, 2] + np.abs(places[:, 0] - across) / WIDE
    tops = places[:, 2] + np.maximum(places[:, 1] - height, 0) / TALL
    return np.array([across, height, max(sides.max(), tops.max(), high[2] + NEAREST)])


def _fitted(
    seen: Floats, size: tuple[int, int], view: View, eye: Floats, axes: Floats, field: float | None
) -> Projection:
    """Scaled and shifted so that what is ``seen`` (n, 2) lies in the picture, on its foot where the view is level."""
    width, height = size
    low, high = seen.min(axis=0), seen.max(axis=0)
    across, up = np.maximum(high - low, 1e-6)
    free = height * (1 - SKY - GROUND)
    focal = min(width * (1 - 2 * MARGIN) / across, free / up)
    if field is not None:
        focal = width / 2 / math.tan(math.radians(field) / 2)
    left = width / 2 - (low[0] + high[0]) / 2 * focal
    slack = free - up * focal
    foot = height * (1 - GROUND) - slack * (0.35 if view.level else 0.5)
    return Projection(eye, axes, focal, (left, foot + low[1] * focal))


def with_standpoint(sight: Sight, **changes: float | None) -> Sight:
    """The sight with what is not None of ``changes`` (height, distance, aside, field) instead of the layout's."""
    asked = {name: value for name, value in changes.items() if value is not None}
    return replace(sight, standpoint=replace(sight.standpoint, **asked))
