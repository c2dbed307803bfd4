"""The last guard against flashes: what would change too often keeps the bytes it has."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels.eyes import Changes, Eyes
from eavesong.within.eyes import Crew
from eavesong.within.limiter import Limiter

Bytes = NDArray[np.uint8]
Marks = NDArray[np.bool_]
PixelsOf = Callable[[Marks], Marks]
"""The pixels (n,) of some of the parts (m,) of the view."""

TRIES = 3
"""Times that some pixels of a frame are held before all of them are."""


class Guard:
    """Takes frames as they are to be, in order, and makes them pass the eyes, and the limiter where there is one.

    A frame that is the same as the one before always passes: it adds no change, and draws no more.
    """

    def __init__(
        self, eyes: Eyes, crew: Crew, pixels_of: PixelsOf, pixel_of: NDArray[np.int64], limiter: Limiter | None = None
    ) -> None:
        """eyes: that have seen nothing yet. pixel_of: (channels,): the pixel that each channel belongs to."""
        self.unused, self.crew, self.limiter = eyes, crew, limiter
        self.pixels_of, self.pixel_of = pixels_of, pixel_of
        self.second = len(eyes.of_pixels.history)
        self.last = eyes.rows
        """The last second of frames, as they were let through."""
        self.eyes: Eyes | None = None
        """They have seen these frames; None where nobody looked, because all of them were untouched."""
        self.untouched = self.second
        """How many frames in a row were let through as they were found to pass."""

    def take(self, rows: Bytes, raw: Bytes) -> Bytes:
        """What becomes of ``rows`` (f, channels). raw: what they were before anything was softened: those rows are
        within the limiter's limits, and where ``rows`` is ``raw``, they pass if the second before them was untouched.
        """
        if rows is raw and self.untouched >= self.second:
            self.eyes = None
            self._passed(rows)
            return rows
        if self.eyes is None:
            _, self.eyes = self.crew.look(self.unused, self.last)
        rows = rows if self.limiter is None else self.limiter.lowered(rows, raw)
        seen, eyes = self.crew.look(self.eyes, rows)
        if not (seen.passes or seen.parts.any()):
            # As a rule it is a few pixels: they are held by themselves, which the rest may not even notice.
            rows = self._some_held(rows, np.flatnonzero(seen.pixels.any(axis=(0, 1))))
            seen, eyes = self.crew.look(self.eyes, rows)
        if seen.passes and self._allowed(rows):
            self.eyes = eyes
            self._passed(rows)
        else:
            rows = np.concatenate([self._frame(rows[f : f + 1]) for f in range(len(rows))])
        same = (rows == raw).all(axis=1)
        self.untouched = self.untouched + len(rows) if same.all() else int(same[::-1].argmin())
        return rows

    def _passed(self, rows: Bytes) -> None:
        self.last = np.concatenate([self.last, rows])[-self.second :]

    def _allowed(self, rows: Bytes) -> bool:
        return self.limiter is None or bool(self.limiter.allows(rows).all())

    def _some_held(self, rows: Bytes, chosen: NDArray[np.intp]) -> Bytes:
        """Frames in which some pixels, each by itself, keep the bytes they have where they would change too often."""
        assert self.eyes is not None
        rows, lead = np.concatenate([self.eyes.rows, rows]), len(self.eyes.rows)
        eyes = self.eyes.some(chosen)
        channels = [np.flatnonzero(self.pixel_of == pixel) for pixel in chosen.tolist()]
        for f in range(lead, len(rows)):
            since = max(0, f - self.second)
            over, after = eyes.look(rows[since : f + 1])
            for held in np.flatnonzero(over).tolist():
                rows[f, channels[held]] = rows[f - 1, channels[held]]
            eyes = eyes.look(rows[since : f + 1])[1] if over.any() else after
        return rows[lead:]

    def _frame(self, row: Bytes) -> Bytes:
        """One frame (1, channels) that passes."""
        assert self.eyes is not None
        held = self.last[-1:] if len(self.last) else row
        for _ in range(TRIES):
            seen, eyes = self.eyes.on(row)
            if seen.passes and self._allowed(row):
                break
            if seen.passes or seen.parts[:, 0, 0].any():
                row = held
            else:
                row = np.where(flagged(seen, self.pixels_of)[:, self.pixel_of], held, row)
        else:
            row = held
            _, eyes = self.eyes.on(row)
        self.eyes = eyes
        self._passed(row)
        return row


def flagged(seen: Changes, pixels_of: PixelsOf) -> Marks:
    """(f, n): the pixels that flash too often in the second up to each frame, or whose part of the view does."""
    out: Marks = np.any(seen.pixels, axis=0)
    parts: Marks = np.any(seen.parts, axis=0)
    for f in np.flatnonzero(parts.any(axis=1)).tolist():
        out[f] |= parts[f, 0] or pixels_of(parts[f, 1:])
    return out
