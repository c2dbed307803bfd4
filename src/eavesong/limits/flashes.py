"""Episodes of flashing: where and when a place, or the display as a whole, flashes more often than people bear.

Sources: WCAG 2.2 SC 2.3.1 with techniques G19 and G176; ITU-R BT.1702, as secondary texts quote it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.meter import LIMIT, Seen, Watch
from eavesong.limits.moments import Moment, Song

Floats = NDArray[np.float64]

FIELD_DEGREES = 10.0
"""The field of view within which areas are added up (WCAG 2.2, general flash)."""

STERADIANS = 0.006
"""A quarter of that field: as much may flash where areas count (WCAG 2.2)."""

BROADCAST = 8
"""Transitions of more than three whole flashes in a second (ITU-R BT.1702)."""

BROADCAST_SHARE = 0.25
"""Share of the display that may flash (ITU-R BT.1702)."""

LONG = 5.0
"""Seconds of flashing just below the limit that may be a risk all the same (ITU-R BT.1702)."""

MOST_EPISODES = 500
LONE = 0.05
"""Metres across that a pixel without a neighbour is taken to be."""


@dataclass(frozen=True)
class Episode:
    """A stretch of time with more than three flashes in a second."""

    start: Moment
    end: Moment
    kinds: tuple[str, ...]
    """``general`` and ``red``."""
    whole_display: bool
    """Whether the display flashes as a whole, its mean light."""
    transitions: int
    """The most in any second; six pass."""
    pixels: int
    """Places that flash too often at one time or another."""
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
    """The most in any second of any place or of the display."""
    broadcast_share: float
    """The largest share of the display with more than three whole flashes in a second (ITU-R BT.1702 count)."""
    broadcast_passes: bool
    longest: float
    """Seconds that a place goes on at five transitions in a second or more."""
    allowed: bool
    """Whether the show says that it may flash."""
    origin: float = 0.0
    """Seconds into the song at which the frames begin."""

    @property
    def passes(self) -> bool:
        """Whether nothing flashes more often than three times in a second."""
        return not self.episodes and not self.more_episodes


def pixel_areas(layout: Layout) -> Floats:
    """(n,) square metres each pixel stands for: its pitch along the wire by that across, or squared."""
    pixels = layout.pixels
    along = np.sqrt(sum(pixels.step[axis].astype(np.float64) ** 2 for axis in "XYZ"))
    across = np.sqrt(sum(pixels.across[axis].astype(np.float64) ** 2 for axis in "XYZ"))
    along = np.where(along > 0, along, LONE)
    return np.asarray(along * np.where(across > 0, across, along))


@dataclass
class _Open:
    """An episode that may still go on."""

    first: int
    last: int
    pixels: NDArray[np.bool_]
    kinds: set[str] = field(default_factory=set)
    whole: bool = False
    transitions: int = 0
    area: float = 0.0
    share: float = 0.0


class FlashFinder:
    """Gathers episodes from what the meter sees, block after block."""

    def __init__(self, layout: Layout, assumed: Assumptions, frame_rate: float, song: Song, start: float) -> None:
        self.layout, self.assumed, self.song = layout, assumed, song
        self.frame_rate, self.start = frame_rate, start
        self.second = math.ceil(frame_rate - 1e-6)
        self.areas = pixel_areas(layout)
        self.fields = Fields(layout, self.areas, assumed.distance)
        self.open: _Open | None = None
        self.episodes: list[Episode] = []
        self.more = 0
        self.display_most = 0
        self.broadcast = 0.0

    def __call__(self, seen: Seen) -> None:
        """Take what was seen in a block of frames."""
        display = seen.display.max(axis=1)
        self.display_most = max(self.display_most, int(display.max(initial=0)))
        worst = seen.over.max(axis=2)
        bad = np.flatnonzero(worst.any(axis=0) | (display > LIMIT))
        if not len(bad):
            return
        places = (seen.over[0, bad] | seen.over[1, bad]) > 0
        areas = places @ self.areas
        for row, f in enumerate(bad.tolist()):
            most = np.maximum(worst[:, f], seen.display[f])
            if most.max() >= BROADCAST:
                self._broadcast(seen.over[:, f].max(axis=0), int(display[f]))
            whole = bool(display[f] > LIMIT)
            if whole or not self._is_small(places[row], float(areas[row])):
                self._extend(seen.first + f, places[row], float(areas[row]), whole)
                self._note(most)

    def _is_small(self, places: NDArray[np.bool_], area: float) -> bool:
        """Whether areas count and this one is below a quarter of any field."""
        if not self.assumed.area:
            return False
        allowed = STERADIANS / self.fields.steradians
        return area <= allowed * self.fields.field_area or self.fields.largest_share(places) <= allowed

    def _broadcast(self, counts: NDArray[np.uint8], display: int) -> None:
        if self.broadcast < 1.0:
            share = 1.0 if display >= BROADCAST else float(self.areas[counts >= BROADCAST].sum() / self.areas.sum())
            self.broadcast = max(self.broadcast, share)

    def _extend(self, frame: int, places: NDArray[np.bool_], area: float, whole: bool) -> None:
        if self.open is not None and frame - self.open.last > self.second:
            self.close()
        if self.open is None:
            self.open = _Open(frame, frame, np.zeros(len(places), bool))
        now = self.open
        now.last = frame
        now.pixels |= places
        now.whole |= whole
        now.area = max(now.area, area)
        # No field can hold more than there is: only where that could be a new maximum is it worth a closer look.
        if min(1.0, area / self.fields.field_area) > now.share:
            now.share = max(now.share, self.fields.largest_share(places))

    def _note(self, most: NDArray[np.int64]) -> None:
        """most: (2,) the most general and red transitions of any place or of the display."""
        assert self.open is not None
        for kind, name in enumerate(("general", "red")):
            if most[kind] > LIMIT:
                self.open.kinds.add(name)
        self.open.transitions = max(self.open.transitions, int(most.max()))

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
                transitions=now.transitions,
                pixels=int(now.pixels.sum()),
                props=tuple(self.layout.props[p].name for p in props),
                square_metres=now.area,
                steradians=now.area / self.assumed.distance**2,
                field_share=now.share,
            )
        )

    def result(self, watch: Watch, allowed: bool) -> Flashes:
        """Everything found, after the last block."""
        self.close()
        most = max(watch.most, self.display_most)
        limit = BROADCAST_SHARE if self.assumed.area else 0.0
        longest = watch.longest / self.frame_rate
        return Flashes(
            tuple(self.episodes), self.more, most, self.broadcast, self.broadcast <= limit, longest, allowed,
            self.start,
        )  # fmt: skip


class Fields:
    """Adds up areas within any 10 degree field, as seen from the street."""

    CELLS = 4
    """Cells across a field. Areas are added over one cell more, so that no position of the field is missed."""

    def __init__(self, layout: Layout, areas: Floats, distance: float) -> None:
        self.width = 2 * distance * math.tan(math.radians(FIELD_DEGREES / 2))
        """Metres across the field: 0.175 of the distance."""
        self.steradians = 2 * math.pi * (1 - math.cos(math.radians(FIELD_DEGREES / 2)))
        self.field_area = self.steradians * distance**2
        cell = self.width / self.CELLS
        x, y = layout.pixels.X.astype(np.float64), layout.pixels.Y.astype(np.float64)
        column = ((x - x.min()) / cell).astype(np.int64)
        row = ((y - y.min()) / cell).astype(np.int64)
        self.shape = (int(row.max()) + 1, int(column.max()) + 1)
        self.cell = row * self.shape[1] + column
        self.areas = areas

    def largest_share(self, places: NDArray[np.bool_]) -> float:
        """The largest share of any field that ``places`` (n,) cover, 1 at most; never less than it is."""
        cells = np.bincount(self.cell[places], self.areas[places], self.shape[0] * self.shape[1]).reshape(self.shape)
        sums = np.pad(np.cumsum(np.cumsum(cells, axis=0), axis=1), ((1, 0), (1, 0)))
        span = self.CELLS + 1
        top = np.minimum(np.arange(self.shape[0]) + span, self.shape[0])
        right = np.minimum(np.arange(self.shape[1]) + span, self.shape[1])
        low, left = np.arange(self.shape[0]), np.arange(self.shape[1])
        inside = sums[np.ix_(top, right)] - sums[np.ix_(low, right)] - sums[np.ix_(top, left)] + sums[np.ix_(low, left)]
        return float(min(1.0, inside.max() / self.field_area))
