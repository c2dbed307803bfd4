"""Who feeds which pixel through which wire: the power entries of a layout, put together and checked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import advise
from eavesong.layout.assigned import assigned, conductor_of, stretches
from eavesong.layout.faults import Faults
from eavesong.layout.kinds import GENERIC, USUAL, Conductor, PixelType
from eavesong.layout.names import advise_member
from eavesong.layout.orders import Orders
from eavesong.layout.patch import Member, Patch
from eavesong.words import METRES

if TYPE_CHECKING:
    from eavesong.layout import model, power

Path = tuple[str | int, ...]

LEAD = Conductor(gauge=16)
"""Of leads about which the layout says nothing."""


@dataclass(frozen=True)
class Lead:
    """A cable of two equal conductors."""

    conductor: Conductor
    length: float | None
    """Metres, one way; None: as long as the way from the supply is."""
    bundled: int = 1
    """Cables in its bundle, itself counted."""


@dataclass(frozen=True)
class Injection:
    """Where a supply's lead meets a string."""

    position: int
    """Along the string, from 0."""
    lead: Lead | None
    """None: one of the house's usual leads, as long as the way from the supply is."""
    entry: int | None = None
    """Which of its feed's ``inject`` it is, from 0 in the order of the file; None: where the feed begins."""


@dataclass(frozen=True)
class Feed:
    """A stretch of a string, ``start`` up to but not including ``stop``, and where one supply meets it."""

    string: int
    """Index into ``PowerPlan.strings``."""
    start: int
    stop: int
    points: tuple[Injection, ...]
    """In the order of the string; the first one at ``start``."""


@dataclass(frozen=True)
class Supply:
    """A power supply."""

    name: str
    volts: float
    watts: float
    """Its rating."""
    usable: float
    """Share of the rating that is planned with."""
    efficiency: float
    feeds: tuple[Feed, ...]
    power_factor: float = 0.6
    at: tuple[float, float, float] | None = None
    """Metres in the file's own axes; None: at the first pixel it feeds."""


@dataclass(frozen=True, eq=False)
class String:
    """The pixels of one output in the order of its wire."""

    controller: str
    output: int
    pixels: NDArray[np.int64]
    nulls: tuple[tuple[int, int], ...] = ()
    """Position of a pixel along the string, from 0, and how many dark pixels before it only pass the signal on."""

    @property
    def null_pixels(self) -> int:
        """Dark pixels in all."""
        return sum(count for _, count in self.nulls)

    def null_slots(self, widths: NDArray[np.int8]) -> int:
        """Slots that its dark pixels take; ``widths`` (pixels of the house,): channels of each pixel. A dark pixel has
        as many as the one behind it."""
        return sum(count * int(widths[self.pixels[position]]) for position, count in self.nulls)

    @property
    def name(self) -> str:
        """``porch box, output 2``."""
        return f"{self.controller}, output {self.output}"


@dataclass(frozen=True, eq=False)
class PowerPlan:
    """Everything the layout says about power."""

    types: tuple[PixelType, ...]
    type: NDArray[np.int16]
    """(n,): each pixel's kind, an index into ``types``."""
    strings: tuple[String, ...] = ()
    supplies: tuple[Supply, ...] = ()
    celsius: float = 20.0
    """Temperature of the copper."""
    free_outputs: dict[str, int] | None = None
    """Unused outputs of each controller that says how many it has."""
    lead: Conductor = LEAD
    """Of leads that name nothing."""
    extension: Conductor | None = None
    """Of cables between props; None: the wire of the later prop's kind."""
    connector_amperes: float | None = None
    places: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    """Where controllers hang, in metres in the file's own axes; those that say so."""
    metres: float = 1.0
    """In one of the file's units."""
    unsaid: NDArray[np.bool_] | None = None
    """(n,): whether nothing says of a pixel what kind it is, so that the usual one is taken; None: of every pixel."""

    @property
    def taken_for_granted(self) -> NDArray[np.bool_]:
        """(n,): whether a pixel's kind is only the usual one, because nothing says which it is."""
        return np.ones(len(self.type), np.bool_) if self.unsaid is None else self.unsaid


def plain_plan(pixel_count: int) -> PowerPlan:
    """The plan of a layout that says nothing about power: the usual kind of pixel everywhere."""
    return PowerPlan((GENERIC[USUAL],), np.zeros(pixel_count, np.int16))


def plan_power(house: model.House, members: Sequence[Member], patch: Patch, faults: Faults) -> PowerPlan:
    """The power plan of ``house``; ``patch`` is its patch, ``members`` its props in pixel order.

    What is wrong goes into ``faults``: unknown kinds, outputs and props, supplies of other volts than their pixels,
    pixels fed twice.
    """
    types, kind_of, unsaid = assigned(house, members, faults)
    strings = _strings(house, members, patch)
    planner = _Feeds(house, members, strings, types, kind_of, faults)
    supplies = tuple(planner.supply(s, entry) for s, entry in enumerate(house.supply))
    for path, found in _four_colours(house, patch, types, kind_of):
        faults.add(path, found, "Name a kind with four currents in 'amperes', or another 'order'.")
    for path, found, instead in Orders(house).short():
        faults.add(path, found, instead)
    free = {box.name: box.outputs - len(box.output) for box in house.controller if box.outputs is not None}
    metres, stated = METRES[house.units], house.power
    places = {box.name: _metres(box.at, metres) for box in house.controller if box.at is not None}
    return PowerPlan(
        types, kind_of, strings, supplies, stated.celsius, free, conductor_of(stated.lead),
        None if stated.extension is None else conductor_of(stated.extension), stated.connector_amperes, places, metres,
        unsaid,
    )  # fmt: skip


def _metres(place: tuple[float, float, float], metres: float) -> tuple[float, float, float]:
    x, y, z = place
    return x * metres, y * metres, z * metres


def _strings(house: model.House, members: Sequence[Member], patch: Patch) -> tuple[String, ...]:
    """The pixels of every output in wire order, from the patch, which has them in that order."""
    rows: dict[tuple[str, int], list[NDArray[np.int64]]] = {}
    for run in patch.runs:
        pixels = np.arange(run.first_pixel, run.first_pixel + run.pixel_count, dtype=np.int64)
        row = rows.setdefault((run.controller, run.output), [])
        # A pixel that is split between two universes stands in two runs.
        row.append(pixels[1:] if row and len(row[-1]) and row[-1][-1] == pixels[0] else pixels)
    return tuple(
        String(box.name, output.number, np.concatenate(rows[box.name, output.number]), _nulls(output, members))
        for box in house.controller
        for output in box.output
        if (box.name, output.number) in rows
    )


def _nulls(output: model.Output, members: Sequence[Member]) -> tuple[tuple[int, int], ...]:
    found, position = [(0, output.null_pixels)], 0
    for link in output.chain:
        found.append((position, link.null_pixels))
        position += sum(stop - start for start, stop in stretches(link, members))
    return tuple((place, count) for place, count in found if count)


def _four_colours(
    house: model.House, patch: Patch, types: Sequence[PixelType], kind_of: NDArray[np.int16]
) -> Iterator[tuple[Path, str]]:
    """Outputs that drive a fourth colour of pixels that have none."""
    three = np.array([len(kind.amperes) < 4 for kind in types])[kind_of]
    told = set()
    for run in patch.runs:
        where = (run.controller, run.output)
        if len(run.order) == 4 and three[run.first_pixel] and where not in told:
            told.add(where)
            path = next(
                ("controller", c, "output", o)
                for c, box in enumerate(house.controller)
                for o, output in enumerate(box.output)
                if (box.name, output.number) == where
            )
            yield path, f"'{run.prop}' has white, and its pixels '{types[kind_of[run.first_pixel]].name}' have none"


class _Feeds:
    """Finds the stretches that supplies feed, and claims their pixels."""

    def __init__(
        self, house: model.House, members: Sequence[Member], strings: Sequence[String],
        types: Sequence[PixelType], kind_of: NDArray[np.int16], faults: Faults,
    ) -> None:  # fmt: skip
        self.metres = METRES[house.units]
        self.members, self.strings = members, strings
        self.types, self.kind_of, self.faults = types, kind_of, faults
        self.home = np.full(len(kind_of), -1, np.int32)
        self.names: list[str] = []

    def supply(self, s: int, entry: power.SupplyEntry) -> Supply:
        """The supply with all of its feeds that make sense."""
        path = ("supply", s)
        if entry.name in self.names:
            self.faults.add((*path, "name"), f"two supplies are called '{entry.name}'", "Rename one.")
        self.names.append(entry.name)
        feeds = [self._feed((*path, "feed", f), entry, feed) for f, feed in enumerate(entry.feed)]
        found = tuple(feed for feed in feeds if feed is not None)
        return Supply(
            entry.name, entry.volts, entry.watts, entry.usable, entry.efficiency, found, entry.power_factor,
            None if entry.at is None else _metres(entry.at, self.metres),
        )  # fmt: skip

    def _feed(self, path: Path, supply: power.SupplyEntry, feed: power.FeedEntry) -> Feed | None:
        index = self._string(path, feed)
        if index is None:
            return None
        stretch = self._stretch(path, feed, self.strings[index])
        if stretch is None or not self._claim(path, supply, index, stretch):
            return None
        points = [Injection(stretch[0], self._lead(feed.lead))]
        for i, entry in enumerate(feed.inject):
            where: Path = (*path, "inject", i)
            position = self._position(where, entry, self.strings[index], stretch)
            if position in [point.position for point in points]:
                self.faults.add(where, f"pixel {position + 1} of the output is fed twice", "Take out one of both.")
            elif position is not None:
                points.append(Injection(position, self._lead(entry.lead), i))
        return Feed(index, *stretch, tuple(sorted(points, key=lambda point: point.position)))

    def _lead(self, lead: power.LeadEntry | None) -> Lead | None:
        if lead is None:
            return None
        length = None if lead.length is None else lead.length * self.metres
        return Lead(conductor_of(lead), length, lead.bundled)

    def _string(self, path: Path, feed: power.FeedEntry) -> int | None:
        for index, string in enumerate(self.strings):
            if (string.controller, string.output) == (feed.controller, feed.output):
                return index
        boxes = {string.controller for string in self.strings}
        if feed.controller not in boxes:
            advice = advise(feed.controller, boxes, "controller")
            self.faults.add((*path, "controller"), f"no controller is called '{feed.controller}'", advice)
        else:
            numbers = ", ".join(str(s.output) for s in self.strings if s.controller == feed.controller)
            found = f"'{feed.controller}' has no output {feed.output}"
            advice = f"It has {numbers}. If the output was taken out, take out this feed, and a supply without any."
            self.faults.add((*path, "output"), found, advice)
        return None

    def _stretch(self, path: Path, feed: power.FeedEntry, string: String) -> tuple[int, int] | None:
        count = len(string.pixels)
        if feed.pixels is not None:
            first, last = feed.pixels
            if not first <= last <= count:
                found = f"{string.name} has no pixels {first} to {last}"
                self.faults.add((*path, "pixels"), found, f"Its pixels are numbered 1 to {count}.")
                return None
            return first - 1, last
        if feed.props is None:
            return 0, count
        positions: list[int] = []
        for name in feed.props:
            found_here = self._positions(name, string)
            if not found_here:
                self._not_here((*path, "props"), name, string)
                return None
            positions += found_here
        positions.sort()
        if any(b - a > 1 for a, b in pairwise(positions)):
            found = f"these props do not follow each other on {string.name}"
            self.faults.add((*path, "props"), found, "Write a feed for each group of neighbours.")
            return None
        return positions[0], positions[-1] + 1

    def _positions(self, name: str, string: String) -> list[int]:
        """Where on the string the pixels of the prop or row called ``name`` are."""
        ranges = [(m.start, m.stop) for m in self.members if name in (m.name, m.member_of)]
        inside = np.zeros(len(string.pixels), bool)
        for start, stop in ranges:
            inside |= (string.pixels >= start) & (string.pixels < stop)
        return [int(position) for position in np.flatnonzero(inside)]

    def _not_here(self, path: Path, name: str, string: String) -> None:
        here = {
            known
            for m in self.members
            if ((string.pixels >= m.start) & (string.pixels < m.stop)).any()
            for known in (m.name, m.member_of)
        }
        many = Counter(m.member_of for m in self.members)
        advice = advise_member(name, {row: count if count > 1 else 0 for row, count in many.items()})
        self.faults.add(path, f"no prop on {string.name} is called '{name}'", advice or advise(name, here, "prop"))

    def _position(
        self, path: Path, entry: power.InjectionEntry, string: String, stretch: tuple[int, int]
    ) -> int | None:
        positions = self._positions(entry.prop, string)
        if not positions:
            self._not_here((*path, "prop"), entry.prop, string)
            return None
        position = positions[-1]
        if entry.pixel is not None:
            first = min(m.start for m in self.members if entry.prop in (m.name, m.member_of))
            at = np.flatnonzero(string.pixels == first + entry.pixel - 1)
            if not len(at) or int(at[0]) not in positions:
                found = f"'{entry.prop}' has no pixel {entry.pixel} on {string.name}"
                self.faults.add((*path, "pixel"), found, f"It has {len(positions)} pixels there.")
                return None
            position = int(at[0])
        if not stretch[0] <= position < stretch[1]:
            found = f"'{entry.prop}' lies outside the stretch that this feeds"
            self.faults.add(path, found, "Widen 'props' or 'pixels', or write a feed of its own.")
            return None
        return position

    def _claim(self, path: Path, supply: power.SupplyEntry, index: int, stretch: tuple[int, int]) -> bool:
        string = self.strings[index]
        pixels = string.pixels[slice(*stretch)]
        taken = self.home[pixels]
        if (taken >= 0).any():
            twice = int(np.flatnonzero(taken >= 0)[0]) + stretch[0] + 1
            who = self.names[int(taken.max())]
            found = f"pixel {twice} of {string.name} is fed twice: by '{who}' and by '{supply.name}'"
            self.faults.add(path, found, "Narrow one of the stretches with 'props' or 'pixels'.")
            return False
        self.home[pixels] = len(self.names) - 1
        for kind in sorted({int(k) for k in self.kind_of[pixels]}):
            needed = self.types[kind]
            if abs(needed.volts - supply.volts) > 0.1 * needed.volts:
                found = (
                    f"'{supply.name}' gives {supply.volts:g} V, and its pixels '{needed.name}' need {needed.volts:g} V"
                )
                self.faults.add(path, found, "Check 'volts', or the output's 'pixel_type'.")
        return True
