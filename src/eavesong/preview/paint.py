"""Loops over lights and picture elements, compiled by numba: arrays and floats only. ``brush`` draws the same.

Each number by itself: to compile what fills or copies a whole array takes seconds.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import types
from numba.extending import register_jitable

from eavesong.kernels.store import kept
from eavesong.preview.brush import BLEED, MOST, TONE
from eavesong.preview.glow import Floats, Stamps

# Unsigned, so that no place is taken for one counted from the end, which would cost more than the arithmetic.
_1, _2, _3 = np.uintp(1), np.uintp(2), np.uintp(3)
_TONE = np.array(TONE, np.float32)
(_A0, _A1, _A2, _A3, _A4, _A5), (_B0, _B1, _B2, _B3, _B4, _B5) = (tuple(row) for row in _TONE)
_MOST, _BLEED = np.float32(MOST), np.float32(BLEED)
_NEAR, _FAR, _ZERO, _ONE, _TOP = (np.float32(value) for value in (0.75, 0.25, 0.0, 1.0, 255.0))


def _stamp(first: Any, across: Any, down: Any, light: Any, width: Any, canvas: Any) -> None:
    """Add each light's bell to a canvas taken as one row; ``width``: numbers in one of its lines."""
    for n in range(len(first)):
        r, g, b = light[n, 0], light[n, 1], light[n, 2]
        if r + g + b <= _ZERO:
            continue
        line = first[n]
        for row in range(down.shape[1]):
            upright, at = down[n, row], line
            for tap in range(across.shape[1]):
                weight = upright * across[n, tap]
                canvas[at] += weight * r
                canvas[at + _1] += weight * g
                canvas[at + _2] += weight * b
                at += _3
            line += width


def _blur(canvas: Any, scratch: Any, along: Any, down: Any) -> None:
    """Blur canvas (h, 3 w) of interleaved colours in place, dark outside. scratch: as canvas."""
    height, width = canvas.shape
    for row in range(height):
        for column in range(width):
            scratch[row, column] = canvas[row, column] * along[0]
        for tap in range(1, len(along)):
            share, shift = along[tap], 3 * tap
            for column in range(width - shift):
                scratch[row, column] += share * canvas[row, column + shift]
            for column in range(width - shift):
                scratch[row, column + shift] += share * canvas[row, column]
    for row in range(height):
        for column in range(width):
            canvas[row, column] = scratch[row, column] * down[0]
        for tap in range(1, len(down)):
            share = down[tap]
            for other in (row - tap, row + tap):
                if 0 <= other < height:
                    for column in range(width):
                        canvas[row, column] += share * scratch[other, column]


@register_jitable
def _wide(small: Any, row: int, colour: int, line: Any, wide: Any) -> None:
    """One row and colour of small (h, w, 3) drawn twice as large; line: scratch (w + 2), wide: (2 w) out."""
    near = row >> 1
    other = min(max(near + 2 * (row & 1) - 1, 0), small.shape[0] - 1)
    count = small.shape[1]
    for column in range(count):
        line[column + 1] = _NEAR * small[near, column, colour] + _FAR * small[other, column, colour]
    line[0], line[count + 1] = line[1], line[count]
    for column in range(count):
        wide[2 * column] = _NEAR * line[column + 1] + _FAR * line[column]
        wide[2 * column + 1] = _NEAR * line[column + 1] + _FAR * line[column + 2]


def _double(small: Any, fine: Any) -> None:
    """Add small (h, w, 3), drawn twice as large, to ``fine``."""
    line, wide = np.empty(small.shape[1] + 2, np.float32), np.empty(2 * small.shape[1], np.float32)
    for row in range(fine.shape[0]):
        for colour in range(3):
            _wide(small, row, colour, line, wide)
            for column in range(fine.shape[1]):
                fine[row, column, colour] += wide[column]


def _enlarge(small: Any, step: float, top: int, canvas: Any) -> None:
    """Add small (h, w, 3), drawn ``step`` times as large, to the rows of canvas from ``top`` on."""
    height, width = canvas.shape[0], canvas.shape[1]
    rows, columns = small.shape[0], small.shape[1]
    left, share = np.empty(width, np.int64), np.empty(width, np.float32)
    for column in range(width):
        x = min(max((column + 0.5) / step - 0.5, 0.0), columns - 1.0)
        left[column] = min(int(x), max(columns - 2, 0))
        share[column] = x - left[column]
    line = np.zeros((columns + 1, 3), np.float32)
    for row in range(top, min(height, int(top + rows * step))):
        y = min(max((row - top + 0.5) / step - 0.5, 0.0), rows - 1.0)
        upper = min(int(y), max(rows - 2, 0))
        lower, low_share = min(upper + 1, rows - 1), np.float32(y - upper)
        for column in range(columns):
            for channel in range(3):
                high, low = small[upper, column, channel], small[lower, column, channel]
                line[column, channel] = high + low_share * (low - high)
        for column in range(width):
            at, over = left[column], share[column]
            for channel in range(3):
                canvas[row, column, channel] += line[at, channel] + over * (line[at + 1, channel] - line[at, channel])


@register_jitable
def _shown(canvas: Any, half: Any, dark: Any, row: int, line: Any, wide: Any, shown: Any) -> None:
    """What a screen shows of one row, 0..1, into shown (3, w)."""
    width = canvas.shape[1]
    for colour in range(3):
        _wide(half, row, colour, line, wide)
        for column in range(width):
            shown[colour, column] = canvas[row, column, colour] + dark[row, colour, column] + wide[column]
    for column in range(width):
        r, g, b = shown[0, column], shown[1, column], shown[2, column]
        wide[column] = _BLEED * max(max(r, max(g, b)) - _ONE, _ZERO)
    for colour in range(3):
        for column in range(width):
            s = min(np.sqrt(shown[colour, column] + wide[column]), _MOST)
            above = s * (_A1 + s * (_A2 + s * (_A3 + s * (_A4 + s * _A5))))
            below = _B0 + s * (_B1 + s * (_B2 + s * (_B3 + s * (_B4 + s * _B5))))
            shown[colour, column] = above / below


def _develop(canvas: Any, half: Any, dark: Any, grain: Any, out: Any) -> None:
    """Light to bytes: see ``brush.develop``."""
    height, width = canvas.shape[0], canvas.shape[1]
    line, wide = np.empty(half.shape[1] + 2, np.float32), np.empty(2 * half.shape[1], np.float32)
    shown = np.empty((3, width), np.float32)
    for row in range(height):
        _shown(canvas, half, dark, row, line, wide, shown)
        for colour in range(3):
            for column in range(width):
                value = _TOP * shown[colour, column] + grain[row & 63, column]
                out[row, column, colour] = np.uint8(min(value, _TOP))


def _film(canvas: Any, half: Any, dark: Any, grain: Any, luma: Any, blue: Any, red: Any) -> None:
    """Light to the planes of ITU-R BT.709 (items 3.2 to 3.5 and 4), studio range: luma (h, w), blue and red (h/2, w/2).

    Colours are those of two rows, and of a column and its neighbours: H.264 takes them to stand on every other column.
    """
    height, width = canvas.shape[0], canvas.shape[1]
    line, wide = np.empty(half.shape[1] + 2, np.float32), np.empty(2 * half.shape[1], np.float32)
    shown, bright = np.empty((3, width), np.float32), np.empty(width, np.float32)
    sums = np.zeros((2, width + 1), np.float32)
    kr, kb, kg = np.float32(0.2126), np.float32(0.0722), np.float32(0.7152)
    low, span, middle = np.float32(16.0), np.float32(219.0), np.float32(128.5)
    to_blue, to_red = np.float32(224.0 / 1.8556 / 8), np.float32(224.0 / 1.5748 / 8)
    for row in range(height):
        _shown(canvas, half, dark, row, line, wide, shown)
        for column in range(width):
            own = kr * shown[0, column] + kg * shown[1, column] + kb * shown[2, column]
            bright[column] = own
            luma[row, column] = np.uint8(low + span * own + grain[row & 63, column])
        for column in range(width):
            sums[0, column + 1] += shown[2, column] - bright[column]
            sums[1, column + 1] += shown[0, column] - bright[column]
        if row & 1:
            sums[0, 0], sums[1, 0] = sums[0, 1], sums[1, 1]
            for column in range(width // 2):
                before, own, after = sums[0, 2 * column], sums[0, 2 * column + 1], sums[0, 2 * column + 2]
                blue[row >> 1, column] = np.uint8(middle + to_blue * (before + own + own + after))
                before, own, after = sums[1, 2 * column], sums[1, 2 * column + 1], sums[1, 2 * column + 2]
                red[row >> 1, column] = np.uint8(middle + to_red * (before + own + own + after))
            for column in range(width + 1):
                sums[0, column] = sums[1, column] = _ZERO


_F1, _F2, _F3, _F64 = types.float32[::1], types.float32[:, ::1], types.float32[:, :, ::1], types.float64
_U2 = types.uint8[:, ::1]
_HOW = {"nogil": True, "error_model": "numpy", "fastmath": True}
_stamped = kept(_stamp, types.void(types.uintp[::1], _F2, _F2, _F2, types.uintp, _F1), **_HOW)
_blurred = kept(_blur, types.void(_F2, _F2, _F1, _F1), **_HOW)
double = kept(_double, types.void(_F3, _F3), **_HOW)
enlarge = kept(_enlarge, types.void(_F3, _F64, types.int64, _F3), **_HOW)
develop = kept(_develop, types.void(_F3, _F3, _F3, _F2, types.uint8[:, :, ::1]), **_HOW)
film = kept(_film, types.void(_F3, _F3, _F3, _F2, _U2, _U2, _U2), **_HOW)


def stamp(own: Stamps, light: Floats, canvas: Floats) -> None:
    """Add each light's bell to canvas (h, w, 3). light: float32 (n, 3)."""
    _stamped(own.first, own.across, own.down, light, np.uintp(3 * own.width), canvas.reshape(-1))


def blur(canvas: Floats, along: Floats, down: Floats) -> None:
    """Blur canvas (h, w, 3) in place, dark outside; along, down: halves of bells, from the middle outwards."""
    flat = canvas.reshape(len(canvas), -1)
    _blurred(flat, np.empty_like(flat), along, down)
