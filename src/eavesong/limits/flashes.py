"""Episodes of flashing: where and when a place, a part of the view or the whole display flashes more often than people
bear.

Two standards speak, and the stricter decides: WCAG 2.2 SC 2.3.1 with techniques G19 and G176, by which seven changes
in a second fail, three and a half flashes; ITU-R BT.1702, as secondary texts quote it, which is read in the same way
(three and a half are more than three). Only where areas count, which has to be asked for, WCAG decides and the other
is told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.layout.view import Fields, parts_of
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.meter import Seen, Watch
from eavesong.limits.moments import Moment, Moments

STERADIANS = 0.006
"""A quarter of a 10 degree field: as much may flash where areas count (WCAG 2.2)."""

BROADCAST_SHARE = 0.25
"""Share of the display that may flash (ITU-R BT.1702)."""

LONG = 5.0
"""Seconds of flashing just below the limit that may be a risk all the same (ITU-R BT.1702)."""

MOST_EPISODES = 500


@dataclass(frozen=True)
class Episode:
    """A stretch of time with more than three flashes in a second."""

    start: Moment
    end: Moment
    kinds: tuple[str, ...]
    """``general`` and ``red``."""
    whole_display: bool
    """Whether the display flashes as a whole, its mean light."""
    part: bool
    """Whether a part of the view flashes by what its pixels add up to, though they take turns."""
    transitions: int
    """The most in any second; six pass."""
    pixels: int
    """Pixels that flash too often at one time or another, or whose part of the view does."""
    props: tuple[str, ...]
    square_metres: float
    """The largest area that flashes too often at the same time."""
    steradians: float
    """The same as seen from the stated distance."""
    field_share: float
    """The largest share of any 10 degree field that flashes too often; above 0.25 it is large (WCAG 2.2)."""


@dataclass(frozen=True)
class Flashes:
    """What the frames do to eyes."""

    episodes: tuple[Episode, ...]
    more_episodes: int
    """Beyond those that are listed."""
    most_transitions: int
    """The most in any second of any pixel, of any part of the view, or of the display."""
    broadcast_share: float
    """The largest share of the display with more than three flashes in a second (ITU-R BT.1702 count)."""
    broadcast_passes: bool
    longest: float
    """Seconds that a place goes on at five transitions in a second or more."""
    allowed: bool
    """Whether the show says that it may flash."""
    distance: float
    """Metres from the nearest eye to the display, as looked at."""
    origin: float = 0.0
    """Seconds into the song at which the frames begin."""

    @property
    def passes(self) -> bool:
        """Whether nothing flashes more often than three times in a second."""
        return not self.episodes and not self.more_episodes


@dataclass
class _Open:
    """An episode that may still go on."""

    first: int
    last: int
    pixels: NDArray[np.bool_]
    kinds: set[str] = field(default_factory=set)
    whole: bool = False
    part: bool = False
    transitions: int = 0
    area: float = 0.0
    share: float = 0.0


class FlashFinder:
    """Gathers episodes from what the meter sees, block after block."""

    def __init__(self, layout: Layout, assumed: Assumptions, frame_rate: float, song: Moments, start: float) -> None:
        self.layout, self.assumed, self.song = layout, assumed, song
        self.frame_rate, self.start = frame_rate, start
        self.second = math.ceil(frame_rate - 1e-6)
        self.distance = layout.watched_from if assumed.distance is None else assumed.distance
        self.parts = parts_of(layout, self.distance)
        self.areas, self.whole_area = self.parts.area, float(self.parts.area.sum())
        self.fields = Fields(layout, self.areas, self.distance)
        self.open: _Open | None = None
        self.episodes: list[Episode] = []
        self.more = 0
        self.broadcast = 0.0

    def __call__(self, seen: Seen) -> None:
        """Take what was seen in a block of frames."""
        worst = np.maximum(seen.over.max(axis=2, initial=0), seen.parts.max(axis=2))
        bad = np.flatnonzero(worst.any(axis=0))
        if not len(bad):
            return
        places = (seen.over[0] | seen.over[1])[bad] > 0
        parts = (seen.parts[0, bad] | seen.parts[1, bad]) > 0
        for rows in _runs(parts[:, 1:]):
            places[rows] |= self.parts.pixels(parts[rows.start, 1:])
        cells = self.fields.areas_of(places)
        areas, shares = cells.sum(axis=1), self.fields.largest_shares(cells)
        for row, (f, area, share) in enumerate(zip(bad.tolist(), areas.tolist(), shares.tolist(), strict=True)):
            whole = bool(parts[row, 0])
            self.broadcast = max(self.broadcast, 1.0 if whole else area / self.whole_area)
            if whole or not self._is_small(share):
                now = self._opened(seen.first + f)
                now.pixels |= places[row]
                now.area, now.share = max(now.area, area), max(now.share, share)
                now.whole, now.part = now.whole or whole, now.part or bool(parts[row, 1:].any())
                now.kinds |= {name for name, most in zip(("general", "red"), worst[:, f], strict=True) if most}
                now.transitions = max(now.transitions, int(worst[:, f].max()))

    def _is_small(self, share: float) -> bool:
        """Whether areas count, and this share of a field is no more than a quarter."""
        return self.assumed.area and share <= STERADIANS / self.fields.steradians

    def _opened(self, frame: int) -> _Open:
        """The episode that this frame belongs to."""
        if self.open is not None and frame - self.open.last > self.second:
            self.close()
        if self.open is None:
            self.open = _Open(frame, frame, np.zeros(len(self.areas), bool))
        self.open.last = frame
        return self.open

    def close(self) -> None:
        """End the episode that is open."""
        now, self.open = self.open, None
        if now is None:
            return
        if len(self.episodes) == MOST_EPISODES:
            self.more += 1
            return
        start = self.start + max(0, now.first - self.second + 1) / self.frame_rate
        end = self.start + now.last / self.frame_rate
        marked = None if now.whole else now.pixels
        props = sorted({int(p) for p in self.layout.pixels.prop[now.pixels]})
        self.episodes.append(
            Episode(
                start=self.song.moment(start, end, marked),
                end=self.song.moment(end, None, marked),
                kinds=tuple(sorted(now.kinds)),
                whole_display=now.whole,
                part=now.part,
                transitions=now.transitions,
                pixels=int(now.pixels.sum()),
                props=tuple(self.layout.props[p].name for p in props),
                square_metres=now.area,
                steradians=now.area / self.distance**2,
                field_share=now.share,
            )
        )

    @property
    def any(self) -> bool:
        """Whether anything was found yet."""
        return self.open is not None or bool(self.episodes)

    def result(self, watch: Watch, allowed: bool) -> Flashes:
        """Everything found, after the last block."""
        self.close()
        limit = BROADCAST_SHARE if self.assumed.area else 0.0
        return Flashes(
            tuple(self.episodes), self.more, watch.eyes.most, self.broadcast, self.broadcast <= limit,
            watch.eyes.longest / self.frame_rate, allowed, self.distance, self.start,
        )  # fmt: skip


def _runs(rows: NDArray[np.bool_]) -> Iterator[slice]:
    """Stretches of equal ``rows`` (f, n): what flashes is the same in most frames."""
    changes = np.flatnonzero((rows[1:] != rows[:-1]).any(axis=1)) + 1
    for first, end in pairwise([0, *changes.tolist(), len(rows)]):
        yield slice(first, end)
