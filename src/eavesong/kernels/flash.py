"""Flashes: opposing changes of luminance and of saturated red, place by place, as WCAG 2.2 SC 2.3.1 counts them.

A transition is a change between a peak and the valley beside it, however many frames it takes; what swings by less
than the threshold is no peak and no valley. It is counted in the frame in which its change reaches the threshold.
"""

from __future__ import annotations

import numpy as np
from numba import njit

STEP = 0.1
"""Change of relative luminance that counts: 10 % of the maximum (WCAG 2.2, general flash)."""

BRIGHT = 0.8
"""A change counts only where its darker state is below this (WCAG 2.2, general flash)."""

SATURATED = 0.8
"""Least R/(R+G+B), linear, of a saturated red (WCAG 2.2, red flash)."""

RED_STEP = 0.2
"""Distance in CIE 1976 u'v' that counts where one of the states is a saturated red (WCAG 2.2, red flash)."""

DARK = 0.02
"""R+G+B below which a light has no colour and is taken as neutral: five steps of 255. So red that goes on and off
changes between red and neutral; the stricter reading, as the standard says nothing of black."""

NEUTRAL_U, NEUTRAL_V = 0.1978, 0.4683
RED_U, RED_V = 0.4507, 0.5229
"""u'v' of the sRGB white and red."""

FIXED = 1 << 20
"""Whole numbers in which the display's light is added up, so that no order of adding changes it."""

HIGH, LOW, U, V, FROM_RED = range(5)
"""Columns of the float state: last peak, last valley, u'v' of the last red or other state, its distance from red."""
RISING, WAITING, IN_RED, KNOWN = range(4)
"""Columns of the marks: direction of the last transition (1, -1, 0), whether a fall is still too bright to count,
whether the last state is red, whether there was any frame."""


@njit(nogil=True, error_model="numpy", inline="always")
def luminance(r, g, b):
    """Relative luminance of linear light (IEC 61966-2-1, WCAG 2.2)."""
    return np.float32(0.2126) * r + np.float32(0.7152) * g + np.float32(0.0722) * b


@njit(nogil=True, error_model="numpy", inline="always")
def general_step(y, high, low, rising, waiting):
    """Take luminance ``y`` into (high, low, rising, waiting); the same with 1 or 0 in front: a transition counts."""
    step = np.float32(STEP - 1e-6)
    count = 0
    high, low = max(high, y), min(low, y)
    if rising >= 0 and high - y >= step:
        rising, waiting, low = -1, 1, y
    elif rising <= 0 and y - low >= step:
        count = 1 if low < np.float32(BRIGHT) else 0
        rising, waiting, high = 1, 0, y
    if waiting == 1 and y < np.float32(BRIGHT):
        waiting, count = 0, 1
    return count, high, low, rising, waiting


@njit(nogil=True, error_model="numpy", inline="always")
def chromaticity(r, g, b):
    """u', v' of linear light, and whether it is a saturated red."""
    total = r + g + b
    if total < np.float32(DARK):
        return np.float32(NEUTRAL_U), np.float32(NEUTRAL_V), False
    # 4 X and 9 Y over X + 15 Y + 3 Z, with the sRGB matrix (IEC 61966-2-1).
    x = np.float32(0.4124564) * r + np.float32(0.3575761) * g + np.float32(0.1804375) * b
    y = np.float32(0.2126729) * r + np.float32(0.7151522) * g + np.float32(0.0721750) * b
    z = np.float32(0.0193339) * r + np.float32(0.1191920) * g + np.float32(0.9503041) * b
    share = np.float32(1.0) / (x + np.float32(15.0) * y + np.float32(3.0) * z)
    return np.float32(4.0) * x * share, np.float32(9.0) * y * share, r >= np.float32(SATURATED - 1e-6) * total


@njit(nogil=True, error_model="numpy", inline="always")
def red_step(r, g, b, last_u, last_v, last_away, in_red):
    """Take linear light into (u', v', distance from red, in red); the same with 1 or 0 in front: a change counts.

    Of a state that lasts, the colour that is farthest from red is kept, or of red the one that is nearest to it.
    """
    u, v, red = chromaticity(r, g, b)
    away = (u - np.float32(RED_U)) ** 2 + (v - np.float32(RED_V)) ** 2
    change = (u - last_u) ** 2 + (v - last_v) ** 2
    if change > np.float32(RED_STEP**2) and (in_red == 1 or red):
        return 1, u, v, away, 0 if in_red == 1 or not red else 1
    if (in_red == 1 and red and away < last_away) or (in_red == 0 and away > last_away):
        return 0, u, v, away, in_red
    return 0, last_u, last_v, last_away, in_red


@njit(nogil=True, error_model="numpy", inline="always")
def begin(r, g, b, state, marks):
    """Set a place's state to its first light."""
    y = luminance(r, g, b)
    u, v, red = chromaticity(r, g, b)
    state[HIGH] = state[LOW] = y
    state[U], state[V] = u, v
    state[FROM_RED] = (u - np.float32(RED_U)) ** 2 + (v - np.float32(RED_V)) ** 2
    marks[RISING], marks[WAITING], marks[IN_RED], marks[KNOWN] = 0, 0, 1 if red else 0, 1


@njit(nogil=True, error_model="numpy")
def step(r, g, b, state, marks):
    """Take linear light 0..1 into a place's state; bit 0: a general transition counts, bit 1: a red one."""
    if marks[KNOWN] == 0:
        begin(r, g, b, state, marks)
        return 0
    general, high, low, rising, waiting = general_step(
        luminance(r, g, b), state[HIGH], state[LOW], marks[RISING], marks[WAITING]
    )
    state[HIGH], state[LOW], marks[RISING], marks[WAITING] = high, low, rising, waiting
    change, u, v, away, in_red = red_step(r, g, b, state[U], state[V], state[FROM_RED], marks[IN_RED])
    state[U], state[V], state[FROM_RED], marks[IN_RED] = u, v, away, in_red
    return general + 2 * change


@njit(nogil=True, error_model="numpy", inline="always")
def place_light(row, places, tables, curve, p):
    """Linear light of a pixel from the bytes of one frame; white added to the other three, 1 at most."""
    r, g, b = tables[curve, row[places[p, 0]]], tables[curve, row[places[p, 1]]], tables[curve, row[places[p, 2]]]
    if places[p, 3] >= 0:
        w = tables[curve, row[places[p, 3]]]
        r, g, b = min(r + w, np.float32(1)), min(g + w, np.float32(1)), min(b + w, np.float32(1))
    return r, g, b
