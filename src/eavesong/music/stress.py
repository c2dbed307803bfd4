"""Stresses: beats on which more begins than on those beside them, and than on half of the song's."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.events import Event

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from eavesong.music.grid import BeatGrid
    from eavesong.music.signals import Signals

    Floats = NDArray[np.float64]

BEFORE, AFTER = 0.03, 0.06
"""Seconds around a moment within which a sound begins with it."""
LEAST = 0.5
"""Share of the song's beats on which less begins, at least."""
CLOSEST = 0.7
"""Seconds between two stresses at least, so that light may answer each of them."""


def find_stresses(signals: Signals, grid: BeatGrid) -> list[Event]:
    """The beats on which more begins than on any beside them and on half of all, by the share of beats with less.

    None lies nearer than `CLOSEST` to another.
    """
    begun = begins_at(signals, grid.times)
    ranks = np.searchsorted(np.sort(begun), begun) / max(len(begun) - 1, 1)
    found: list[Event] = []
    for number, (time, force) in enumerate(zip(grid.times, begun.tolist(), strict=True)):
        beside = [*begun[max(number - 1, 0) : number], *begun[number + 1 : number + 2]]
        if force <= max(beside, default=0.0) or ranks[number] < LEAST:
            continue
        stress = Event(round(float(time), 3), "stress", round(float(ranks[number]), 3))
        if found and stress.time - found[-1].time < CLOSEST:
            if stress.strength <= found[-1].strength:
                continue
            found.pop()
        found.append(stress)
    return found


def begins_at(signals: Signals, seconds: ArrayLike) -> Floats:
    """How much begins at ``seconds`` (n,): the largest mean rise of the bands within a moment of each, 0 to 1."""
    times, rises = np.asarray(seconds, np.float64), _rises(signals)
    if not len(rises):
        return np.zeros(len(times))
    around = np.arange(-round(BEFORE * signals.frame_rate), round(AFTER * signals.frame_rate) + 1)
    frames = np.round(times * signals.frame_rate).astype(int)[:, None] + around
    begun: Floats = rises[np.clip(frames, 0, len(rises) - 1)].max(axis=1)
    return begun


@lru_cache(maxsize=1)  # drafts ask the same song about every part of it
def _rises(signals: Signals) -> Floats:
    """The mean rise (f,) of the bands in each frame, 0 to 1."""
    bands = signals.spectrum.astype(np.int16)
    rises: Floats = np.maximum(np.diff(bands, axis=0, prepend=bands[:1]), 0).mean(axis=1) / 255
    return rises
