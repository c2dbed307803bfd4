"""The close look at a second: from where on enough changes follow one another, for some places of a tile side by side.

Looked at from its end, a second's changes are found one by one, the one that begins latest first: that one is always
right to take.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from eavesong.kernels import flash, thresholds
from eavesong.kernels.lanes import add_bits, bits_float, float_bits, inner, load_own, select, store, to_int
from eavesong.kernels.planes import BEGUN, CLOSE, FEW, LANES, LIST, SIDE

_f = np.float32
ZERO, ONE, NONE = _f(0), _f(1), np.int32(0)
TENTH, BRIGHT = _f(thresholds.STEP - 1e-6), _f(thresholds.BRIGHT)

LANE, BRIGHTNESS, RISING, TOP, RISES, FALLING, LOW, FALLS = (SIDE + plane * LANES for plane in range(8))
"""Which place it is; its luminance; whether the change looked for goes up, the extreme of luminance after it and how
many were found, where the last one is taken to go up; the same where it is taken to go down."""


@inner
def listed(at, plane, count):
    """List the places below ``count`` whose value in a plane is 1, not 0; how many there are."""
    many = NONE
    for some in range(0, count, FEW):
        found = NONE
        for n in range(FEW):
            found = add_bits(found, to_int(load_own(at, n + some + plane)))
        if found > 0:
            for n in range(some, min(some + FEW, count)):
                store(at, LIST + many, bits_float(np.int32(n)))
                many = add_bits(many, to_int(load_own(at, n + plane)))
    return many


@njit(nogil=True, error_model="numpy", inline="always")
def in_list(at, k):
    """The place that is listed at ``k``."""
    return np.int64(float_bits(load_own(at, LIST + k)))


@inner
def latest_general(at, bright, first, row, many, wanted):
    """Put the latest row, from ``first`` on, from which so many changes of luminance follow one another up to ``row``
    into BEGUN, for the ``many`` places that are listed; -1: none.

    bright: pointer to rows of CLOSE values, the luminance of each place first. Both ways of the last change are tried
    side by side; whichever has enough of them first begins later.
    """
    wide = -(-many // FEW) * FEW  # whole vectors: the last place stands in for those that are missing
    for k in range(wide):
        lane = float_bits(load_own(at, LIST + min(k, many - 1)))
        store(at, k + LANE, bits_float(lane))
    _look_up(at, bright, np.int32(row * CLOSE), wide)
    for k in range(wide):
        y = load_own(at, k + BRIGHTNESS)
        store(at, k + TOP, y)
        store(at, k + LOW, y)
        store(at, k + RISING, ONE)
        store(at, k + FALLING, ZERO)
        store(at, k + RISES, ZERO)
        store(at, k + FALLS, ZERO)
        store(at, k + BEGUN, -ONE)
    for before in range(row - 1, first - 1, -1):
        _look_up(at, bright, np.int32(before * CLOSE), wide)
        if _earlier(at, np.float32(before), np.float32(wanted), wide) == 0:
            break


@inner
def _look_up(at, bright, row, wide):
    """Luminance of the places in a row, side by side."""
    for k in range(wide):
        store(at, k + BRIGHTNESS, load_own(bright, add_bits(float_bits(load_own(at, k + LANE)), row)))


@inner
def _earlier(at, number, wanted, wide):
    """Look one row further back; for how many places not enough changes were found yet."""
    waiting = NONE
    for k in range(wide):
        y = load_own(at, k + BRIGHTNESS)
        rising, top, rises = _one_earlier(y, load_own(at, k + RISING), load_own(at, k + TOP), load_own(at, k + RISES))
        falling, low, falls = _one_earlier(y, load_own(at, k + FALLING), load_own(at, k + LOW), load_own(at, k + FALLS))
        latest = load_own(at, k + BEGUN)
        latest = select((latest < ZERO) & ((rises >= wanted) | (falls >= wanted)), number, latest)
        store(at, k + RISING, rising)
        store(at, k + TOP, top)
        store(at, k + RISES, rises)
        store(at, k + FALLING, falling)
        store(at, k + LOW, low)
        store(at, k + FALLS, falls)
        store(at, k + BEGUN, latest)
        waiting = add_bits(waiting, to_int(select(latest < ZERO, ONE, ZERO)))
    return waiting


@njit(nogil=True, error_model="numpy", inline="always")
def _one_earlier(y, up, extreme, found):
    """With luminance ``y``: whether the change looked for goes up (1 or 0), the highest luminance after it (the lowest,
    if it goes down), and how many changes were found."""
    rose = (up == ONE) & (extreme - y >= TENTH) & (y < BRIGHT)
    fell = (up == ZERO) & (y - extreme >= TENTH) & (extreme < BRIGHT)
    change = rose | fell
    further = ((up == ONE) & (y > extreme)) | ((up == ZERO) & (y < extreme))
    up = select(change, ONE - up, up)
    return up, select(change | further, y, extreme), select(change, found + ONE, found)


@inner
def latest_red(bright, frames, light, places, curves, tables, first, row, p, wanted):
    """The latest row, from ``first`` on, from which so many changes into a saturated red and out of it follow one
    another up to ``row``; -1: none. bright: rows of CLOSE values, in which the place's colours are put behind LANES."""
    window = bright[first : row + 1, LANES:]
    for f in range(len(window)):
        if light.shape[2]:
            r, g, b = light[first + f, 0, p], light[first + f, 1, p], light[first + f, 2, p]
        else:
            r, g, b = flash.place_light(frames[first + f], places, tables, curves[p], p)
        window[f, 0], window[f, 1], window[f, 2] = r, g, b
    latest = flash.latest_red(window, wanted)
    return first + latest if latest >= 0 else -1
