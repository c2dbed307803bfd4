"""Frames within limits: softened, then dimmed, on their way from the renderer to the file.

The frames that are asked for depend on frames around them, which are computed too and not kept. So it still does not
matter to a byte which range is rendered, in what blocks, or by how many workers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.render.limiter import Limiter, limits_from
from eavesong.render.rig import rig_of
from eavesong.render.soften import BUDGET, SPARE, Softener

if TYPE_CHECKING:
    from eavesong.layout import Layout

Bytes = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Within:
    """The stages that frames go through."""

    softener: Softener | None
    limiter: Limiter | None

    def around(self, first: int, count: int, frames_in_song: int) -> tuple[int, int]:
        """The frames to compute, first and count, so that ``count`` from ``first`` on can be given back."""
        begin, end = first, first + count
        if self.limiter is not None:
            begin -= self.limiter.envelope.behind
            end += self.limiter.envelope.ahead
        if self.softener is not None:
            begin = 0
            end += self.softener.ahead
        begin, end = max(0, begin), min(end, max(frames_in_song, first + count))
        return begin, end - begin

    def pass_through(self, blocks: Iterator[Bytes], skip: int, count: int, size: int) -> Iterator[Bytes]:
        """What becomes of ``blocks`` of frames: ``count`` of them after ``skip``, in blocks of ``size``."""
        waiting: list[Bytes] = []
        kept = 0
        for rows in self._staged(blocks):
            wanted = rows[skip : skip + count - kept]
            skip = max(0, skip - len(rows))
            kept += len(wanted)
            waiting.append(wanted)
            if sum(map(len, waiting)) >= size or kept == count:
                joined = np.concatenate(waiting)
                whole = len(joined) if kept == count else len(joined) // size * size
                for at in range(0, whole, size):
                    yield np.ascontiguousarray(joined[at : min(at + size, whole)])
                waiting = [joined[whole:]]
            if kept == count:
                return

    def _staged(self, blocks: Iterator[Bytes]) -> Iterator[Bytes]:
        for stage in (self.softener, self.limiter):
            if stage is not None:
                blocks = _through(stage, blocks)
        return blocks

    def notes(self, frame_rate: float) -> tuple[str, ...]:
        """What was done, in words; empty where nothing had to be."""
        told = []
        if self.softener is not None:
            frames = self.softener.softened
            told.append(f"softened {frames / frame_rate:.1f} s" if frames else "nothing to soften")
        if self.limiter is not None:
            low, frames = self.limiter.lowest, self.limiter.dimmed
            told.append(f"dimmed {frames / frame_rate:.1f} s, to {low:.0%} at most" if frames else "nothing to dim")
        return tuple(told)


def _through(stage: Softener | Limiter, blocks: Iterator[Bytes]) -> Iterator[Bytes]:
    for block in blocks:
        yield stage.take(block)
    yield stage.end()


def within(layout: Layout, frame_rate: float, limits: Sequence[str], soften: bool) -> Within:
    """The stages for ``limits`` as written (``supply``, ``output:4A``, ``house:1500W``) and ``soften``.

    Raises LayoutError for a limit that cannot be read, or that the layout cannot be held to.
    """
    rig, asked = rig_of(layout), limits_from(limits)
    softener = Softener(rig, frame_rate, BUDGET - SPARE if asked else BUDGET) if soften else None
    return Within(softener, Limiter(layout, rig, asked, frame_rate) if asked else None)
