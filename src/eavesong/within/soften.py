"""Softening: where a place, or the display as a whole, would flash more than three times in a second, its contrast
shrinks towards its mean of that second; a guard behind it keeps whatever is left within the limit.

Where nothing flashes too often, not a byte changes. Frames depend on all that came before them, so rendering begins
at the song's beginning whatever range is asked for.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels import flash, soften, watch
from eavesong.within.rig import Rig

Bytes = NDArray[np.uint8]

BUDGET = 6
"""Transitions in any second that are let through: three flashes (WCAG 2.2 technique G19)."""

SPARE = 2
"""Transitions fewer where a limiter dims the frames afterwards: its slow fall and rise may each add one."""

CONTRAST = 0.05
"""Share of the contrast that is left where it would flash: with the ripple of the mean, below the tenth that counts."""


class Softener:
    """Takes frames in order from the song's first on, and gives them back softened, some frames later."""

    def __init__(self, rig: Rig, frame_rate: float, budget: int = BUDGET) -> None:
        n = len(rig.curves)
        self.rig, self.budget = rig, budget
        self.second = math.ceil(frame_rate - 1e-6)
        self.fade = max(1, self.second // 2)
        """Frames over which contrast shrinks and grows again."""
        self.ahead = self.second - 1 + self.fade
        self.back = max(1, self.second // 2)
        self.at = 0
        """Number of the next frame to give back."""
        self.base = 0
        """Number of the first row of ``raw`` and ``flagged``."""
        self.known = 0
        self.raw = np.zeros((0, rig.channel_count), np.uint8)
        self.flagged = np.zeros((0, n), bool)
        self.since = np.full(n, self.ahead, np.int32)
        """Frames since each place was flagged."""
        self.softened = 0
        """Frames in which anything was softened."""
        self._watched = np.zeros((watch.STATE, n), np.float32), np.zeros((self.second, n), np.uint8)
        self._display = (np.zeros(5, np.float32), np.zeros(4, np.int8))
        self._display_history = np.zeros((self.second, 2), np.int64)
        self._guarded = (
            np.zeros((n + 1, 5), np.float32), np.zeros((n + 1, 4), np.int8), np.zeros((n + 1, 2), np.int32),
            np.zeros((self.second, n + 1), np.uint8),
        )  # fmt: skip
        self._held = np.zeros(rig.channel_count, np.uint8)
        channels = np.zeros(rig.channel_count, np.int64)
        for colour in range(4):
            used = rig.places[:, colour] >= 0
            channels[rig.places[used, colour]] = np.flatnonzero(used)
        self._pixel_of = channels

    def take(self, block: Bytes) -> Bytes:
        """Take the next frames (f, channels); the frames that are ready, (g, channels), g from 0 on."""
        self.flagged = np.concatenate([self.flagged, self._flag(block)])
        self.raw = np.concatenate([self.raw, block])
        self.known += len(block)
        return self._ready(self.known - self.ahead)

    def end(self) -> Bytes:
        """The frames that are left after the last block."""
        return self._ready(self.known)

    def _flag(self, block: Bytes) -> NDArray[np.bool_]:
        """(f, n): the places that have flashed too often in the second up to each frame."""
        rig, n = self.rig, len(self.rig.curves)
        over, light = np.zeros((2, len(block), n), np.uint8), np.zeros((len(block), 3), np.int64)
        watch.watch(
            block, rig.places, rig.curves, rig.tables, *self._watched, self.known, 0, n, BUDGET, over, light
        )  # fmt: skip
        whole = self._flag_display((light / (flash.FIXED * max(1, n))).astype(np.float32))
        return np.asarray(over.any(axis=0) | whole[:, None])

    def _flag_display(self, light: NDArray[np.float32]) -> NDArray[np.bool_]:
        out = np.zeros(len(light), bool)
        for f, (r, g, b) in enumerate(light):
            found = int(flash.step(r, g, b, *self._display))
            self._display_history[(self.known + f) % self.second] = found & 1, found >> 1
            out[f] = self._display_history.sum(axis=0).max() > BUDGET
        return out

    def _ready(self, stop: int) -> Bytes:
        """Give back the frames up to ``stop``, in pieces no longer than a second, and forget what is used up."""
        pieces = [np.zeros((0, self.rig.channel_count), np.uint8)]
        while self.at < stop:
            count = min(stop - self.at, self.second)
            pieces.append(self._soften(count))
            self.at += count
            keep = max(self.at - self.back - 1, 0) - self.base
            if keep > 0:
                self.raw, self.flagged = self.raw[keep:], self.flagged[keep:]
                self.base += keep
        return np.concatenate(pieces)

    def _soften(self, count: int) -> Bytes:
        here = self.at - self.base
        rows = self.raw[here : here + count].copy()
        weights = self._weights(count)
        if weights.any():
            self._shrink(rows, weights)
        rig = self.rig
        before = rows.copy()
        soften.guard(rows, self._held, rig.places, rig.curves, rig.tables, *self._guarded, self.at, self.budget)
        self.softened += int(((rows != before).any(axis=1) | weights.any(axis=1)).sum())
        return rows

    def _weights(self, count: int) -> NDArray[np.float32]:
        """(count, n): 1 in the second before a flagged frame, falling to 0 over the fade on either side."""
        n = len(self.since)
        here = self.at - self.base
        if not self.flagged[here:].any() and self.since.min() >= self.fade:
            self.since += count
            return np.zeros((count, n), np.float32)
        until = np.zeros((count, n), np.int32)
        next_flag = np.full(n, self.ahead + self.second, np.int32)
        for row in range(min(len(self.flagged) - here, count + self.ahead) - 1, -1, -1):
            next_flag = np.where(self.flagged[here + row], 0, next_flag + 1)
            if row < count:
                until[row] = next_flag
        weights = np.zeros((count, n), np.float32)
        for row in range(count):
            self.since = np.where(self.flagged[here + row], 0, self.since + 1).astype(np.int32)
            distance = np.minimum(np.maximum(until[row] - (self.second - 1), 0), self.since)
            weights[row] = np.maximum(1 - distance / self.fade, 0)
        return weights

    def _shrink(self, rows: Bytes, weights: NDArray[np.float32]) -> None:
        """Draw the rows of this moment towards their mean of the second around them, by ``weights``, in place."""
        means = self._means(len(rows))
        for row in np.flatnonzero(weights.any(axis=1)).tolist():
            own = weights[row][self._pixel_of] * np.float32(1 - CONTRAST)
            rows[row] = np.rint(rows[row] + own * (means[row] - rows[row])).astype(np.uint8)

    def _means(self, count: int) -> NDArray[np.float32]:
        """(count, channels): means over the second around the next frames, weighted as a triangle: a box would
        leave a ripple. Before the song's first frame and after its last, those frames are taken to go on."""
        width = self.back
        first = self.at - self.base - (width - 1)
        last = self.at - self.base + count + width - 1
        around = self.raw[max(first, 0) : last]
        missing = max(-first, 0), last - max(first, 0) - len(around)
        whole = np.pad(around, (missing, (0, 0)), mode="edge").astype(np.int32)
        sums = _sums(_sums(whole, width), width)
        return (sums / np.float32(width * width)).astype(np.float32)


def _sums(rows: NDArray[np.int32], width: int) -> NDArray[np.int32]:
    """Sums of ``width`` rows from each on, as long as there are so many."""
    total = np.cumsum(rows, axis=0, dtype=np.int32)
    total[width:] -= total[:-width].copy()
    return total[width - 1 :]
