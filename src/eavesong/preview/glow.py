"""What of a light's glow falls where: reckoned once for a scene, used for every picture.

A glow is a sum of bells of several widths. The narrow ones are stamped; the wide ones are gathered on coarser canvases
and blurred there. Every canvas is half as fine as the one before it, and drawn on that one twice as large, which
looks the same as drawing all of it at full size and costs a fraction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float32]
Places = NDArray[np.uintp]

BLOCK = 64
"""Columns of a canvas that are asked at once whether any light falls there."""

LANES = 4
"""Columns of a bell that are added in one step."""

REACH = 3.0
"""Standard deviations at which a bell is cut off."""


@dataclass(frozen=True, eq=False)
class Stamps:
    """One bell for each light, on a canvas: light times ``down`` times ``across``, from ``first`` on."""

    first: Places
    """(n,) place of a window's first number in a canvas (h, 3, w) taken as one row."""
    across: Floats
    """(n, k) shares of its columns."""
    down: Floats
    """(n, r) shares of its rows."""
    width: int
    """Columns of the canvas."""


def halvings(sigma: float) -> int:
    """How often a canvas can be halved and still hold a bell of ``sigma`` picture elements."""
    return max(0, math.floor(math.log2(sigma / 1.2)))


def shape_at(size: tuple[int, int], level: int) -> tuple[int, int, int]:
    """Rows, colours and columns of a canvas halved ``level`` times, for a picture of ``size`` (width, height).

    A row's colours lie one behind the other: loops over one of them run over neighbours.
    """
    return -(-size[1] // 2**level), 3, -(-size[0] // 2**level)


def stamps(
    columns: Floats, rows: Floats, shape: tuple[int, int, int], level: int, sigma: float, share: ArrayLike
) -> Stamps:
    """Bells of ``sigma`` picture elements whose sums are ``share``, around places in the picture at full size.

    share: one for all, or (n,).

    sigma 0: a light is shared out over the four elements around it. What falls outside the canvas is lost.
    """
    left, across = _windows(columns / 2**level, shape[2], sigma / 2**level, LANES)
    top, down = _windows(rows / 2**level, shape[0], sigma / 2**level)
    each = np.broadcast_to(np.asarray(share, np.float32) / 4**level, columns.shape).astype(np.float32)
    first = (top * 3 * shape[2] + left).astype(np.uintp)
    return Stamps(first, across, np.ascontiguousarray(down * each[:, None]), shape[2])


def reached(own: Stamps, height: int) -> NDArray[np.uint8]:
    """(height, blocks): 1 where a bell of any light falls on a row's next BLOCK columns, 0 where none ever does."""
    found = np.zeros((height, -(-own.width // BLOCK)), np.uint8)
    rows, columns = np.divmod(own.first.astype(np.int64), 3 * own.width)
    last = columns + own.across.shape[1] - 1
    for row in range(own.down.shape[1]):
        for block in range(own.across.shape[1] // BLOCK + 2):
            found[rows + row, np.minimum(columns // BLOCK + block, last // BLOCK)] = 1
    return found


def _windows(places: Floats, size: int, sigma: float, lanes: int = 1) -> tuple[NDArray[np.int64], Floats]:
    """The first element of each window (n,), inside of ``size``, and shares (n, k); a whole bell's add up to 1.

    lanes: what k is a multiple of where there is room, and for bells.
    """
    reach = math.ceil(REACH * sigma)
    count = -(-(2 * reach + 1) // lanes) * lanes if sigma else 2
    wished = np.floor(places).astype(np.int64) - reach if sigma else np.floor(places - 0.5).astype(np.int64)
    whole = _bell(wished[:, None] + np.arange(count) + 0.5 - places[:, None], sigma).sum(axis=1, keepdims=True)
    count = min(count, size)
    first = np.clip(wished, 0, size - count)
    shares = _bell(first[:, None] + np.arange(count) + 0.5 - places[:, None], sigma) / whole
    return first, np.ascontiguousarray(shares, np.float32)


def _bell(off: NDArray[np.floating[Any]], sigma: float) -> NDArray[np.floating[Any]]:
    if not sigma:
        return np.asarray(np.maximum(1 - np.abs(off), 0.0))
    return np.asarray(np.exp(off * off * (-0.5 / sigma**2)))


def half_bell(sigma: float) -> Floats:
    """Half a bell of weights, from the middle outwards; the whole adds up to 1."""
    half = np.exp(-(np.arange(math.ceil(REACH * sigma) + 1) ** 2) / (2 * max(sigma, 1e-3) ** 2))
    return np.asarray(half / (2 * half.sum() - half[0]), np.float32)


def smaller(picture: Floats, step: int) -> Floats:
    """A picture (h, w) whose elements are the means of ``step`` times ``step`` of one's, its edges repeated."""
    down, across = (-(-side // step) * step for side in picture.shape)
    whole = np.pad(picture, ((0, down - picture.shape[0]), (0, across - picture.shape[1])), mode="edge")
    return np.asarray(whole.reshape(down // step, step, across // step, step).mean(axis=(1, 3)), np.float32)
