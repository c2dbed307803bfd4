"""The dark house behind the lights, made up from them: walls below what hangs on it, roofs between, a back."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.preview.view import HIDDEN, Projection

if TYPE_CHECKING:
    from eavesong.preview.subject import Subject

Floats = NDArray[np.float64]

BUILT = {
    "roofline", "eaves", "gable", "ridge", "verge", "fascia", "roof", "upright", "window", "door", "wall", "icicles",
}  # fmt: skip
"""Tags of lights that hang on walls and roofs (common words of the trade)."""
WIRES = {"line", "polyline"}
STRIPS = 160
"""Of a silhouette, at most."""
DEPTH = 0.6
"""Of a house's width: how far it reaches back, where no light says so."""
FRONT, SIDE, ROOF = 1.2, 0.8, 2.0
"""How light faces are beside each other: the moon stands behind whoever looks."""


@dataclass(frozen=True, eq=False)
class Face:
    """A flat piece of the house."""

    corners: Floats
    """(k, 3) metres, round it."""
    tone: float
    """How light it is; 1 is a wall towards the street."""


def built(subject: Subject) -> list[Floats]:
    """The places (k, 3) of the lights of each prop on walls and roofs; of upright wires where no tag says so."""
    tagged = [row for row in subject.props if BUILT & {tag.lower() for tag in row.tags}]
    props = []
    for row in tagged or [row for row in subject.props if row.shape in WIRES]:
        points = subject.metres[row.first_pixel : row.first_pixel + row.pixel_count].astype(np.float64)
        if len(points) > 1 and points[:, 1].max() > 1.8:
            props.append(points)
    return props


def front_of(subject: Subject) -> float | None:
    """z of the lights on the walls, in the middle of them; None where there are none."""
    props = built(subject)
    return float(np.median(np.concatenate(props)[:, 2])) if props else None


def faces_of(subject: Subject, ground: float) -> list[Face]:
    """The house as flat faces that stand on ``ground``: fronts, the roofs between them, sides and tops to its back."""
    fronts = [points for points in built(subject) if np.ptp(points[:, 0]) > 0.4]
    if not fronts:
        return []
    wide = max(float(points[:, 0].max()) for points in fronts) - min(float(points[:, 0].min()) for points in fronts)
    places = np.concatenate(fronts)
    back = min(float(places[:, 2].min()), float(np.median(places[:, 2])) - DEPTH * wide / 2)
    faces = []
    for points in fronts:
        outline, z = _skyline(points[:, :2], ground), float(points[:, 2].mean())
        faces.append(Face(_at(outline, z), FRONT))
        faces += list(_behind(outline, z, back))
    return faces + _roofs(fronts)


def _skyline(points: Floats, ground: float) -> Floats:
    """What lies below places (n, 2): an outline (k, 2) along the highest of each of some strips, and on the ground."""
    left, right = points[:, 0].min(), points[:, 0].max()
    count = min(STRIPS, len(points))
    strip = np.minimum((points[:, 0] - left) / (right - left) * count, count - 1).astype(int)
    highest = np.full(count, -np.inf)
    np.maximum.at(highest, strip, points[:, 1])
    edges = left + (np.arange(count) + 0.5) / count * (right - left)
    seen = np.isfinite(highest)
    top = np.stack([edges[seen], highest[seen]], axis=1)
    top[0, 0], top[-1, 0] = left, right
    return np.concatenate([_bends(top), [[right, ground], [left, ground]]])


def _bends(line: Floats, within: float = 0.04) -> Floats:
    """The points of a line (n, 2) at which it bends by more than ``within`` metres (Douglas & Peucker 1973)."""
    if len(line) < 3:
        return line
    (x0, y0), (x1, y1) = line[0], line[-1]
    away = np.abs((x1 - x0) * (line[:, 1] - y0) - (y1 - y0) * (line[:, 0] - x0)) / max(np.hypot(x1 - x0, y1 - y0), 1e-9)
    most = int(away.argmax())
    if away[most] <= within:
        return line[[0, -1]]
    return np.concatenate([_bends(line[: most + 1], within)[:-1], _bends(line[most:], within)])


def _at(outline: Floats, z: float) -> Floats:
    return np.concatenate([outline, np.full((len(outline), 1), z)], axis=1)


def _behind(outline: Floats, z: float, back: float) -> list[Face]:
    """What joins a front to the back of the house: its sides, its tops, and the front once more."""
    if z - back < 0.3:
        return []
    faces = [Face(_at(outline, back), SIDE)]
    for (x0, y0), (x1, y1) in pairwise(outline):
        if y0 != y1 or y0 > outline[-1, 1]:
            corners = np.array([[x0, y0, z], [x1, y1, z], [x1, y1, back], [x0, y0, back]])
            faces.append(Face(corners, SIDE if abs(x1 - x0) < 0.2 * abs(y1 - y0) else ROOF))
    (x0, y0), (x1, y1) = outline[0], outline[-1]
    return [*faces, Face(np.array([[x0, y0, z], [x1, y1, z], [x1, y1, back], [x0, y0, back]]), SIDE)]


def _roofs(fronts: list[Floats]) -> list[Face]:
    """The slopes between a line of lights and a higher one behind it, such as eaves and a ridge."""
    level = [points for points in fronts if np.ptp(points[:, 1]) < 0.3]
    faces = []
    for low in level:
        for high in level:
            (x0, y, z), (x1, _, _) = low[low[:, 0].argmin()], low[low[:, 0].argmax()]
            (u0, v, w), (u1, _, _) = high[high[:, 0].argmin()], high[high[:, 0].argmax()]
            shared = min(x1, u1) - max(x0, u0)
            if v > y + 0.3 and w < z - 0.5 and shared > 0.5 * min(x1 - x0, u1 - u0):
                faces.append(Face(np.array([[x0, y, z], [x1, y, z], [u1, v, w], [u0, v, w]]), ROOF))
    return faces


def painted(
    faces: list[Face], projection: Projection, size: tuple[int, int]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """How much of each picture element is house, and how light it is there: float32 (height, width) each.

    The farthest faces are painted first.
    """
    from PIL import Image, ImageDraw

    width, height = size
    sheet = Image.new("RGB", (2 * width, 2 * height))
    pen = ImageDraw.Draw(sheet)
    for face in sorted(faces, key=lambda face: -float(projection.depth(face.corners).mean())):
        if projection.depth(face.corners).min() > HIDDEN:
            columns, rows = projection.place(face.corners)
            corners = [(2.0 * x, 2.0 * y) for x, y in zip(columns.tolist(), rows.tolist(), strict=True)]
            pen.polygon(corners, fill=(255, round(100 * face.tone), 0))
    seen = np.asarray(sheet.resize(size, Image.Resampling.BOX), np.float32)
    return seen[..., 0] / np.float32(255), seen[..., 1] / np.float32(100)
