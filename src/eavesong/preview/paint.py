"""Loops over lights and picture elements, compiled by numba: arrays and floats only.

A glow is a sum of bells of several widths. The narrow one is stamped at full size; the wide ones are gathered on
coarser canvases, blurred there and drawn large again, which looks the same and costs a fraction.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import types

from eavesong.kernels.store import kept


def _stamp(columns: Any, rows: Any, light: Any, sigma: float, canvas: Any) -> None:
    """Add each light's bell (standard deviation ``sigma`` picture elements) to canvas (h, w, 3); its sum is the light.

    columns, rows: float32 (n,) places, 0.5 is the middle of the first element. light: float32 (n, 3).
    """
    height, width = canvas.shape[0], canvas.shape[1]
    reach = math.ceil(3.0 * sigma)
    narrow = -1.0 / (2.0 * sigma * sigma)
    across = np.empty(2 * reach + 1, np.float32)
    for n in range(len(columns)):
        r, g, b = light[n, 0], light[n, 1], light[n, 2]
        if r + g + b <= 0.0:
            continue
        left, top = math.floor(columns[n]) - reach, math.floor(rows[n]) - reach
        total_across, total_down = 0.0, 0.0
        for tap in range(2 * reach + 1):
            away, off = top + tap + 0.5 - rows[n], left + tap + 0.5 - columns[n]
            across[tap] = math.exp(off * off * narrow)
            total_across += across[tap]
            total_down += math.exp(away * away * narrow)
        share = 1.0 / (total_across * total_down)
        for row in range(max(0, top), min(height, top + 2 * reach + 1)):
            away = row + 0.5 - rows[n]
            upright = np.float32(share * math.exp(away * away * narrow))
            for column in range(max(0, left), min(width, left + 2 * reach + 1)):
                weight = upright * across[column - left]
                canvas[row, column, 0] += weight * r
                canvas[row, column, 1] += weight * g
                canvas[row, column, 2] += weight * b


def _gather(columns: Any, rows: Any, light: Any, step: float, canvas: Any) -> None:
    """Share each light out over the four elements around it of a canvas ``step`` times coarser."""
    height, width = canvas.shape[0], canvas.shape[1]
    area = 1.0 / (step * step)
    for n in range(len(columns)):
        x, y = columns[n] / step - 0.5, rows[n] / step - 0.5
        left, top = math.floor(x), math.floor(y)
        right_share, low_share = x - left, y - top
        for down in range(2):
            row = top + down
            if row < 0 or row >= height:
                continue
            upright = (low_share if down else 1.0 - low_share) * area
            for over in range(2):
                column = left + over
                if column < 0 or column >= width:
                    continue
                weight = upright * (right_share if over else 1.0 - right_share)
                for channel in range(3):
                    canvas[row, column, channel] += weight * light[n, channel]


def _blur(canvas: Any, scratch: Any, along: Any, down: Any) -> None:
    """Blur canvas (h, 3 w) of interleaved colours in place, dark outside.

    along, down: float32, halves of bells, from the middle outwards. scratch: as canvas.
    """
    height, width = canvas.shape
    scratch[:, :] = canvas * along[0]
    for row in range(height):
        for tap in range(1, len(along)):
            share, shift = along[tap], 3 * tap
            for column in range(width - shift):
                scratch[row, column] += share * canvas[row, column + shift]
            for column in range(width - shift):
                scratch[row, column + shift] += share * canvas[row, column]
    canvas[:, :] = scratch * down[0]
    for row in range(height):
        for tap in range(1, len(down)):
            share = down[tap]
            for other in (row - tap, row + tap):
                if 0 <= other < height:
                    for column in range(width):
                        canvas[row, column] += share * scratch[other, column]


def _enlarge(small: Any, step: float, top: int, factor: float, canvas: Any) -> None:
    """Add small (h, w, 3), drawn ``step`` times as large, to the rows of canvas from ``top`` on, times ``factor``."""
    height, width = canvas.shape[0], canvas.shape[1]
    rows, columns = small.shape[0], small.shape[1]
    left, share = np.empty(width, np.int64), np.empty(width, np.float32)
    for column in range(width):
        x = min(max((column + 0.5) / step - 0.5, 0.0), columns - 1.0)
        left[column] = min(int(x), max(columns - 2, 0))
        share[column] = x - left[column]
    line = np.zeros((columns + 1, 3), np.float32)
    for row in range(max(top, 0), min(height, int(top + rows * step))):
        y = min(max((row - top + 0.5) / step - 0.5, 0.0), rows - 1.0)
        upper = min(int(y), max(rows - 2, 0))
        lower, low_share = min(upper + 1, rows - 1), y - upper
        a, b = np.float32(factor * (1.0 - low_share)), np.float32(factor * low_share)
        for column in range(columns):
            for channel in range(3):
                line[column, channel] = a * small[upper, column, channel] + b * small[lower, column, channel]
        for column in range(width):
            at, over = left[column], share[column]
            for channel in range(3):
                canvas[row, column, channel] += line[at, channel] + over * (line[at + 1, channel] - line[at, channel])


def _develop(scene: Any, backdrop: Any, grain: Any, out: Any) -> None:
    """Light to bytes: sRGB of 1 - exp(-light), where what burns out bleeds to white.

    The curve (IEC 61966-2-1 behind the exponential) is a quotient of polynomials in the square root of light, fitted
    to within 0.14 of 255 by least squares; sqrt and division are what processors do to eight numbers at once.
    scene, backdrop: float32 (h, w, 3). grain: float32 (64, 3 w) 0..1, added before rounding, so that slow gradients
    show no steps. out: uint8 (h, 3 w).
    """
    height, width = scene.shape[0], scene.shape[1]
    line = np.empty(3 * width, np.float32)
    one, most, bleed = np.float32(1.0), np.float32(3.3), np.float32(0.12)
    a1, a2, a3, a4, a5 = (np.float32(0.181355), np.float32(-7.081185), np.float32(510.304417), np.float32(-82.677427),
                          np.float32(73.326928))  # fmt: skip
    b1, b2, b3, b4, b5 = (np.float32(-8.163392), np.float32(428.138567), np.float32(47.60355), np.float32(82.619639),
                          np.float32(53.675201))  # fmt: skip
    for row in range(height):
        for column in range(width):
            r = scene[row, column, 0] + backdrop[row, column, 0]
            g = scene[row, column, 1] + backdrop[row, column, 1]
            b = scene[row, column, 2] + backdrop[row, column, 2]
            white = bleed * max(max(r, max(g, b)) - one, np.float32(0.0))
            line[3 * column], line[3 * column + 1], line[3 * column + 2] = r + white, g + white, b + white
        noise = grain[row & 63]
        for at in range(3 * width):
            s = min(np.sqrt(line[at]), most)
            above = s * (a1 + s * (a2 + s * (a3 + s * (a4 + s * a5))))
            below = one + s * (b1 + s * (b2 + s * (b3 + s * (b4 + s * b5))))
            out[row, at] = np.uint8(min(np.float32(255.0) * above / below + noise[at], np.float32(255.0)))


_F1, _F2, _F3, _F64 = types.float32[::1], types.float32[:, ::1], types.float32[:, :, ::1], types.float64
_HOW = {"nogil": True, "error_model": "numpy", "fastmath": True}
stamp = kept(_stamp, types.void(_F1, _F1, _F2, _F64, _F3), **_HOW)
gather = kept(_gather, types.void(_F1, _F1, _F2, _F64, _F3), **_HOW)
blur = kept(_blur, types.void(_F2, _F2, _F1, _F1), **_HOW)
enlarge = kept(_enlarge, types.void(_F3, _F64, types.int64, _F64, _F3), **_HOW)
develop = kept(_develop, types.void(_F3, _F3, _F2, types.uint8[:, ::1]), **_HOW)
