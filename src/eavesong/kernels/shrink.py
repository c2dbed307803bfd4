"""Contrast shrunk: bytes drawn towards what they are on average around their moment."""

from __future__ import annotations

import numpy as np
from numba import njit, types

from eavesong.kernels.store import kept

COLUMNS = 1024
"""Channels that are worked on together."""


@njit(nogil=True, error_model="numpy", inline="never")
def _draw(row, mean, scale, weight, pixel_of, way, begin, end, out):
    for c in range(begin, end):
        own = np.float32(row[c])
        out[c] = np.uint8(np.rint(own + weight[pixel_of[c]] * way * (np.float32(mean[c - begin]) * scale - own)))


def _shrink(raw, first, width, weights, pixel_of, contrast, rows):
    """Draw rows towards their mean over ``2 width - 1`` frames, weighted as a triangle: a box would leave a ripple.

    raw: uint8 (k, channels), frames; rows: uint8 (f, channels), set where they change, from ``raw[first]`` on. What
    lies before raw's first frame or after its last is taken to be like that one. weights: float32 (f, n), 0..1; of
    them ``1 - contrast`` is the share of the way that a byte goes. pixel_of: int64 (channels,).
    """
    count, last = rows.shape[0], raw.shape[0] - 1
    mean, falling, rising = np.zeros(COLUMNS, np.int32), np.zeros(COLUMNS, np.int32), np.zeros(COLUMNS, np.int32)
    scale = np.float32(1.0 / (width * width))
    for begin in range(0, raw.shape[1], COLUMNS):
        end = min(begin + COLUMNS, raw.shape[1])
        mean[:], falling[:], rising[:] = 0, 0, 0
        for offset in range(-width + 1, width):
            row = raw[min(max(first + offset, 0), last)]
            for c in range(end - begin):
                mean[c] += (width - abs(offset)) * row[begin + c]
        # A triangle moved on by one frame gains the frames after its peak and loses those up to it.
        for offset in range(width):
            early, late = raw[min(max(first - offset, 0), last)], raw[min(max(first + 1 + offset, 0), last)]
            for c in range(end - begin):
                falling[c] += early[begin + c]
                rising[c] += late[begin + c]
        for f in range(count):
            at = first + f
            _draw(raw[at], mean, scale, weights[f], pixel_of, np.float32(1 - contrast), begin, end, rows[f])
            gone, peak = raw[min(max(at - width + 1, 0), last)], raw[min(at + 1, last)]
            new = raw[min(at + 1 + width, last)]
            for c in range(end - begin):
                mean[c] += rising[c] - falling[c]
                falling[c] += np.int32(peak[begin + c]) - np.int32(gone[begin + c])
                rising[c] += np.int32(new[begin + c]) - np.int32(peak[begin + c])


_U8, _I32, _I64, _F32 = types.uint8, types.int32, types.int64, types.float32
shrink = kept(
    _shrink,
    types.void(_U8[:, ::1], _I64, _I64, _F32[:, ::1], _I64[::1], types.float64, _U8[:, ::1]),
    nogil=True,
    error_model="numpy",
)
