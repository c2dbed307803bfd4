"""Circuits: each stretch of a string with what feeds it, as a ladder of resistances."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.layout.feeds import Feed, Injection, Supply
from eavesong.layout.kinds import Conductor
from eavesong.limits.ampacity import allowed_amperes
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.cables import links_of
from eavesong.limits.copper import loop_ohms
from eavesong.limits.ladder import Ladder

Floats = NDArray[np.float64]
Pixels = NDArray[np.int64]


@dataclass(frozen=True)
class FeedPoint:
    """A place where a supply meets a string."""

    position: int
    """Along the string, from 0."""
    wire: Conductor | None = None
    """Of the lead; None: the supply sits right there."""
    metres: float = 0.0
    """Of the lead, one way, slack included: what is bought, and what the voltage falls over."""
    cables: int = 1
    """In the lead's bundle, itself counted."""
    measured: bool = True
    """Whether the layout gives its length; else it is the straight distance with slack and spare."""


@dataclass(frozen=True, eq=False)
class Run:
    """The wire along a string: what joins each pixel to the next."""

    metres: Floats
    """(n - 1,)."""
    gap: NDArray[np.bool_]
    """(n - 1,): whether it is a cable: from one prop to the next, or farther than strings reach."""
    wire: NDArray[np.int64]
    """(n - 1,): index into ``wires``."""
    wires: tuple[Conductor, ...]
    ohms: Floats
    """(n - 1,), out and back."""
    allowed: Floats
    """(n - 1,) amperes."""

    def part(self, start: int, stop: int) -> Run:
        """The wire between the pixels from ``start`` up to but not including ``stop``."""
        inside = slice(start, max(start, stop - 1))
        return Run(
            self.metres[inside], self.gap[inside], self.wire[inside], self.wires, self.ohms[inside],
            self.allowed[inside],
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Circuit:
    """Pixels in a row on one wire that are fed together."""

    name: str
    string: str
    """The output's name; the prop's in a draft without controllers."""
    supply: int | None
    """Index of the layout's supply; None: none is named, and an ideal one at the first pixel is taken."""
    pixels: Pixels
    """In wire order."""
    first_position: int
    """Of the first pixel along the string, from 0."""
    points: tuple[FeedPoint, ...]
    volts: float
    """Of the supply."""
    run: Run
    celsius: float
    lowest_volts: Floats
    """(pixels,): what each one needs."""
    tail_amperes: float
    """What the wire that each pixel hangs on may carry, at least."""

    @cached_property
    def ladder(self) -> Ladder:
        """Its resistances."""
        leads = [loop_ohms(point.wire, point.metres, self.celsius) if point.wire else 0.0 for point in self.points]
        at = np.array([point.position - self.first_position for point in self.points], np.int64)
        return Ladder(self.volts, self.run.ohms, at, np.array(leads, np.float64))

    @cached_property
    def thinnest(self) -> float:
        """Amperes that all wire along it may carry: a fault anywhere on it is fed through every lead."""
        return min(self.tail_amperes, float(self.run.allowed.min(initial=np.inf)))

    def own_allowed(self, point: FeedPoint) -> float:
        """Amperes that a lead may carry; of the string's wire where the supply sits right there."""
        if point.wire is None:
            return self.tail_amperes
        return allowed_amperes(point.wire, self.celsius, point.cables)

    def lead_allowed(self, point: FeedPoint) -> float:
        """Amperes above which the fuse of a lead must blow: the least of the lead and of the string."""
        return min(self.own_allowed(point), self.thinnest)

    def fed_at(self, points: Iterable[FeedPoint]) -> Circuit:
        """The same pixels, fed otherwise."""
        return replace(self, points=tuple(points))


class WireFinder:
    """Finds the wire of a layout: strings, leads and distances."""

    def __init__(self, layout: Layout, assumed: Assumptions) -> None:
        self.layout, self.assumed, self.plan = layout, assumed, layout.power
        at = layout.pixels
        self.places = np.stack([at.X, at.Y, at.Z], axis=1).astype(np.float64)
        """(n, 3) metres from the frame's corner."""

    def run(self, pixels: Pixels) -> Run:
        """The wire along ``pixels``: that of the later one's kind, and extensions wherever it is a cable."""
        plan = self.plan
        metres, gap = links_of(self.layout, pixels, self.assumed)
        wires = tuple(kind.wire for kind in plan.types) + ((plan.extension,) if plan.extension else ())
        wire = plan.type[pixels[1:]].astype(np.int64)
        if plan.extension is not None:
            wire = np.where(gap, len(wires) - 1, wire)
        each = np.array([loop_ohms(one, 1.0, plan.celsius) for one in wires])
        allowed = np.array([allowed_amperes(one, plan.celsius) for one in wires])
        return Run(metres, gap, wire, wires, metres * each[wire], allowed[wire])

    def circuit(
        self, name: str, string: str, supply: int | None, pixels: Pixels, start: int, points: Sequence[FeedPoint],
        run: Run | None = None, volts: float | None = None,
    ) -> Circuit:  # fmt: skip
        """A circuit of ``pixels`` that begins at position ``start`` of the string."""
        plan = self.plan
        kinds = plan.type[pixels]
        if volts is None:
            volts = plan.supplies[supply].volts if supply is not None else plan.types[kinds[0]].volts
        tail = min(allowed_amperes(plan.types[kind].wire, plan.celsius) for kind in np.unique(kinds).tolist())
        return Circuit(
            name, string, supply, pixels, start, tuple(points), volts, run or self.run(pixels), plan.celsius,
            np.array([kind.lowest_volts for kind in plan.types])[kinds], tail,
        )  # fmt: skip

    def home(self, supply: Supply) -> Floats:
        """Where a supply hangs, (3,) metres from the frame's corner: as it says, else at the first pixel it feeds."""
        if supply.at is not None:
            return np.asarray(supply.at) - self.layout.frame.origin
        feed = supply.feeds[0]
        return np.asarray(self.places[self.plan.strings[feed.string].pixels[feed.start]])

    def points(self, supply: Supply, feed: Feed) -> tuple[FeedPoint, ...]:
        """Where ``supply`` meets the stretch, with the leads as they are or as they must be."""
        string = self.plan.strings[feed.string]
        return tuple(self._point(supply, entry, int(string.pixels[entry.position])) for entry in feed.points)

    def _point(self, supply: Supply, entry: Injection, pixel: int) -> FeedPoint:
        lead = entry.lead
        if lead is not None and lead.length is not None:
            return FeedPoint(entry.position, lead.conductor, lead.length * (1 + self.assumed.slack), lead.bundled)
        metres = self.reach(self.home(supply), pixel)
        wire, cables = (self.plan.lead, 1) if lead is None else (lead.conductor, lead.bundled)
        return FeedPoint(entry.position, wire, metres, cables, measured=False)

    def reach(self, place: Floats, pixel: int) -> float:
        """Metres of cable from ``place`` (3,) to a pixel: the straight distance with slack and spare."""
        straight = float(np.linalg.norm(self.places[pixel] - place))
        return straight * (1 + self.assumed.slack) + self.assumed.spare


def circuits_of(layout: Layout, assumed: Assumptions) -> tuple[Circuit, ...]:
    """Every pixel of the house in exactly one circuit: fed stretches, what no supply feeds, props of a draft."""
    wiring, power = WireFinder(layout, assumed), layout.power
    found: list[Circuit] = []
    for s, string in enumerate(power.strings):
        run = wiring.run(string.pixels)
        fed = sorted(
            (feed.start, feed.stop, number, wiring.points(supply, feed))
            for number, supply in enumerate(power.supplies)
            for feed in supply.feeds
            if feed.string == s
        )
        volts = np.array([kind.volts for kind in power.types])[power.type[string.pixels]]
        for start, stop, supply_index, points in _filled(fed, volts):
            pixels = string.pixels[start:stop]
            name = string.name
            if stop - start < len(string.pixels):
                name += f", pixels {start + 1} to {stop}"
            part = run.part(start, stop)
            found.append(wiring.circuit(name, string.name, supply_index, pixels, start, points, part))
    if not power.strings:
        for prop in layout.props:
            pixels = np.arange(prop.start, prop.stop)
            found.append(wiring.circuit(prop.name, prop.name, None, pixels, 0, (FeedPoint(0),)))
    return tuple(found)


Stretch = tuple[int, int, int | None, tuple[FeedPoint, ...]]


def _filled(fed: list[tuple[int, int, int, tuple[FeedPoint, ...]]], volts: Floats) -> Iterator[Stretch]:
    """The fed stretches of a string, and those between them that no supply feeds, each of pixels of the same volts."""
    at = 0
    for start, stop, supply, points in fed:
        yield from _unfed(at, start, volts)
        yield start, stop, supply, points
        at = stop
    yield from _unfed(at, len(volts), volts)


def _unfed(start: int, stop: int, volts: Floats) -> Iterator[Stretch]:
    changes = np.flatnonzero(np.diff(volts[start:stop])) + 1 + start
    for first, end in pairwise([start, *changes.tolist(), stop]):
        if first < end:
            yield first, end, None, (FeedPoint(first),)


@dataclass(frozen=True)
class Gap:
    """A cable on a string: from the end of one prop to the start of the next, or from strand to strand of one."""

    string: str
    before: str
    """The prop of the last pixel before it."""
    last: int
    """That pixel's number there, from 1."""
    after: str
    first: int
    metres: float
    """Straight distance with slack and spare."""
    wire: Conductor
    nulls: int
    """Dark pixels on the way that freshen up the signal."""
    joined: bool
    """Whether one supply feeds both ends: else ground and data go on, and the positive does not."""


@dataclass(frozen=True)
class Cut:
    """A place on a string where one circuit ends and the next begins: the positive is cut there."""

    string: str
    before: tuple[str, int]
    """The last pixel of one: its prop and its number there."""
    after: tuple[str, int]
    position: int
    """Of the first pixel behind it, along the string from 1."""
    fed: bool
    """Whether a supply feeds both sides; else one side has none yet."""


def gaps_of(layout: Layout, circuits: Sequence[Circuit], assumed: Assumptions) -> tuple[Gap, ...]:
    """Every extension, string by string in wire order."""
    wiring, gaps = WireFinder(layout, assumed), []
    cut = {(cut.string, cut.position) for cut in cuts_of(layout, circuits)}
    for string in layout.power.strings:
        run, nulls = wiring.run(string.pixels), dict(string.nulls)
        for position in np.flatnonzero(run.gap).tolist():
            before, after = (pixel_name(layout, int(string.pixels[position + end])) for end in (0, 1))
            joined = (string.name, position + 2) not in cut
            wire, metres = run.wires[run.wire[position]], float(run.metres[position])
            gaps.append(Gap(string.name, *before, *after, metres, wire, nulls.get(position + 1, 0), joined))
    return tuple(gaps)


def way_text(before: str, last: int, after: str, first: int) -> str:
    """Between which props a cable goes, or inside one between which of its pixels: ``'net' pixel 20 to pixel 21``.

    last: 0 where ``before`` is a controller.
    """
    return f"'{before}' pixel {last} to pixel {first}" if before == after and last else f"'{before}' to '{after}'"


def cuts_of(layout: Layout, circuits: Sequence[Circuit]) -> tuple[Cut, ...]:
    """Every place where the positive of a string is cut, because what feeds it changes."""
    return tuple(
        Cut(
            one.string, pixel_name(layout, int(one.pixels[-1])), pixel_name(layout, int(two.pixels[0])),
            two.first_position + 1, one.supply is not None and two.supply is not None,
        )
        for one, two in pairwise(circuits)
        if one.string == two.string and (one.supply != two.supply or one.volts != two.volts)
    )  # fmt: skip


def pixel_name(layout: Layout, pixel: int) -> tuple[str, int]:
    """The prop a pixel belongs to, and its number there from 1."""
    prop = layout.props[int(layout.pixels.prop[pixel])]
    return prop.name, pixel - prop.start + 1
