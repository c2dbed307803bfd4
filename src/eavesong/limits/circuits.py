"""Circuits: each stretch of a string with what feeds it, as a ladder of resistances."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.layout.feeds import Injection, PowerPlan
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.copper import loop_ohms
from eavesong.limits.ladder import Ladder

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Circuit:
    """Pixels in a row on one wire that are fed together."""

    name: str
    string: str
    """The output's name; the prop's in a draft without controllers."""
    supply: int | None
    """Index of the layout's supply; None: none is named, and an ideal one at the first pixel is taken."""
    pixels: NDArray[np.int64]
    """In wire order."""
    first_position: int
    """Of the first pixel along the string, from 0."""
    points: tuple[Injection, ...]
    """Positions along the string."""
    ladder: Ladder
    lowest_volts: Floats
    """(pixels,): what each one needs."""


def circuits_of(layout: Layout, assumed: Assumptions) -> tuple[Circuit, ...]:
    """Every pixel of the house in exactly one circuit: fed stretches, what no supply feeds, props of a draft."""
    power = layout.power
    found: list[Circuit] = []
    for s, string in enumerate(power.strings):
        fed = sorted(
            (feed.start, feed.stop, number, feed.points)
            for number, supply in enumerate(power.supplies)
            for feed in supply.feeds
            if feed.string == s
        )
        for start, stop, supply_index, points in _filled(fed, len(string.pixels)):
            pixels = string.pixels[start:stop]
            name = string.name
            if stop - start < len(string.pixels):
                name += f", pixels {start + 1} to {stop}"
            found.append(_circuit(layout, assumed, name, string.name, supply_index, pixels, start, points))
    if not power.strings:
        for prop in layout.props:
            pixels = np.arange(prop.start, prop.stop)
            found.append(_circuit(layout, assumed, prop.name, prop.name, None, pixels, 0, (Injection(0, None),)))
    return tuple(found)


Stretch = tuple[int, int, int | None, tuple[Injection, ...]]


def _filled(fed: list[tuple[int, int, int, tuple[Injection, ...]]], count: int) -> Iterator[Stretch]:
    """The fed stretches of a string, and those between them that no supply feeds."""
    at = 0
    for start, stop, supply, points in fed:
        if start > at:
            yield at, start, None, (Injection(at, None),)
        yield start, stop, supply, points
        at = stop
    if at < count:
        yield at, count, None, (Injection(at, None),)


def _circuit(
    layout: Layout, assumed: Assumptions, name: str, string: str, supply: int | None,
    pixels: NDArray[np.int64], start: int, points: tuple[Injection, ...],
) -> Circuit:  # fmt: skip
    power = layout.power
    kinds = [power.types[kind] for kind in power.type[pixels]]
    volts = power.supplies[supply].volts if supply is not None else kinds[0].volts
    leads = [
        loop_ohms(point.lead.conductor, point.lead.length, power.celsius) if point.lead else 0.0 for point in points
    ]
    ladder = Ladder(
        volts,
        _links(layout, pixels, assumed),
        np.array([point.position - start for point in points], np.int64),
        np.array(leads, np.float64),
    )
    return Circuit(name, string, supply, pixels, start, points, ladder, np.array([kind.lowest_volts for kind in kinds]))


def _links(layout: Layout, pixels: NDArray[np.int64], assumed: Assumptions) -> Floats:
    """Loop ohms (n - 1,) from each pixel to the next: the wire of the later one's kind, as long as it must be."""
    power = layout.power
    metres = wire_metres(layout, pixels, assumed)
    each = np.array([loop_ohms(kind.wire, 1.0, power.celsius) for kind in power.types])
    ohms: Floats = metres * each[power.type[pixels[1:]]]
    return ohms


def wire_metres(layout: Layout, pixels: NDArray[np.int64], assumed: Assumptions) -> Floats:
    """Metres (n - 1,) of wire between neighbours on a string.

    Inside a prop it is the way along the wire, the straight distance, or the spacing of the kind, whichever is
    most; from prop to prop the straight distance with slack and spare.
    """
    at, power = layout.pixels, layout.power
    places = np.stack([at.X, at.Y, at.Z], axis=1).astype(np.float64)[pixels]
    straight = np.linalg.norm(np.diff(places, axis=0), axis=1)
    along = np.abs(np.diff(at.along[pixels].astype(np.float64)))
    spacing = np.array([kind.spacing for kind in power.types])[power.type[pixels[1:]]]
    same = at.prop[pixels[1:]] == at.prop[pixels[:-1]]
    inside = np.maximum(np.maximum(straight, along), spacing)
    metres: Floats = np.where(same, inside, straight * (1 + assumed.slack) + assumed.spare)
    return metres


@dataclass(frozen=True)
class Gap:
    """The way from the end of one prop to the start of the next on a string."""

    string: str
    before: str
    after: str
    metres: float
    """Straight distance with slack and spare."""


def gaps_of(layout: Layout, plan: PowerPlan, assumed: Assumptions) -> tuple[Gap, ...]:
    """Every extension between props, string by string in wire order."""
    gaps = []
    for string in plan.strings:
        metres = wire_metres(layout, string.pixels, assumed)
        props = layout.pixels.prop[string.pixels]
        for position, (before, after) in enumerate(pairwise(props.tolist())):
            if before != after:
                names = layout.props[before].name, layout.props[after].name
                gaps.append(Gap(string.name, *names, float(metres[position])))
    return tuple(gaps)
