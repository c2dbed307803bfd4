"""How bright each light of a house looks: near ones brighter, and many that are seen in one spot held.

Light falls off with the square of distance, but eyes and cameras adapt: what is near glares less than that. Where
lights crowd in the picture, as those of a path do that runs towards the eye, their glow together is held, so that they
stay lights and do not become a ball.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from eavesong.preview.view import HIDDEN, Projection

Singles = NDArray[np.float32]

NEAR, FAR = 1.5, 0.5
"""How many times brighter than those at the usual distance lights look at most, and at least."""
CELL = 12.0
"""Picture elements, of a picture 1280 wide, of the squares in which lights are counted."""
BLUR = (1 / 16, 4 / 16, 6 / 16, 4 / 16, 1 / 16)
"""What a square's neighbours count as well, so that it does not matter where the squares begin."""
CROWD = 40.0
"""Lights of the usual brightness in one spot from which on they are held."""


def shares(projection: Projection, metres: NDArray[np.float32], size: tuple[int, int]) -> Singles:
    """How much of its light each of the lights at ``metres`` (n, 3) shows in the picture, float32 (n,); 1 is usual."""
    depth = projection.depth(metres)
    seen = depth > HIDDEN
    usual = float(np.median(depth[seen])) if seen.any() else 1.0
    nearness = np.where(seen, np.clip(usual / np.maximum(depth, HIDDEN), FAR, NEAR), 0.0)
    columns, rows = projection.place(metres)
    return (nearness * held(columns, rows, nearness, size)).astype(np.float32)


def held(
    columns: NDArray[np.generic], rows: NDArray[np.generic], light: NDArray[np.float64], size: tuple[int, int]
) -> NDArray[np.float64]:
    """(n,) 0..1: what is left of each light where others crowd round it, so that a spot glows at most like CROWD.

    light: (n,) how bright each looks by itself.
    """
    cell = CELL * max(min(size[0] / 1280, size[1] / 720), 0.1)
    wide, tall = int(size[0] / cell) + 6, int(size[1] / cell) + 6
    x = np.clip(np.asarray(columns, np.float64) / cell + 2.5, 0, wide - 2)
    y = np.clip(np.asarray(rows, np.float64) / cell + 2.5, 0, tall - 2)
    left, top = x.astype(np.int64), y.astype(np.int64)
    over, down = x - left, y - top
    corners = [
        (top * wide + left, (1 - over) * (1 - down)), (top * wide + left + 1, over * (1 - down)),
        ((top + 1) * wide + left, (1 - over) * down), ((top + 1) * wide + left + 1, over * down),
    ]  # fmt: skip
    total = np.zeros(wide * tall)
    for cells, part in corners:
        total += np.bincount(cells, part * light, wide * tall)
    spread = total.reshape(tall, wide)
    for axis in (0, 1):
        parts = [part * np.roll(spread, step, axis) for step, part in zip(range(-2, 3), BLUR, strict=True)]
        spread = np.sum(parts, axis=0)
    crowd = sum(spread.ravel()[cells] * part for cells, part in corners) / BLUR[2] ** 2
    return np.asarray(1 / np.sqrt(1 + (crowd / CROWD) ** 2))
