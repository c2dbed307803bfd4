"""The camera: a pinhole with one radial term, as Hartley & Zisserman (2004), ch. 6 and 7.4, have it.

Camera axes: x to the right, y downwards, z away from the camera. A house point X is seen at Y = R (X - C), at the
direction (Y0/Y2, Y1/Y2), moved from the middle by the factor 1 + k r², and focal length times that from the centre.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from eavesong.survey.known import Floats

FACING = np.diag([1.0, -1.0, -1.0])
"""The camera's turn when it looks at the house straight from the street."""

NEAREST = 1e-3
"""Metres before the camera at which points are held while a solution is sought."""


def turned(yaw: float, pitch: float, roll: float) -> Floats:
    """The matrix R (3, 3) of a camera turned to the left by ``yaw``, upwards by ``pitch``, and rolled; radians."""
    cy, sy, cp, sp, cr, sr = (f(a) for a in (yaw, pitch, roll) for f in (np.cos, np.sin))
    about_y = np.array([[cy, 0, -sy], [0, 1, 0], [sy, 0, cy]])
    about_x = np.array([[1, 0, 0], [0, cp, sp], [0, -sp, cp]])
    about_z = np.array([[cr, -sr, 0], [sr, cr, 0], [0, 0, 1]])
    return np.asarray(about_z @ about_x @ FACING @ about_y)


def cross_matrix(v: Floats) -> Floats:
    """(…, 3, 3) that multiplies a vector as the cross product with ``v`` (…, 3) from the left does."""
    zero = np.zeros_like(v[..., 0])
    rows = [[zero, -v[..., 2], v[..., 1]], [v[..., 2], zero, -v[..., 0]], [-v[..., 1], v[..., 0], zero]]
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


def small_turn(w: Floats) -> tuple[Floats, Floats]:
    """The rotation by the vector ``w`` (3,), radians, and its left Jacobian (Rodrigues' formula)."""
    angle = float(np.linalg.norm(w))
    k = cross_matrix(w)
    if angle < 1e-6:
        return np.eye(3) + k, np.eye(3) + k / 2
    a, b = np.sin(angle) / angle, (1 - np.cos(angle)) / angle**2
    return np.eye(3) + a * k + b * k @ k, np.eye(3) + b * k + (1 - a) / angle**2 * k @ k


def turns_of(turn: Floats) -> tuple[float, float, float]:
    """The radians (yaw, pitch, roll) of which `turned` makes the matrix ``turn`` (3, 3)."""
    yaw, pitch = float(np.arctan2(-turn[2, 0], -turn[2, 2])), float(np.arcsin(np.clip(turn[2, 1], -1, 1)))
    level = turned(yaw, pitch, 0.0)
    return yaw, pitch, float(np.arctan2(-turn[0] @ level[1], turn[0] @ level[0]))


@dataclass(frozen=True, eq=False)
class Lens:
    """Where a camera stands and what it does to light."""

    focal: float
    """Picture elements."""
    k: float
    """The radial term."""
    turn: Floats
    """(3, 3): house axes to camera axes."""
    place: Floats
    """(3,) metres."""
    centre: Floats
    """(2,) picture elements."""

    def see(self, points: Floats) -> Floats:
        """Picture elements (n, 2) at which house points (n, 3) are seen."""
        seen = (points - self.place) @ self.turn.T
        flat = seen[:, :2] / np.maximum(seen[:, 2:], NEAREST)
        return np.asarray(self.centre + self.focal * (1 + self.k * (flat**2).sum(axis=1))[:, None] * flat)

    def depth(self, points: Floats) -> Floats:
        """Metres (n,) before the camera."""
        return np.asarray((points - self.place) @ self.turn[2])

    def rays(self, clicks: Floats) -> Floats:
        """Unit vectors (n, 3) in house axes from the camera through picture elements (n, 2)."""
        bent = (clicks - self.centre) / self.focal
        flat = bent.copy()
        for _ in range(20 if self.k else 0):  # fixed point of flat (1 + k r²) = bent
            flat = bent / np.maximum(1 + self.k * (flat**2).sum(axis=1), 0.3)[:, None]
        rays = np.concatenate([flat, np.ones((len(flat), 1))], axis=1) @ self.turn
        unit: Floats = rays / np.linalg.norm(rays, axis=1)[:, None]
        return unit

    def slopes(self, points: Floats) -> tuple[Floats, Floats, Floats]:
        """What moves the picture of ``points`` (n, 3): places (n, 2) and their derivatives.

        The second array (n, 2, 3) is by the point's place in camera axes; the third (n, 2, 2) by the logarithm of the
        focal length and by the radial term.
        """
        seen = (points - self.place) @ self.turn.T
        depth = np.maximum(seen[:, 2], NEAREST)
        flat = seen[:, :2] / depth[:, None]
        r2 = (flat**2).sum(axis=1)
        factor = 1 + self.k * r2
        off = self.focal * factor[:, None] * flat
        by_flat = self.focal * (factor[:, None, None] * np.eye(2) + 2 * self.k * flat[:, :, None] * flat[:, None, :])
        by_seen = np.zeros((len(points), 2, 3))
        by_seen[:, 0, 0] = by_seen[:, 1, 1] = 1 / depth
        by_seen[:, :, 2] = -flat / depth[:, None]
        by_lens = np.stack([off, self.focal * r2[:, None] * flat], axis=2)
        return self.centre + off, by_flat @ by_seen, by_lens
