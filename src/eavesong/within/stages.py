"""Frames within limits: dimmed, then softened, on their way from the renderer to the file.

The frames that are asked for depend on frames around them, which are computed too and not kept. So it still does not
matter to a byte which range is rendered, in what blocks, or by how many workers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.within.limiter import Floats, Gains, Limiter, Wanted, limits_from
from eavesong.within.rig import rig_of
from eavesong.within.soften import Softener, joined

if TYPE_CHECKING:
    from eavesong.layout import Layout

Bytes = NDArray[np.uint8]


Measured = tuple[Bytes, Floats | None]


@dataclass(eq=False)
class Pieces:
    """Frames in pieces, with gains of as many frames in each; cutting copies nothing."""

    rows: list[Bytes] = field(default_factory=list)
    gains: list[Gains] = field(default_factory=list)

    def __len__(self) -> int:
        return sum(map(len, self.rows))

    def extend(self, other: Pieces) -> None:
        """Put the frames of another part behind these."""
        self.rows += other.rows
        self.gains += other.gains

    def cut(self, first: int, end: int) -> Pieces:
        """The frames from ``first`` up to ``end``, as far as there are any."""
        out, at = Pieces(), 0
        for rows, gains in zip(self.rows, self.gains, strict=True):
            here = slice(max(first - at, 0), max(end - at, 0))
            if len(rows[here]):
                out.extend(Pieces([rows[here]], [gains[here]]))
            at += len(rows)
        return out

    def with_gains(self, gains: Gains) -> Pieces:
        """The same frames with these gains, (f, kinds)."""
        edges = np.cumsum([0, *map(len, self.rows)]).tolist()
        return Pieces(self.rows, [gains[a:b] for a, b in pairwise(edges)])


def _undimmed(rows: Bytes) -> Pieces:
    return Pieces([rows], [np.ones((len(rows), 0), np.float32)])


@dataclass(frozen=True, eq=False)
class Within:
    """The stages that frames go through."""

    limiter: Limiter | None
    softener: Softener | None

    def around(self, first: int, count: int, frames_in_song: int) -> tuple[int, int]:
        """The frames to compute, first and count, so that ``count`` from ``first`` on can be given back."""
        begin, end = first, first + count
        if self.softener is not None:
            begin = 0
            end += self.softener.ahead
        if self.limiter is not None:
            begin -= self.limiter.envelope.behind
            end += self.limiter.envelope.ahead
        begin, end = max(0, begin), min(end, max(frames_in_song, first + count))
        return begin, end - begin

    def measured(self, block: Bytes) -> Measured:
        """A block of frames as computed, with what it asks for where there is a limit; for any thread."""
        return block, self.limiter.asked(block) if self.limiter is not None else None

    def pass_through(self, blocks: Iterable[Measured], skip: int, count: int, size: int) -> Iterator[Pieces]:
        """What becomes of ``blocks`` in order: ``count`` frames after ``skip``, in parts of ``size`` to be finished."""
        waiting = Pieces()
        kept = 0
        for stage in (self.limiter, self.softener):
            if stage is not None:
                stage.wanted = Wanted(skip, skip + count)
        for part in self._softened(self._limited(blocks)):
            wanted = part.cut(skip, skip + count - kept)
            skip = max(0, skip - len(part))
            kept += len(wanted)
            waiting.extend(wanted)
            while len(waiting) >= size or (kept == count and len(waiting)):
                yield waiting.cut(0, size)
                waiting = waiting.cut(size, len(waiting))
            if kept == count:
                return

    def finished(self, part: Pieces) -> Bytes:
        """The frames of a part (f, channels), dimmed where they have to be and are not yet; for any thread."""
        return joined(part.rows) if self.softener is not None else self._dimmed(part)

    def _dimmed(self, part: Pieces) -> Bytes:
        if self.limiter is None:
            return joined(part.rows)
        block = np.concatenate(part.rows)  # a copy, as it is dimmed in place
        self.limiter.dim(block, np.concatenate(part.gains))
        return block

    def _softened(self, parts: Iterable[Pieces]) -> Iterator[Pieces]:
        if self.softener is None:
            yield from parts
            return
        for part in parts:
            if len(part):
                yield _undimmed(self.softener.take(self._dimmed(part)))
        yield _undimmed(self.softener.end())

    def _limited(self, blocks: Iterable[Measured]) -> Iterator[Pieces]:
        if self.limiter is None:
            yield from (_undimmed(block) for block, _ in blocks)
            return
        waiting = Pieces()
        for block, asked in blocks:
            assert asked is not None, "a block is measured where there is a limit"
            gains = self.limiter.take(asked)
            waiting.extend(_undimmed(block))
            yield waiting.cut(0, len(gains)).with_gains(gains)
            waiting = waiting.cut(len(gains), len(waiting))
        yield waiting.with_gains(self.limiter.end())

    def notes(self, frame_rate: float) -> tuple[str, ...]:
        """What was done, in words; empty where nothing had to be."""
        told = []
        if self.limiter is not None:
            low, frames = self.limiter.lowest, self.limiter.dimmed
            told.append(
                f"dimmed for {frames / frame_rate:.1f} s, down to {low:.0%}"
                if frames
                else "nothing to dim, all draw less"
            )
        if self.limiter is not None and self.limiter.unfed:
            count = "1 pixel is" if self.limiter.unfed == 1 else f"{self.limiter.unfed:,} pixels are"
            told.append(f"{count} not limited: no supply of the layout feeds them")
        if self.softener is not None:
            frames = self.softener.softened
            told.append(f"softened {frames / frame_rate:.1f} s" if frames else "no flashes that had to be softened")
        return tuple(told)


def within(layout: Layout, frame_rate: float, limits: Sequence[str], soften: bool) -> Within:
    """The stages for ``limits`` as written (``supply``, ``output:4A``, ``house:1500W``) and ``soften``.

    Raises LayoutError for a limit that cannot be read, or that the layout cannot be held to.
    """
    rig, asked = rig_of(layout), limits_from(limits)
    limiter = Limiter(layout, rig, asked, frame_rate) if asked else None
    return Within(limiter, Softener(layout, rig, frame_rate, limiter) if soften else None)
