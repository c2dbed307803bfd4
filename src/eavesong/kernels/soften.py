"""The last guard against flashes: a place that would change too often keeps the bytes it has."""

from __future__ import annotations

import numpy as np
from numba import njit, types

from eavesong.kernels.flash import FIXED, KNOWN, place_light, step
from eavesong.kernels.store import kept


def _guard(rows, held, places, curves, tables, state, marks, counts, history, at, budget):
    """Make a block of frames pass, in place.

    rows: uint8 (f, channels), the frames that are wanted. held: uint8 (channels,): the frame before, replaced by
    the last one. places, curves, tables: see ``watch.watch``. state: float32 (n + 1, 5), marks: int8 (n + 1, 4),
    counts: int32 (n + 1, 2), history: uint8 (frames of a second, n + 1): of each place, and last of the display.
    at: number of the first frame. budget: transitions that a second may hold.
    """
    n, second = len(curves), history.shape[0]
    new_state, new_marks = state.copy(), marks.copy()
    found = np.zeros(n + 1, np.uint8)
    for f in range(rows.shape[0]):
        row, slot = rows[f], (at + f) % second
        first = marks[n, KNOWN] == 0
        total = np.zeros(3, np.int64)
        for p in range(n):
            r, g, b = place_light(row, places, tables, curves[p], p)
            new_state[p], new_marks[p] = state[p], marks[p]
            found[p] = step(r, g, b, new_state[p], new_marks[p])
            if found[p] and _exceeds(found[p], counts[p], history[slot, p], budget):
                _keep(row, held, places[p])
                new_state[p], new_marks[p] = state[p], marks[p]
                found[p] = 0
                r, g, b = place_light(row, places, tables, curves[p], p)
            total[0] += np.int64(r * np.float32(FIXED))
            total[1] += np.int64(g * np.float32(FIXED))
            total[2] += np.int64(b * np.float32(FIXED))
        mean = total / (FIXED * max(1, n))
        new_state[n], new_marks[n] = state[n], marks[n]
        r, g, b = np.float32(mean[0]), np.float32(mean[1]), np.float32(mean[2])
        found[n] = step(r, g, b, new_state[n], new_marks[n])
        if first or not _exceeds(found[n], counts[n], history[slot, n], budget):
            state[:] = new_state
            marks[:] = new_marks
        else:
            row[:] = held
            found[:] = 0
        for p in range(n + 1):
            gone = history[slot, p]
            counts[p, 0] += (found[p] & 1) - (gone & 1)
            counts[p, 1] += (found[p] >> 1) - (gone >> 1)
            history[slot, p] = found[p]
        held[:] = row


@njit(nogil=True, error_model="numpy")
def _exceeds(found, counts, gone, budget):
    """Whether what was found in a frame brings the last second above the budget."""
    general = counts[0] + (found & 1) - (gone & 1)
    red = counts[1] + (found >> 1) - (gone >> 1)
    return found > 0 and (general > budget or red > budget)


@njit(nogil=True, error_model="numpy")
def _keep(row, held, place):
    for c in range(4):
        if place[c] >= 0:
            row[place[c]] = held[place[c]]


_U8 = types.uint8
guard = kept(
    _guard,
    types.void(
        _U8[:, ::1], _U8[::1], types.int64[:, ::1], types.int16[::1], types.float32[:, ::1], types.float32[:, ::1],
        types.int8[:, ::1], types.int32[:, ::1], _U8[:, ::1], types.int64, types.int64,
    ),
    nogil=True,
    error_model="numpy",
)  # fmt: skip
