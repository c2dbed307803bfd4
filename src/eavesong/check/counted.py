"""Cues that count bars in beats, of which a bar has another number by now: a song heard in two, three or four."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from eavesong.music.made_for import made_for

if TYPE_CHECKING:
    from collections.abc import Iterator

    from eavesong.music.grid import BeatGrid
    from eavesong.show import Show
    from eavesong.show.model import Cue


@dataclass(frozen=True)
class Recounted:
    """What was written for bars of another number of beats."""

    then: int
    """Beats of most bars when the show was written."""
    now: int
    cues: tuple[tuple[int, str], ...]
    """The number of each cue that counts whole bars in beats, from 0, and where it does: ``beats = 12``."""

    def __str__(self) -> str:
        """``most bars have 2 beats now, and had 3``."""
        return f"most bars have {self.now} beat{'s' if self.now > 1 else ''} now, and had {self.then}"


def recounted_in(grid: BeatGrid, show: Show, sound: str) -> Recounted | None:
    """The cues of ``show`` that count whole bars in beats, where most bars have another number of them now; None where
    they have as many, or where the show was written for another ``sound``, by its SHA-256."""
    then, now = show.bar_beats, grid.usual_beats
    if then in (0, now) or made_for(show.text) not in ("", sound):
        return None
    found = [(at, next(_counting(cue, show, then), "")) for at, cue in enumerate(show.cues)]
    cues = tuple((at, where) for at, where in found if where)
    return Recounted(then, now, cues) if cues else None


def _counting(cue: Cue, show: Show, bar: int) -> Iterator[str]:
    """Where a cue counts whole bars of so many beats."""
    effect = show.effects[cue.effect]
    for name, value in cue.parameters.items():
        known = effect.parameters.get(name)
        if known and known.unit == "beats" and isinstance(value, float) and _whole_bars(value, bar):
            yield f"{name} = {value:g}"
    if any(_whole_bars(end - start, bar) for start, end in cue.beats or ()):
        yield "'beats'"
    if cue.beats and cue.every and _whole_bars(cue.every, bar):
        yield f"every = {cue.every:g}"


def _whole_bars(beats: float, bar: int) -> bool:
    """Whether so many beats, of which there are fewer than none the other way round, are bars of several."""
    return bar > 1 and abs(beats) >= bar and beats % bar == 0
