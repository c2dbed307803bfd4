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

NOBODY = np.zeros(0, np.intp)

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
        self.second = eyes.second
        self.last = eyes.rows
        """The last second of frames, as they were let through."""
        self.eyes: Eyes | None = None
        """They have seen these frames; None where nobody looked, because all of them were untouched."""
        self.untouched = np.full(len(eyes.pixels.curves), self.second)
        """(n,): how many frames in a row each pixel was let through as it was found to pass."""

    def take(self, rows: Bytes, raw: Bytes, touched: Marks) -> tuple[Bytes, Marks]:
        """What becomes of ``rows`` (f, channels), and in which of them it is not ``raw``, (f,).

        raw: what they were before anything was softened: those rows are within the limiter's limits. touched: (n,): the
        pixels that were softened; every other one passes by itself in a frame before which nothing of it was changed
        for a second.
        """
        if rows is raw and self.untouched.min() >= self.second:
            self.eyes = None
            self._passed(rows)
            return rows, np.zeros(len(rows), bool)
        if self.eyes is None:
            _, self.eyes = self.crew.look(self.unused, self.last, NOBODY)
        rows = rows if self.limiter is None else self.limiter.lowered(rows, raw)
        mixed = self.crew.mixed(self.eyes, rows)
        seen, eyes = self.crew.look(self.eyes, rows, self._open(self.eyes, rows, touched), mixed)
        if not (seen.passes or seen.parts.any()):
            # As a rule it is a few pixels: they are held by themselves, which the rest may not even notice.
            chosen = np.flatnonzero(seen.pixels.any(axis=(0, 1)))
            before, rows = rows, self._some_held(rows, chosen)
            other = np.flatnonzero((rows != before).any(axis=1))
            mixed[other] = self.crew.mixed(self.eyes, rows[other])
            seen, eyes = self.crew.look(self.eyes, rows, chosen, mixed)
        if seen.passes and self._allowed(rows):
            self.eyes = eyes
            self._passed(rows)
        else:
            rows = np.concatenate([self._frame(rows[f : f + 1]) for f in range(len(rows))])
        other, touched = rows != raw, touched.copy()
        touched[self.pixel_of[other.any(axis=0)]] = True
        self.untouched = np.where(touched, 0, self.untouched + len(rows))
        return rows, np.asarray(other.any(axis=1))

    def _open(self, eyes: Eyes, rows: Bytes, touched: Marks) -> NDArray[np.intp] | None:
        """The pixels that may not pass by themselves in the rows; None where looking at all is less work."""
        chosen = np.flatnonzero(touched | (self.untouched < self.second))
        anew = len(chosen) * (len(eyes.rows) + len(rows))
        going_on = len(touched) * (len(rows) + (len(eyes.rows) if eyes.of_pixels is None else 0))
        return chosen if anew < going_on else None

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
        f, many = lead, 1
        while f < len(rows):
            stop = min(f + many, len(rows))
            over, after = eyes.look(rows[max(0, f - self.second) : stop], stop - f)
            if not over.any():
                eyes, f, many = after, stop, 2 * many
                continue
            first = f + int(over.any(axis=1).argmax())
            for held in np.flatnonzero(over[first - f]).tolist():
                rows[first, channels[held]] = rows[first - 1, channels[held]]
            eyes = eyes.look(rows[max(0, f - self.second) : first + 1], first + 1 - f)[1]
            f, many = first + 1, 1
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
