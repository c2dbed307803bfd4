"""Loops over lights and picture elements with numpy alone: for one picture, whose drawing takes less time than it takes
to load the compiled loops of ``paint``. Both draw the same.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from eavesong.preview.glow import Floats, Places, Stamps

BAND = 48
"""Rows that are developed at once: as many as stay in a processor's cache."""
TONE = (
    (0.0, 5.61514, 42111.71, 833268.2, 732685.0, 500639.72),
    (1.0, 2522.2976, 238388.75, 1211106.4, 622266.5, 507896.9),
)
"""sRGB (IEC 61966-2-1) of 1 - exp(-light) as a quotient of polynomials in light up to MOST, whose largest error is the
least there is, 0.2 of 255 (differential correction): a quotient comes as near to a root as one in the root itself does,
without one, as poles may crowd where it is steep (D. J. Newman 1964, from memory)."""
MOST: float = 10.89
BLEED = 0.12
"""Share of what is brighter than white that goes to the other colours."""


def stamp(own: Stamps, light: Floats, canvas: Floats) -> None:
    """Add each light's bell to canvas (h, 3, w). light: float32 (n, 3)."""
    lit = np.flatnonzero(light.any(axis=1))
    flat, colours = canvas.reshape(-1), light[lit]
    first = own.first[lit].astype(np.int64)[:, None] + own.width * np.arange(3)
    for row in range(own.down.shape[1]):
        for tap in range(own.across.shape[1]):
            share = own.down[lit, row] * own.across[lit, tap]
            np.add.at(flat, (first + 3 * row * own.width + tap).reshape(-1), (share[:, None] * colours).reshape(-1))


def blur(canvas: Floats, along: Floats, down: Floats) -> None:
    """Blur canvas (h, 3, w) in place, dark outside; along, down: halves of bells, from the middle outwards."""
    for axis, half in ((2, along), (0, down)):
        lines = np.moveaxis(canvas, axis, 0)
        before = lines.copy()
        lines *= half[0]
        for tap in range(1, min(len(half), len(lines))):
            lines[tap:] += half[tap] * before[:-tap]
            lines[:-tap] += half[tap] * before[tap:]


def double(small: Floats, fine: Floats) -> None:
    """Add small (h, 3, w), drawn twice as large, to ``fine``."""
    fine += _doubled(_doubled(small, 0), 2)[: fine.shape[0], :, : fine.shape[2]]


def _doubled(small: Floats, axis: int) -> Floats:
    lines = np.moveaxis(small, axis, 0)
    padded = np.concatenate([lines[:1], lines, lines[-1:]])
    out = np.empty((2 * len(lines), *lines.shape[1:]), np.float32)
    out[0::2] = 0.75 * lines + 0.25 * padded[:-2]
    out[1::2] = 0.75 * lines + 0.25 * padded[2:]
    return np.moveaxis(out, 0, axis)


def lay(at: Places, cells: Places, parts: Floats, ground: Floats, canvas: Floats) -> None:
    """Add to canvas (h, 3, w) at places (n,) parts (4, n) of cells (4, n) of ground (h, 3, w), all of one colour's
    first row: the others lie behind it."""
    flat, seen = ground.reshape(-1), canvas.reshape(-1)
    for colour in range(3):
        own = flat[cells.astype(np.int64) + colour * ground.shape[2]]
        seen[at.astype(np.int64) + colour * canvas.shape[2]] += (own * parts).sum(axis=0)


def develop(canvas: Floats, half: Floats, dark: Floats, grain: Floats, out: NDArray[np.uint8]) -> None:
    """Light to bytes: canvas (h, 3, w), half of its size (drawn twice as large) and dark (h, 3, w).

    grain: float32 (64, w) 0..1, added before rounding, so that slow gradients show no steps. out: uint8 (h, w, 3).
    """
    wide = _doubled(half, 0)
    for top in range(0, len(canvas), BAND):
        here = slice(top, top + BAND)
        scene = canvas[here] + dark[here]
        scene += _doubled(wide[here][: len(scene)], 2)[..., : scene.shape[2]]
        noise = grain[np.arange(top, top + len(scene)) & 63, None]
        out[here] = np.minimum(255 * toned(scene, 1) + noise, 255).astype(np.uint8).transpose(0, 2, 1)


def toned(scene: Floats, colours: int = -1) -> Floats:
    """What a screen shows of light, 0..1: what burns out bleeds to white, then the curve. colours: their axis."""
    scene = scene + BLEED * np.maximum(scene.max(axis=colours, keepdims=True) - 1, 0)
    light = np.minimum(scene, np.float32(MOST))
    above, below = (np.full_like(light, terms[-1]) for terms in TONE)
    for value, terms in ((above, TONE[0]), (below, TONE[1])):
        for term in terms[-2::-1]:
            value *= light
            value += np.float32(term)
    above /= below
    return above
