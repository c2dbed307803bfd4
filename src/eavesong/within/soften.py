"""Softening: where a place, a part of the view or the whole display would flash more than three times in a second, its
contrast shrinks towards its mean of that second; a guard behind it keeps whatever is left within the limit.

Where nothing flashes too often, not a byte changes. Frames depend on all that came before them, so rendering begins
at the song's beginning whatever range is asked for. Softening comes last, after the limiter: what it leaves is what is
played, and never asks for more than the limiter allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels.calls import shrink, weigh
from eavesong.kernels.planes import COLUMNS
from eavesong.layout.view import parts_of
from eavesong.within.eyes import Crew, eyes_of
from eavesong.within.guard import Guard, flagged
from eavesong.within.limiter import Limiter, Wanted
from eavesong.within.rig import Rig

if TYPE_CHECKING:
    from eavesong.layout import Layout

Bytes = NDArray[np.uint8]

TOGETHER = 1_280_000
"""Pixels times frames that are worked on together: few frames cost looking at the second before them again, many cost
memory."""

CONTRAST = 0.05
"""Share of the contrast that is left where it would flash: with the ripple of the mean, below the tenth that counts."""


class Softener:
    """Takes frames in order from the song's first on, and gives them back softened, some frames later."""

    def __init__(self, layout: Layout, rig: Rig, frame_rate: float, limiter: Limiter | None = None) -> None:
        """limiter: what it allows still holds after softening."""
        n = len(rig.curves)
        self.parts = parts_of(layout)
        self.eyes, self.crew = eyes_of(layout, rig, frame_rate), Crew(n)
        self.second = self.eyes.second
        self.size = max(16, min(4 * self.second, TOGETHER // max(1, n)))
        """Frames that are worked on together."""
        self.waiting: list[Bytes] = []
        """Frames that nobody has looked at yet."""
        self.beside = ThreadPoolExecutor(1)
        self.looking: Future[tuple[Bytes, NDArray[np.bool_]]] | None = None
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
        """Frames in which anything was softened, of those that are wanted."""
        self.wanted = Wanted()
        self.pixel_of = np.zeros(rig.channel_count, np.int64)
        for colour in range(4):
            used = rig.places[:, colour] >= 0
            self.pixel_of[rig.places[used, colour]] = np.flatnonzero(used)
        self.guard = Guard(self.eyes, self.crew, self.parts.pixels, self.pixel_of, limiter)

    def take(self, block: Bytes) -> Bytes:
        """Take the next frames (f, channels); the frames that are ready, (g, channels), g from 0 on."""
        self.waiting.append(block)
        if sum(map(len, self.waiting)) >= self.size:
            self._gather()
            self._look()  # while what was seen before is softened
            return self._ready(self.known - self.ahead)
        return self._ready(self.at)

    def end(self) -> Bytes:
        """The frames that are left after the last block."""
        self._gather()
        self._look()
        self._gather()
        return self._ready(self.known)

    def _look(self) -> None:
        """Have somebody look at the frames that wait."""
        if self.waiting:
            block, self.waiting = joined(self.waiting), []
            self.looking = self.beside.submit(self._seen, block)

    def _seen(self, block: Bytes) -> tuple[Bytes, NDArray[np.bool_]]:
        seen, self.eyes = self.crew.look(self.eyes, block)
        return block, flagged(seen, self.parts.pixels)

    def _gather(self) -> None:
        """Wait for what was looked at."""
        if self.looking is not None:
            block, marks = self.looking.result()
            self.looking = None
            self.raw, self.flagged = np.concatenate([self.raw, block]), np.concatenate([self.flagged, marks])
            self.known += len(block)

    def _ready(self, stop: int) -> Bytes:
        """Give back the frames up to ``stop``, some at a time, and forget what is used up."""
        pieces = [np.zeros((0, self.raw.shape[1]), np.uint8)]
        while self.at < stop:
            left = stop - self.at
            count = left if left < 2 * self.size else self.size
            pieces.append(self._soften(count))
            self.at += count
            keep = max(self.at - self.back - 1, 0) - self.base
            if keep > 0:
                self.raw, self.flagged = self.raw[keep:], self.flagged[keep:]
                self.base += keep
        return joined(pieces)

    def _soften(self, count: int) -> Bytes:
        here = self.at - self.base
        raw = self.raw[here : here + count]
        near = self.flagged[here : here + count + self.ahead]
        marked, since = np.asarray(near.any(axis=1)), self.since.min()
        if not marked.any() and since >= self.fade:
            self.since += count
            rows, changed = self.guard.take(raw, raw, np.zeros(len(self.since), bool))
        else:
            touched = np.asarray(near.any(axis=0)) | (self.since < self.fade)
            rows, changed = self.guard.take(self._shrunk(raw, self._weights(near, count)), raw, touched)
            changed |= self._around(marked, int(since), count)
        self.softened += int(changed[self.wanted.of(self.at, count)].sum())
        return rows

    def _around(self, marked: NDArray[np.bool_], since: int, count: int) -> NDArray[np.bool_]:
        """(count,): frames in which contrast shrinks anywhere. marked: whether anything is flagged in them and in those
        that follow; since: frames since anything was flagged before."""
        before = np.arange(count) + 1 + since < self.fade
        flags = np.cumsum([0, *marked, *[0] * (count + self.ahead - len(marked))])
        first = np.maximum(np.arange(count) - self.fade + 1, 0)
        return before | (flags[self.ahead : self.ahead + count] > flags[first])

    def _weights(self, near: NDArray[np.bool_], count: int) -> NDArray[np.float32]:
        """(count, n): 1 in the second before a flagged frame, falling to 0 over a fade on either side."""
        n = len(self.since)
        until, weights = np.empty((count + 1, n), np.int32), np.empty((count, n), np.float32)
        marks, ahead = np.ascontiguousarray(near).view(np.uint8), self.ahead + self.second

        def part(first: int, last: int) -> None:
            """Weigh the columns of one thread."""
            weigh(marks, ahead, self.second, self.fade, self.since, until, weights, first, last)

        self.crew.share(part, n)
        return weights

    def _shrunk(self, raw: Bytes, weights: NDArray[np.float32]) -> Bytes:
        """The rows of this moment, drawn towards their mean of the second around them by ``weights``."""
        here, rows = self.at - self.base, raw.copy()
        around = self.raw[max(here - self.back, 0) : here + len(raw) + self.back]
        first = min(here, self.back)

        def part(begin: int, end: int) -> None:
            """Shrink the columns of one thread."""
            scratch = np.empty((4, COLUMNS), np.float32)
            shrink(around, first, self.back, weights, self.pixel_of, CONTRAST, rows, scratch, begin, end)

        self.crew.share(part, raw.shape[1])
        return rows


def joined(pieces: Sequence[Bytes]) -> Bytes:
    """Pieces of frames one after the other; a single one is not copied."""
    some = [piece for piece in pieces if len(piece)] or pieces
    return some[0] if len(some) == 1 else np.concatenate(some)
