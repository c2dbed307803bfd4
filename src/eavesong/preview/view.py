"""Where a house is seen from: metres to picture elements."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import MisfitError, nearest

Floats = NDArray[np.float32]

MARGIN = 0.06
"""Share of the picture's width left free on either side of the house."""

SKY = 0.10
"""Share of the picture's height left free above it."""

GROUND = 0.16
"""Share of the picture's height that is ground, in front of the house."""


@dataclass(frozen=True)
class View:
    """A direction to look in, from far away: ``turn`` degrees to the right of the street, ``rise`` above it."""

    turn: float = 0.0
    rise: float = 0.0

    @property
    def level(self) -> bool:
        """Whether it is seen from the street's height: then there is a ground with a horizon."""
        return self.rise < 2

    def axes(self) -> NDArray[np.float64]:
        """(3, 3): the directions to the right, upwards and towards the eye, in metres of the house."""
        turn, rise = math.radians(self.turn), math.radians(self.rise)
        right = (math.cos(turn), 0.0, -math.sin(turn))
        up = (-math.sin(turn) * math.sin(rise), math.cos(rise), -math.cos(turn) * math.sin(rise))
        towards = (math.sin(turn) * math.cos(rise), math.sin(rise), math.cos(turn) * math.cos(rise))
        return np.array([right, up, towards])


FRONT = View()
VIEWS = {"front": FRONT, "plan": View(0.0, 90.0), "corner": View(32.0, 24.0)}
"""From the street, from above with the street below, and from above one corner."""


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

    view: View
    scale: float
    """Picture elements to a metre."""
    left: float
    top: float
    """Where the origin of the house frame lies."""
    ground: int
    """Row of the ground line at the house; the picture's height where there is none."""

    def place(self, metres: NDArray[np.generic]) -> tuple[Floats, Floats]:
        """Columns and rows (n,) of places (n, 3)."""
        flat = np.asarray(metres, np.float64) @ self.view.axes()[:2].T
        columns, rows = self.left + flat[:, 0] * self.scale, self.top - flat[:, 1] * self.scale
        return columns.astype(np.float32), rows.astype(np.float32)


def project(metres: NDArray[np.float32], size: tuple[int, int], view: View = FRONT) -> Projection:
    """The projection that brings the whole house into a picture of ``size`` (width, height)."""
    width, height = size
    flat = metres.astype(np.float64) @ view.axes()[:2].T
    low, high = flat.min(axis=0), flat.max(axis=0)
    ground = height - int(height * GROUND) if view.level else height
    if view.level:
        low[1] = min(low[1], 0.0)
    foot = ground if view.level else height * (1 - SKY)
    room_across, room_up = width * (1 - 2 * MARGIN), foot - height * SKY
    scale = min(room_across / max(high[0] - low[0], 0.1), room_up / max(high[1] - low[1], 0.1))
    left = width / 2 - (low[0] + high[0]) / 2 * scale
    top = foot + low[1] * scale
    if not view.level:
        top = (foot + height * SKY) / 2 + (low[1] + high[1]) / 2 * scale
    return Projection(view, scale, left, top, ground)
