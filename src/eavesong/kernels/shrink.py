"""Contrast shrunk: bytes drawn towards what they are on average around their moment."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.lanes import inner
from eavesong.kernels.planes import COLUMNS

ONE, HALF = np.float32(1), np.float32(0.5)


@inner
def _draw(row, mean, scale, share, out):
    """Bytes of one frame, their share of the way towards the mean, rounded."""
    for c in range(len(out)):
        own = np.float32(row[c])
        out[c] = np.uint8(np.int32(own + share[c] * (mean[c] * scale - own) + HALF))


@inner
def _move(mean, falling, rising, gone, peak, new):
    """Move a triangle on by one frame: it gains the frames after its peak, and loses those up to it."""
    for c in range(len(gone)):
        middle = np.float32(peak[c])
        mean[c] += rising[c] - falling[c]
        falling[c] += middle - np.float32(gone[c])
        rising[c] += np.float32(new[c]) - middle


@inner
def _add(total, row, times):
    for c in range(len(row)):
        total[c] += times * np.float32(row[c])


@inner
def _share(weights, pixel_of, way, share):
    """How far each byte goes towards the mean."""
    for c in range(len(pixel_of)):
        share[c] = weights[np.uint64(pixel_of[c])] * way  # unsigned: no place is counted from the end


def shrink(raw, first, width, weights, pixel_of, contrast, rows, scratch, start, stop):
    """Draw rows towards their mean over ``2 width - 1`` frames, weighted as a triangle: a box would leave a ripple.

    raw: uint8 (k, channels), frames; rows: uint8 (f, channels), set to what becomes of those from ``raw[first]`` on.
    What lies before raw's first frame or after its last is taken to be like that one. width: 256 at most, so that
    single precision holds every sum exactly. weights: float32 (f, n), 0..1; of them ``1 - contrast`` is the share of
    the way that a byte goes. pixel_of: int64 (channels,). scratch: float32 (4, COLUMNS).
    Channels from start up to stop are drawn.
    """
    last, scale, way = raw.shape[0] - 1, np.float32(1.0 / (width * width)), np.float32(1 - contrast)
    mean, falling, rising, share = scratch[0], scratch[1], scratch[2], scratch[3]
    for begin in range(start, stop, COLUMNS):
        end = min(begin + COLUMNS, stop)
        scratch[:] = 0
        for offset in range(-width + 1, width + 1):
            row = raw[min(max(first + offset, 0), last), begin:end]
            _add(mean, row, np.float32(width - abs(offset)))
            _add(rising if offset > 0 else falling, row, ONE)
        for f in range(rows.shape[0]):
            at = first + f
            _share(weights[f], pixel_of[begin:end], way, share)
            _draw(raw[at, begin:end], mean, scale, share, rows[f, begin:end])
            gone, peak = raw[max(at - width + 1, 0), begin:end], raw[min(at + 1, last), begin:end]
            _move(mean, falling, rising, gone, peak, raw[min(at + 1 + width, last), begin:end])


@inner
def _age(marks, frames):
    for p in range(len(marks)):
        frames[p] = 0 if marks[p] else frames[p] + 1


def weigh(flagged, ahead, second, fade, since, until, weights, first, last):
    """How much contrast shrinks in each of some frames: wholly in the second up to a flagged one, less over a fade on
    either side.

    flagged: uint8 (k, n), 1 or 0, of these frames and as many more as are known. ahead: frames from which none is
    seen. since: int32 (n,): frames since a flagged one, brought up to date. until: int32 (f + 1, n), scratch.
    weights: float32 (f, n), set, 0..1. Pixels from first up to last are weighed.
    """
    count = weights.shape[0]
    following, before = until[count, first:last], since[first:last]
    following[:] = ahead
    for row in range(flagged.shape[0] - 1, -1, -1):
        _age(flagged[row, first:last], following)
        if row < count:
            _copy(following, until[row, first:last])
    for row in range(count):
        _age(flagged[row, first:last], before)
        _weigh(until[row, first:last], before, np.int32(second - 1), np.float32(fade), weights[row, first:last])


@inner
def _copy(these, out):
    for p in range(len(these)):
        out[p] = these[p]


@inner
def _weigh(until, since, second, fade, weights):
    for p in range(len(weights)):
        away = min(max(until[p] - second, 0), since[p])
        weights[p] = max(ONE - np.float32(away) / fade, np.float32(0))
