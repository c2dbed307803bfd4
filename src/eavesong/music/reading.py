"""What was heard in a song: readings of its beats, the most likely one first, and how sure each is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from eavesong.music.grid import BeatGrid


@dataclass(frozen=True)
class Wishes:
    """What somebody knows about a song before it is heard; None where listening decides."""

    tempo: float | None = None
    """Beats a minute, as somebody taps: the nearest tempo that the song supports is taken."""
    metre: int | None = None
    """Beats in every bar."""
    first_downbeat: float | None = None
    """Seconds; bar 1 begins at the beat nearest to it."""


NO_WISHES = Wishes()


@dataclass(frozen=True)
class Reading:
    """One way to hear a song's beats."""

    grid: BeatGrid
    confidence: float
    """0 to 1: the share of beats that is right in songs of which as much was heard."""
    sure: tuple[float, ...]
    """The same for each beat of the grid, from the sound around it."""
    about: str
    """What tells this reading from the first one, such as ``half the tempo``; empty for the first."""
