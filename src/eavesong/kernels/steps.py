"""Steps of colour along time: how each pixel goes from frame to frame, in colours as coarse as is asked for."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.lanes import magnitude, nearest


def exact_steps(light, first, keys):
    """What is added to each pixel's colour from frame to frame, modulo 256, red << 16 | green << 8 | blue.

    light: uint8 (f, n, 3). first: uint8 (3, n), set to the colours at the first frame. keys: int32 (n, f - 1), set.
    """
    for p in range(light.shape[1]):
        r, g, b = np.int32(light[0, p, 0]), np.int32(light[0, p, 1]), np.int32(light[0, p, 2])
        first[0, p], first[1, p], first[2, p] = r, g, b
        for f in range(1, light.shape[0]):
            red, green, blue = np.int32(light[f, p, 0]), np.int32(light[f, p, 1]), np.int32(light[f, p, 2])
            keys[p, f - 1] = (red - r & 255) << 16 | (green - g & 255) << 8 | (blue - b & 255)
            r, g, b = red, green, blue


def rounded_steps(light, roots, luma, chroma, dead, first, keys):
    """The same in steps of Y, Co and Cg on the scale of the square root of light.

    roots: float32 (256,): of each byte of light. luma, chroma: how large the steps are. dead: the share of a step by
    which a colour may be off before it changes.
    """
    for p in range(light.shape[1]):
        y, co, cg = np.float32(0), np.float32(0), np.float32(0)
        for f in range(light.shape[0]):
            r, g, b = roots[light[f, p, 0]], roots[light[f, p, 1]], roots[light[f, p, 2]]
            own_y = (r + np.float32(2) * g + b) / (np.float32(4) * luma)
            own_co = (r - b) / chroma
            own_cg = (np.float32(2) * g - r - b) / (np.float32(2) * chroma)
            before_y, before_co, before_cg = y, co, cg
            if f == 0 or max(magnitude(y - own_y), magnitude(co - own_co), magnitude(cg - own_cg)) > dead:
                y, co, cg = nearest(own_y), nearest(own_co), nearest(own_cg)
            luminance, orange, green = (
                np.int32(y - before_y) & 255,
                np.int32(co - before_co) & 255,
                np.int32(cg - before_cg) & 255,
            )
            if f == 0:
                first[0, p], first[1, p], first[2, p] = luminance, orange, green
            else:
                keys[p, f - 1] = luminance << 16 | orange << 8 | green
