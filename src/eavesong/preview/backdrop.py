"""What stands behind the lights: a clear night with a dark house, or the layout's own photo, dimmed."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import srgb_decode
from eavesong.preview.view import Projection

if TYPE_CHECKING:
    from eavesong.scene.reopen import Reopened

Light = NDArray[np.float32]

SKY_TOP = (0.0006, 0.0010, 0.0030)
SKY_LOW = (0.0040, 0.0056, 0.0125)
EARTH = (0.0016, 0.0019, 0.0026)
WALLS = (0.0010, 0.0012, 0.0024)
STARS = 130
"""In a picture 1280 wide."""

PHOTO_LIGHT = 0.05
"""How much of a photo's light is left, so that it looks like night."""
PHOTO_TINT = (0.75, 0.88, 1.25)
PHOTO_EDGE = 0.06
"""Share of its width over which a photo fades into the night."""

BUILT = {
    "roofline",
    "eaves",
    "gable",
    "ridge",
    "verge",
    "fascia",
    "roof",
    "upright",
    "window",
    "door",
    "wall",
    "icicles",
}
"""Tags of lights that hang on walls and roofs (common words of the trade)."""
WIRES = {"line", "polyline"}
STRIPS = 160
"""Of a silhouette, at most."""


def backdrop(source: Reopened, projection: Projection, size: tuple[int, int], photo: Path | None = None) -> Light:
    """The scene without any light of the house's own: linear light (height, width, 3)."""
    scene = night_sky(size, projection)
    if photo is not None and projection.view.level and projection.view.turn == 0:
        return _with_photo(scene, photo, source.box, projection)
    outline = silhouette(source) if projection.view.level else []
    return _with_walls(scene, outline, projection)


def night_sky(size: tuple[int, int], projection: Projection) -> Light:
    """A clear night: darker overhead than at the horizon, some stars, and the earth darker still."""
    width, height = size
    scene = np.empty((height, width, 3), np.float32)
    if not projection.view.level:
        scene[:] = np.array(EARTH, np.float32) * 0.6
        return scene
    ground = projection.ground
    rise = np.linspace(0.0, 1.0, ground, dtype=np.float32)[:, None, None] ** 2
    scene[:ground] = np.array(SKY_TOP, np.float32) * (1 - rise) + np.array(SKY_LOW, np.float32) * rise
    depth = np.linspace(1.0, 0.4, height - ground, dtype=np.float32)[:, None, None]
    scene[ground:] = np.array(EARTH, np.float32) * depth
    _stars(scene, ground, width / 1280)
    return scene


def _stars(scene: Light, ground: int, scale: float) -> None:
    """Faint stars, the same on every picture, fewer towards the horizon."""
    random = np.random.default_rng(17)
    across, down, bright = random.random(STARS), random.random(STARS) ** 1.5, random.random(STARS) ** 3
    columns = (across * (scene.shape[1] - 1)).astype(int)
    rows = (down * 0.8 * max(ground - 1, 0)).astype(int)
    scene[rows, columns] += ((0.010 + 0.10 * bright) * min(max(scale, 0.4), 1.5)).astype(np.float32)[:, None]


def silhouette(source: Reopened) -> list[NDArray[np.float64]]:
    """The house as seen from the street, made up from its lights: outlines (k, 2) in metres, x and y.

    What lies below the lights on its walls and roofs is taken to be house. Where no light says that it hangs on
    one, straight wires above a man's height do.
    """
    rows = ((row.tags, row.shape, row.first_pixel, row.pixel_count) for row in source.frames.props)
    return outlines_of(rows, source.metres)


def outlines_of(
    props: Iterable[tuple[Collection[str], str, int, int]], metres: NDArray[np.float32]
) -> list[NDArray[np.float64]]:
    """The outlines of `silhouette` from props (tags, shape, first pixel, count) and places (n, 3) in metres."""
    rows = list(props)
    built = [row for row in rows if BUILT & {tag.lower() for tag in row[0]}]
    outlines = []
    for _, _, first, count in built or [row for row in rows if row[1] in WIRES]:
        points = metres[first : first + count, :2].astype(np.float64)
        if len(points) > 1 and np.ptp(points[:, 0]) > 0.4 and points[:, 1].max() > 1.8:
            outlines.append(_skyline(points))
    return outlines


def _skyline(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """What lies below places (n, 2): an outline along the highest of each of some strips, and back on the ground."""
    left, right = points[:, 0].min(), points[:, 0].max()
    count = min(STRIPS, len(points))
    strip = np.minimum((points[:, 0] - left) / (right - left) * count, count - 1).astype(int)
    highest = np.full(count, -np.inf)
    np.maximum.at(highest, strip, points[:, 1])
    edges = left + (np.arange(count) + 0.5) / count * (right - left)
    seen = np.isfinite(highest)
    top = np.stack([edges[seen], highest[seen]], axis=1)
    top[0, 0], top[-1, 0] = left, right
    return np.concatenate([top, [[right, 0.0], [left, 0.0]]])


def _with_walls(scene: Light, outlines: list[NDArray[np.float64]], projection: Projection) -> Light:
    from PIL import Image, ImageDraw

    if not outlines:
        return scene
    height, width = scene.shape[:2]
    mask = Image.new("L", (width * 2, height * 2), 0)
    pen = ImageDraw.Draw(mask)
    for outline in outlines:
        places = np.concatenate([outline, np.zeros((len(outline), 1))], axis=1)
        columns, rows = projection.place(places)
        pen.polygon([(2.0 * x, 2.0 * y) for x, y in zip(columns, rows, strict=True)], fill=255)
    share = np.asarray(mask.resize((width, height), Image.Resampling.BOX), np.float32)[..., None] / 255
    share[projection.ground :] = 0
    return np.asarray(scene * (1 - share) + np.array(WALLS, np.float32) * share, np.float32)


def _with_photo(scene: Light, photo: Path, box: NDArray[np.float64], projection: Projection) -> Light:
    """The photo laid on the house frame, its edges fading into the night. One that cannot be read is left out."""
    from PIL import Image

    from eavesong.preview.photo import opened_if_any

    height, width = scene.shape[:2]
    left, top = projection.left, projection.top - box[1] * projection.scale
    across, down = max(1, round(box[0] * projection.scale)), max(1, round(box[1] * projection.scale))
    picture = opened_if_any(photo)
    if picture is None:
        return scene
    fitted = picture.resize((across, down), Image.Resampling.LANCZOS)
    light = np.asarray(srgb_decode(np.asarray(fitted, np.float32) / 255), np.float32)
    light *= PHOTO_LIGHT * np.array(PHOTO_TINT, np.float32)
    share = (_edge(down)[:, None] * _edge(across)[None])[..., None]
    x, y = round(left), round(top)
    here = (slice(max(0, y), min(height, y + down)), slice(max(0, x), min(width, x + across)))
    there = (slice(max(0, -y), max(0, -y) + here[0].stop - here[0].start),
             slice(max(0, -x), max(0, -x) + here[1].stop - here[1].start))  # fmt: skip
    out = scene.copy()
    out[here] = scene[here] * (1 - share[there]) + light[there] * share[there]
    return out


def _edge(count: int) -> Light:
    """0 at both ends, 1 inside."""
    away = np.minimum(np.arange(count), np.arange(count)[::-1]).astype(np.float32)
    return np.asarray(np.clip((away + 1) / max(1.0, PHOTO_EDGE * count), 0, 1), np.float32)
