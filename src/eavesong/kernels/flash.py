"""Flashes: opposing changes of luminance and of saturated red, as WCAG 2.2 SC 2.3.1 counts them.

A change is a pair of states, an earlier and a later one, however many frames lie between: of luminance by a tenth or
more with the darker state below 0.8, up or down; of colour by more than 0.2 in CIE 1976 u'v' where one of the states
is a saturated red, into red or out of it. A second is judged by itself: it holds as many changes as can follow one
another in it, each beginning no earlier than the last one ended, in turn one way and the other. So nothing that came
before a second, and no frame rate of ripples within it, can hide what it holds.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from eavesong.kernels.thresholds import DARK, NEUTRAL_U, NEUTRAL_V, RED_STEP, SATURATED


@njit(nogil=True, error_model="numpy", inline="always")
def luminance(r, g, b):
    """Relative luminance of linear light (IEC 61966-2-1, WCAG 2.2)."""
    return np.float32(0.2126) * r + np.float32(0.7152) * g + np.float32(0.0722) * b


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


@njit(nogil=True, error_model="numpy")
def latest_red(light, wanted):
    """The latest frame from which ``wanted`` changes into a saturated red and out of it follow one another; -1: none.

    light: float32 (f, 6 at least): linear red, green, blue; u', v' and kind are put behind them. No two saturated reds
    are more than 0.15 apart, so every change that counts has a saturated red on one side alone.
    """
    for f in range(len(light)):
        light[f, 3], light[f, 4], red = chromaticity(light[f, 0], light[f, 1], light[f, 2])
        light[f, 5] = np.float32(red)
    return max(_latest_red(light, wanted, True), _latest_red(light, wanted, False))


@njit(nogil=True, error_model="numpy")
def _latest_red(light, wanted, into):
    end = at = len(light) - 1
    found = 0
    while at > 0 and found < wanted:
        at -= 1
        if (light[at, 5] > 0) == into:
            continue
        for later in range(at + 1, end + 1):
            along, across = light[later, 3] - light[at, 3], light[later, 4] - light[at, 4]
            apart = along * along + across * across
            if (light[later, 5] > 0) == into and apart > np.float32(RED_STEP * RED_STEP):
                found, into, end = found + 1, not into, at
                break
    return at if found == wanted else -1


@njit(nogil=True, error_model="numpy", inline="always")
def place_light(row, places, tables, curve, p):
    """Linear light of a pixel from the bytes of one frame; white added to the other three, 1 at most."""
    r, g, b = tables[curve, row[places[p, 0]]], tables[curve, row[places[p, 1]]], tables[curve, row[places[p, 2]]]
    if places[p, 3] >= 0:
        w = tables[curve, row[places[p, 3]]]
        r, g, b = min(r + w, np.float32(1)), min(g + w, np.float32(1)), min(b + w, np.float32(1))
    return r, g, b
