"""Loops over lights and picture elements, compiled by numba: arrays and floats only. ``brush`` draws the same.

Each number by itself: to compile what fills or copies a whole array takes seconds.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import types
from numba.extending import register_jitable
from numpy.typing import NDArray

from eavesong.kernels.store import kept
from eavesong.preview.brush import BLEED, MOST, TONE
from eavesong.preview.glow import BLOCK, Floats, Places, Stamps

# Unsigned, so that no place is taken for one counted from the end, which would cost more than the arithmetic.
_1, _2, _3 = np.uintp(1), np.uintp(2), np.uintp(3)
_TONE = np.array(TONE, np.float32)
(_A0, _A1, _A2, _A3, _A4, _A5), (_B0, _B1, _B2, _B3, _B4, _B5) = (tuple(row) for row in _TONE)
_MOST, _BLEED, _ROOT = np.float32(MOST), np.float32(BLEED), np.float32(MOST**0.5 / 65535)
_NEAR, _FAR, _ZERO, _ONE, _TOP = (np.float32(value) for value in (0.75, 0.25, 0.0, 1.0, 255.0))


def _stamp(first: Any, across: Any, down: Any, light: Any, width: Any, canvas: Any) -> None:
    """Add each light's bell to a canvas taken as one row; ``width``: its columns.

    Four columns are written out, so that LLVM adds them in one step: of a loop over so few it makes none.
    """
    taps = across.shape[1]
    fours = taps - taps % 4
    for n in range(len(first)):
        r, g, b = light[n, 0], light[n, 1], light[n, 2]
        if r + g + b <= _ZERO:
            continue
        line, shares = first[n], across[n]
        for row in range(down.shape[1]):
            upright, at = down[n, row], line
            for colour in range(3):
                own = upright * light[n, colour]
                for tap in range(0, fours, 4):
                    w0, w1, w2, w3 = shares[tap], shares[tap + 1], shares[tap + 2], shares[tap + 3]
                    place = at + np.uintp(tap)
                    canvas[place] += own * w0
                    canvas[place + _1] += own * w1
                    canvas[place + _2] += own * w2
                    canvas[place + _3] += own * w3
                for tap in range(fours, taps):
                    canvas[at + np.uintp(tap)] += own * shares[tap]
                at += width
            line += _3 * width


def _blur(canvas: Any, scratch: Any, along: Any, down: Any) -> None:
    """Blur canvas (3 h, w), each row in its colours, in place, dark outside. scratch: as canvas."""
    height, width = canvas.shape
    for row in range(height):
        for column in range(width):
            scratch[row, column] = canvas[row, column] * along[0]
        for tap in range(1, len(along)):
            share = along[tap]
            for column in range(width - tap):
                scratch[row, column] += share * canvas[row, column + tap]
            for column in range(width - tap):
                scratch[row, column + tap] += share * canvas[row, column]
    for row in range(height):
        for column in range(width):
            canvas[row, column] = scratch[row, column] * down[0]
        for tap in range(1, len(down)):
            share = down[tap]
            for other in (row - 3 * tap, row + 3 * tap):
                if 0 <= other < height:
                    for column in range(width):
                        canvas[row, column] += share * scratch[other, column]


@register_jitable
def _wide(small: Any, row: int, colour: int, line: Any, wide: Any) -> None:
    """One row and colour of small (h, 3, w) drawn twice as large; line: scratch (w + 2), wide: (2 w) out."""
    near = row >> 1
    other = min(max(near + 2 * (row & 1) - 1, 0), small.shape[0] - 1)
    count = small.shape[2]
    one, two = small[near, colour], small[other, colour]
    for column in range(count):
        line[column + 1] = _NEAR * one[column] + _FAR * two[column]
    line[0], line[count + 1] = line[1], line[count]
    for column in range(count):
        wide[2 * column] = _NEAR * line[column + 1] + _FAR * line[column]
        wide[2 * column + 1] = _NEAR * line[column + 1] + _FAR * line[column + 2]


def _double(small: Any, fine: Any) -> None:
    """Add small (h, 3, w), drawn twice as large, to ``fine``."""
    line, wide = np.empty(small.shape[2] + 2, np.float32), np.empty(2 * small.shape[2], np.float32)
    for row in range(fine.shape[0]):
        for colour in range(3):
            _wide(small, row, colour, line, wide)
            for column in range(fine.shape[2]):
                fine[row, colour, column] += wide[column]


def _lay(at: Any, cells: Any, parts: Any, wide: Any, ground: Any, width: Any, canvas: Any) -> None:
    """Add to places of a canvas what parts of four cells of the ground hold, both taken as one row.

    width, wide: columns of canvas and of ground.
    """
    for n in range(len(at)):
        place, a, b, c, d = at[n], cells[0, n], cells[1, n], cells[2, n], cells[3, n]
        for _ in range(3):
            canvas[place] += (
                parts[0, n] * ground[a] + parts[1, n] * ground[b] + parts[2, n] * ground[c] + parts[3, n] * ground[d]
            )
            place, a, b, c, d = place + width, a + wide, b + wide, c + wide, d + wide


@register_jitable
def _toned(light: Any, bleed: Any) -> None:
    """Light (w,), with what bleeds into it, as a screen shows it, 0..1."""
    for column in range(len(light)):
        s = min(light[column] + bleed[column], _MOST)
        above = s * (_A1 + s * (_A2 + s * (_A3 + s * (_A4 + s * _A5))))
        below = _B0 + s * (_B1 + s * (_B2 + s * (_B3 + s * (_B4 + s * _B5))))
        light[column] = above / below


@register_jitable
def _shown(canvas: Any, half: Any, dark: Any, row: int, line: Any, wide: Any, shown: Any) -> None:
    """What a screen shows of one row, 0..1, into shown (3, w)."""
    width = canvas.shape[2]
    for colour in range(3):
        _wide(half, row, colour, line, wide)
        lit, unlit, out = canvas[row, colour], dark[row, colour], shown[colour]
        for column in range(width):
            out[column] = lit[column] + unlit[column] + wide[column]
    for column in range(width):
        r, g, b = shown[0, column], shown[1, column], shown[2, column]
        wide[column] = _BLEED * max(max(r, max(g, b)) - _ONE, _ZERO)
    for colour in range(3):
        _toned(shown[colour], wide)


def _develop(canvas: Any, half: Any, dark: Any, grain: Any, out: Any) -> None:
    """Light to bytes: see ``brush.develop``."""
    height, width = canvas.shape[0], canvas.shape[2]
    line, wide = np.empty(half.shape[2] + 2, np.float32), np.empty(2 * half.shape[2], np.float32)
    shown = np.empty((3, width), np.float32)
    for row in range(height):
        _shown(canvas, half, dark, row, line, wide, shown)
        for colour in range(3):
            for column in range(width):
                value = _TOP * shown[colour, column] + grain[row & 63, column]
                out[row, column, colour] = np.uint8(min(value, _TOP))


@register_jitable
def _across(small: Any, line: Any, wide: Any) -> None:
    """One row (w,) drawn twice as wide; line: scratch (w + 2), wide: (2 w) out."""
    count = len(small)
    for column in range(count):
        line[column + 1] = small[column]
    line[0], line[count + 1] = small[0], small[count - 1]
    for column in range(count):
        wide[2 * column] = _NEAR * line[column + 1] + _FAR * line[column]
        wide[2 * column + 1] = _NEAR * line[column + 1] + _FAR * line[column + 2]


def _film(canvas: Any, reached: Any, half: Any, roots: Any, grain: Any, luma: Any, blue: Any, red: Any) -> None:
    """Light to the planes of ITU-R BT.709 (items 3.2 to 3.5 and 4), studio range: luma (h, w), blue and red (h/2, w/2).

    Colours are those of two rows, and of a column and its neighbours: H.264 takes them to stand on every other column.
    Of the canvas only the blocks that are ``reached`` are read, and left dark: that is done soonest while they are near
    the processor. Loops over few arrays: over more, LLVM does not find out whether they overlap, and takes one number
    at a time. roots: see ``roots_of``.
    """
    height, width, most = canvas.shape[0], canvas.shape[2], half.shape[0] - 1
    line, wides = np.empty(half.shape[2] + 2, np.float32), np.empty((3, 3, 2 * half.shape[2]), np.float32)
    shown, bright = np.empty((3, width), np.float32), np.empty(width, np.float32)
    sums = np.zeros((2, width + 1), np.float32)
    kr, kb, kg = np.float32(0.2126), np.float32(0.0722), np.float32(0.7152)
    low, span, middle = np.float32(16.0), np.float32(219.0), np.float32(128.5)
    to_blue, to_red = np.float32(224.0 / 1.8556 / 8), np.float32(224.0 / 1.5748 / 8)
    made = -1
    for row in range(height):
        near = row >> 1
        other = min(max(near + 2 * (row & 1) - 1, 0), most)
        while made < max(near, other):  # rows of ``half`` that were drawn twice as wide: the last three are kept
            made += 1
            for colour in range(3):
                _across(half[made, colour], line, wides[made % 3, colour])
        for colour in range(3):
            root, out, one, two = roots[row, colour], shown[colour], wides[near % 3, colour], wides[other % 3, colour]
            for column in range(width):
                unlit = _ROOT * np.float32(root[column])
                out[column] = unlit * unlit + _NEAR * one[column] + _FAR * two[column]
        for block in range(reached.shape[1]):
            if reached[row, block]:
                for colour in range(3):
                    lit, out = canvas[row, colour], shown[colour]
                    for column in range(block * BLOCK, min((block + 1) * BLOCK, width)):
                        out[column] += lit[column]
                        lit[column] = _ZERO
        r, g, b = shown[0], shown[1], shown[2]
        for column in range(width):
            bright[column] = _BLEED * max(max(r[column], max(g[column], b[column])) - _ONE, _ZERO)
        for colour in range(3):
            _toned(shown[colour], bright)
        dots, noise = luma[row], grain[row & 63]
        for column in range(width):
            own = kr * r[column] + kg * g[column] + kb * b[column]
            bright[column] = own
            dots[column] = np.uint8(np.int32(low + span * own + noise[column]))
        first, second = sums[0], sums[1]
        if row & 1:
            for column in range(width):
                first[column + 1] += b[column] - bright[column]
                second[column + 1] += r[column] - bright[column]
            first[0], second[0] = first[1], second[1]
            for plane, those, scale in ((blue, first, to_blue), (red, second, to_red)):
                dots = plane[row >> 1]
                for column in range(width // 2):
                    before, own, after = those[2 * column], those[2 * column + 1], those[2 * column + 2]
                    dots[column] = np.uint8(np.int32(middle + scale * (before + own + own + after)))
        else:
            for column in range(width):
                first[column + 1] = b[column] - bright[column]
                second[column + 1] = r[column] - bright[column]


_F1, _F2, _F3 = types.float32[::1], types.float32[:, ::1], types.float32[:, :, ::1]
_U2, _UP, _U64 = types.uint8[:, ::1], types.uintp[::1], types.uintp[:, ::1]
_HOW: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": True}
_stamped = kept(_stamp, types.void(_UP, _F2, _F2, _F2, types.uintp, _F1), joined=True, **_HOW)
_blurred = kept(_blur, types.void(_F2, _F2, _F1, _F1), **_HOW)
double = kept(_double, types.void(_F3, _F3), **_HOW)
_laid = kept(_lay, types.void(_UP, _U64, _F2, types.uintp, _F1, types.uintp, _F1), **_HOW)
develop = kept(_develop, types.void(_F3, _F3, _F3, _F2, types.uint8[:, :, ::1]), **_HOW)
film = kept(_film, types.void(_F3, _U2, _F3, types.uint16[:, :, ::1], _F2, _U2, _U2, _U2), **_HOW)


def roots_of(dark: Floats) -> NDArray[np.uint16]:
    """The square root of light, in steps of a 65,535th of the most that is told apart: half as much to read each time,
    and fine where a screen is."""
    return np.rint(np.sqrt(np.minimum(dark, MOST)) / _ROOT).astype(np.uint16)


def stamp(own: Stamps, light: Floats, canvas: Floats) -> None:
    """Add each light's bell to canvas (h, 3, w). light: float32 (n, 3)."""
    _stamped(own.first, own.across, own.down, light, np.uintp(own.width), canvas.reshape(-1))


def blur(canvas: Floats, along: Floats, down: Floats) -> None:
    """Blur canvas (h, 3, w) in place, dark outside; along, down: halves of bells, from the middle outwards."""
    flat = canvas.reshape(-1, canvas.shape[2])
    _blurred(flat, np.empty_like(flat), along, down)


def lay(at: Places, cells: Places, parts: Floats, ground: Floats, canvas: Floats) -> None:
    """Add to canvas (h, 3, w) at places (n,) parts (4, n) of cells (4, n) of ground (h, 3, w): see ``ground``."""
    wide, width = np.uintp(ground.shape[2]), np.uintp(canvas.shape[2])
    _laid(at, cells, parts, wide, ground.reshape(-1), width, canvas.reshape(-1))
