"""Loops over lights and picture elements with numpy alone: for one picture, whose drawing takes less time than it takes
to load the compiled loops of ``paint``. Both draw the same.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from eavesong.preview.glow import Floats, Stamps

BAND = 48
"""Rows that are developed at once: as many as stay in a processor's cache."""
TONE = (
    (0.0, 0.181355, -7.081185, 510.304417, -82.677427, 73.326928),
    (1.0, -8.163392, 428.138567, 47.60355, 82.619639, 53.675201),
)
"""sRGB (IEC 61966-2-1) of 1 - exp(-light) as a quotient of polynomials in the square root of light up to MOST, fitted
to within 0.14 of 255 by least squares: sqrt and division are what processors do to eight numbers at once."""
MOST = 3.3
BLEED = 0.12
"""Share of what is brighter than white that goes to the other colours."""


def stamp(own: Stamps, light: Floats, canvas: Floats) -> None:
    """Add each light's bell to canvas (h, w, 3). light: float32 (n, 3)."""
    lit = np.flatnonzero(light.any(axis=1))
    flat, colours = canvas.reshape(-1), light[lit]
    first = own.first[lit].astype(np.int64)[:, None] + np.arange(3)
    for row in range(own.down.shape[1]):
        for tap in range(own.across.shape[1]):
            share = own.down[lit, row] * own.across[lit, tap]
            np.add.at(flat, (first + 3 * (row * own.width + tap)).reshape(-1), (share[:, None] * colours).reshape(-1))


def blur(canvas: Floats, along: Floats, down: Floats) -> None:
    """Blur canvas (h, w, 3) in place, dark outside; along, down: halves of bells, from the middle outwards."""
    for axis, half in ((1, along), (0, down)):
        lines = np.moveaxis(canvas, axis, 0)
        before = lines.copy()
        lines *= half[0]
        for tap in range(1, min(len(half), len(lines))):
            lines[tap:] += half[tap] * before[:-tap]
            lines[:-tap] += half[tap] * before[tap:]


def double(small: Floats, fine: Floats) -> None:
    """Add small (h, w, 3), drawn twice as large, to ``fine``."""
    fine += _doubled(_doubled(small, 0), 1)[: fine.shape[0], : fine.shape[1]]


def _doubled(small: Floats, axis: int) -> Floats:
    lines = np.moveaxis(small, axis, 0)
    padded = np.concatenate([lines[:1], lines, lines[-1:]])
    out = np.empty((2 * len(lines), *lines.shape[1:]), np.float32)
    out[0::2] = 0.75 * lines + 0.25 * padded[:-2]
    out[1::2] = 0.75 * lines + 0.25 * padded[2:]
    return np.moveaxis(out, 0, axis)


def enlarge(small: Floats, step: int, top: int, canvas: Floats) -> None:
    """Add small (h, w, 3), drawn ``step`` times as large, to the rows of canvas from ``top`` on."""
    out, lines = canvas[top : top + len(small) * step], small
    for axis, count in ((0, len(out)), (1, canvas.shape[1])):
        at = np.clip((np.arange(count) + 0.5) / step - 0.5, 0, lines.shape[axis] - 1).astype(np.float32)
        low = np.minimum(at.astype(np.int64), max(lines.shape[axis] - 2, 0))
        share = np.expand_dims(at - low, tuple(range(1, 3))) if axis == 0 else (at - low)[:, None]
        upper = lines.take(np.minimum(low + 1, lines.shape[axis] - 1), axis)
        lines = lines.take(low, axis)
        lines = lines + share * (upper - lines)
    out += lines


def develop(canvas: Floats, half: Floats, dark: Floats, grain: Floats, out: NDArray[np.uint8]) -> None:
    """Light to bytes: canvas (h, w, 3), half of its size (drawn twice as large) and the rows of dark (h, 3, w).

    grain: float32 (64, w) 0..1, added before rounding, so that slow gradients show no steps. out: uint8 (h, w, 3).
    """
    wide = _doubled(half, 0)
    for top in range(0, len(canvas), BAND):
        here = slice(top, top + BAND)
        scene = canvas[here] + dark[here].transpose(0, 2, 1)
        scene += _doubled(wide[here][: len(scene)], 1)[:, : scene.shape[1]]
        noise = grain[np.arange(top, top + len(scene)) & 63, :, None]
        out[here] = np.minimum(255 * toned(scene) + noise, 255).astype(np.uint8)


def toned(scene: Floats) -> Floats:
    """What a screen shows of light (…, 3), 0..1: what burns out bleeds to white, then the curve."""
    scene = scene + BLEED * np.maximum(scene.max(axis=-1, keepdims=True) - 1, 0)
    root = np.minimum(np.sqrt(scene), np.float32(MOST))
    above, below = (np.full_like(root, terms[-1]) for terms in TONE)
    for value, terms in ((above, TONE[0]), (below, TONE[1])):
        for term in terms[-2::-1]:
            value *= root
            value += np.float32(term)
    above /= below
    return above
