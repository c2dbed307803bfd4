"""Moments of a song as people say them: clock, bar and the cues that are lit, from what a frames file was made of."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.music import BeatGrid
    from eavesong.scene import PlacedCue, Reopened


@dataclass(frozen=True)
class Moment:
    """A moment of the song."""

    seconds: float
    clock: str
    """``1:02.50``."""
    bar: str
    """``17.3``: bar and beat, from 1; empty where no beats are known."""
    cues: tuple[str, ...]
    """The cues that are lit, the topmost first; those that only darken where light comes and goes."""

    def __str__(self) -> str:
        bar = f", bar {self.bar}" if self.bar else ""
        cues = f", {', '.join(self.cues[:3])}" if self.cues else ""
        more = f" and {len(self.cues) - 3} more" if len(self.cues) > 3 else ""
        return f"{self.clock}{bar}{cues}{more}"


class Moments:
    """Names moments of a reopened frames file. What its texts do not tell leaves moments without bars or cues."""

    def __init__(self, reopened: Reopened, layout: Layout) -> None:
        self.reopened, self.layout = reopened, layout

    @property
    def grid(self) -> BeatGrid | None:
        """The beats the frames were made to."""
        return self.reopened.grid

    @cached_property
    def cues(self) -> tuple[PlacedCue, ...]:
        """The cues of the show, placed on the layout; none where they cannot be placed."""
        return self.reopened.placed_on(self.layout)

    def moment(self, seconds: float, end: float | None = None, pixels: NDArray[np.bool_] | None = None) -> Moment:
        """The moment at ``seconds``, with the cues that are lit from then until ``end``, on ``pixels`` (n,)."""
        from eavesong.scene.timeline import bar_text

        bar = bar_text(seconds, self.grid) if self.grid is not None else ""
        lit = [
            cue.name
            for cue in reversed(self.cues)
            if _is_lit(cue, seconds, end or seconds, pixels) and (end is not None or cue.does != "darkens")
        ]
        return Moment(seconds, clock_text(seconds), bar, tuple(lit))


def _is_lit(cue: PlacedCue, start: float, end: float, pixels: NDArray[np.bool_] | None) -> bool:
    if not any(span.start <= end and start < span.end for span in cue.spans):
        return False
    return bool(cue.weight.any() if pixels is None else (cue.weight[pixels] > 0).any())
