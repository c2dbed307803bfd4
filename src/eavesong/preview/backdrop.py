"""What stands behind the lights: a clear night with a dark house, or the layout's own photo, dimmed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import srgb_decode
from eavesong.preview.view import Projection

if TYPE_CHECKING:
    from PIL import Image

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


def with_walls(scene: Light, share: Light, tone: Light) -> Light:
    """A scene (h, w, 3) with the dark house in it: (h, w) how much of each element it takes, and how light it is."""
    return np.asarray(scene * (1 - share[..., None]) + np.array(WALLS, np.float32) * tone[..., None], np.float32)


def night_sky(size: tuple[int, int], projection: Projection) -> Light:
    """A clear night: darker overhead than at the horizon, some stars, and the earth darker still."""
    width, height = size
    horizon = min(max(projection.horizon, 0.0), float(height))
    rows = np.arange(height, dtype=np.float32)[:, None, None] + 0.5
    rise = np.minimum(rows / max(horizon, 1.0), 1.0) ** 2
    sky = np.array(SKY_TOP, np.float32) * (1 - rise) + np.array(SKY_LOW, np.float32) * rise
    earth = np.array(EARTH, np.float32) * (1.0 - 0.5 * np.clip((rows - horizon) / (0.4 * height), 0, 1))
    below = np.clip(rows + 0.5 - horizon, 0, 1)
    scene = np.ascontiguousarray(np.broadcast_to(sky * (1 - below) + earth * below, (height, width, 3)), np.float32)
    _stars(scene, round(horizon), width / 1280)
    return scene


def _stars(scene: Light, ground: int, scale: float) -> None:
    """Faint stars, the same on every picture, fewer towards the horizon."""
    random = np.random.default_rng(17)
    across, down, bright = random.random(STARS), random.random(STARS) ** 1.5, random.random(STARS) ** 3
    columns = (across * (scene.shape[1] - 1)).astype(int)
    rows = (down * 0.8 * max(ground - 1, 0)).astype(int)
    seen = rows < ground
    light = ((0.010 + 0.10 * bright) * min(max(scale, 0.4), 1.5)).astype(np.float32)
    scene[rows[seen], columns[seen]] += light[seen, None]


def with_photo(scene: Light, photo: Image.Image, rectangle: tuple[float, float, float, float]) -> Light:
    """A scene (h, w, 3) with a photo laid over ``rectangle`` (left, top, right, bottom).

    Its edges fade into the night.
    """
    from PIL import Image

    height, width = scene.shape[:2]
    left, top, right, bottom = rectangle
    across, down = max(1, min(round(right - left), 4 * width)), max(1, min(round(bottom - top), 4 * height))
    fitted = photo.resize((across, down), Image.Resampling.LANCZOS)
    light = np.asarray(srgb_decode(np.asarray(fitted, np.float32) / 255), np.float32)
    light *= PHOTO_LIGHT * np.array(PHOTO_TINT, np.float32)
    share = (_edge(down)[:, None] * _edge(across)[None])[..., None]
    x, y = round(left), round(top)
    here = (slice(max(0, y), max(0, min(height, y + down))), slice(max(0, x), max(0, min(width, x + across))))
    there = (slice(max(0, -y), max(0, -y) + here[0].stop - here[0].start),
             slice(max(0, -x), max(0, -x) + here[1].stop - here[1].start))  # fmt: skip
    out = scene.copy()
    out[here] = scene[here] * (1 - share[there]) + light[there] * share[there]
    return out


def _edge(count: int) -> Light:
    """0 at both ends, 1 inside."""
    away = np.minimum(np.arange(count), np.arange(count)[::-1]).astype(np.float32)
    return np.asarray(np.clip((away + 1) / max(1.0, PHOTO_EDGE * count), 0, 1), np.float32)
