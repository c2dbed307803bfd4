"""Remedies: how to feed a circuit so that every pixel gets its volts and nothing carries more than it may.

Each one has been tried on the circuit itself with every check before it is named.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from eavesong.layout.kinds import Conductor
from eavesong.layout.size import units_in
from eavesong.limits.ampacity import copper_area, largest_load
from eavesong.limits.circuits import Circuit, FeedPoint, WireFinder, pixel_name
from eavesong.limits.copper import area
from eavesong.limits.strain import sound
from eavesong.words import METRES

Floats = NDArray[np.float64]

GAUGES = (18, 16, 14, 12, 10, 8)
"""Gauges of leads that are sold for this (common practice)."""

MOST_POINTS = 40
"""Feeding points of one circuit, at most, that are suggested."""

RATINGS = (25, 50, 75, 100, 150, 200, 300, 350, 500, 600, 750, 1000)
"""Watts of supplies that are sold (common practice)."""

LARGEST = ((5.0, 300.0), (12.0, 750.0), (60.0, 1000.0))
"""Up to so many volts, so many watts at most (common practice)."""


@dataclass(frozen=True)
class Remedy:
    """One way to feed a circuit that passes every check."""

    points: tuple[tuple[str, int, float], ...]
    """All feeding points: prop, pixel, metres of lead; none where they may stay as they are."""
    wire: Conductor | None
    """Of every lead; where the points stay, of those that are thinner. None: the house's usual one, as all are."""
    before: int
    """Feeding points it has now."""
    units: str = "m"
    """In which the house writes lengths: what is told can be copied into its file."""
    slack: float = 0.0
    """Share of the metres of leads that is added to lengths as they are written."""

    def __str__(self) -> str:
        size = "" if self.wire is None else str(self.wire).removesuffix(" stranded")
        if not self.points:
            return f"{size} in place of every thinner lead would be enough"
        through = f" through leads of {size}" if size else ""
        where = _listed(self.points, self.units, self.slack)
        return f"feed it at {len(self.points)} points instead of {self.before}{through}, lengths as written: {where}"


def _listed(points: Sequence[tuple[str, int, float]], units: str, slack: float) -> str:
    """``'eaves' pixels 1 (0.0 m), 50 (7.1 m)``, prop by prop."""
    rows = []
    for prop, group in groupby(points, key=lambda point: point[0]):
        places = ", ".join(f"{pixel} ({_lead(metres, units, slack)})" for _, pixel, metres in group)
        rows.append(f"'{prop}' pixel{'s' if ',' in places else ''} {places}")
    return "; ".join(rows)


def _lead(metres: float, units: str, slack: float) -> str:
    """The length of a lead as the house's file has it: ``2.7 m``, ``8.9 ft``; slack is added where that is read."""
    unit = "m" if units in ("cm", "mm") else units
    length = as_written(metres, slack, METRES[unit])[0]
    return f"{math.ceil(length - 1e-6):d} in" if unit == "in" else f"{length:.1f} {unit}"


def remedies(
    wiring: WireFinder, circuit: Circuit, amperes: Floats, connector: float | None = None
) -> tuple[Remedy, ...]:
    """What would make a circuit sound at ``amperes`` (pixels,): more points through leads like those it has, thicker
    leads, or both; none where neither is enough, or where no supply is named."""
    if circuit.supply is None:
        return ()
    found = tuple(_simple(wiring, circuit, amperes, connector))
    return found or tuple(_both(wiring, circuit, amperes, connector))


def _simple(wiring: WireFinder, circuit: Circuit, amperes: Floats, connector: float | None) -> Iterator[Remedy]:
    now = len(circuit.points)
    wires = [point.wire for point in circuit.points if point.wire is not None]
    usual = max(wires, key=copper_area, default=wiring.plan.lead)
    better = more_points(wiring, circuit, amperes, usual, connector)
    if better is not None:
        alike = {*wires, wiring.plan.lead} == {usual}
        yield _remedy(wiring, better, None if alike else usual, now)
    for gauge in GAUGES:
        if wires and sound(circuit.fed_at(_thicker(circuit.points, gauge)), amperes, connector):
            yield Remedy((), Conductor(gauge=gauge), now)
            return


def _both(wiring: WireFinder, circuit: Circuit, amperes: Floats, connector: float | None) -> Iterator[Remedy]:
    for gauge in GAUGES:
        better = more_points(wiring, circuit, amperes, Conductor(gauge=gauge), connector)
        if better is not None:
            yield _remedy(wiring, better, Conductor(gauge=gauge), len(circuit.points))
            return


def _remedy(wiring: WireFinder, circuit: Circuit, wire: Conductor | None, before: int) -> Remedy:
    pixels = [int(circuit.pixels[point.position - circuit.first_position]) for point in circuit.points]
    rows = [
        (*pixel_name(wiring.layout, pixel), point.metres) for pixel, point in zip(pixels, circuit.points, strict=True)
    ]
    return Remedy(tuple(rows), wire, before, units_in(wiring.layout.text), wiring.assumed.slack)


def _thicker(points: Sequence[FeedPoint], gauge: int) -> list[FeedPoint]:
    """The same leads, those that are thinner replaced."""
    return [
        replace(point, wire=Conductor(gauge=gauge)) if point.wire and copper_area(point.wire) < area(gauge) else point
        for point in points
    ]


def more_points(
    wiring: WireFinder, circuit: Circuit, amperes: Floats, wire: Conductor, connector: float | None = None
) -> Circuit | None:
    """The circuit with the fewest feeding points, more than it has, at which it is sound; None: none up to 40."""
    first = circuit.points[0]
    home = wiring.home(wiring.plan.supplies[circuit.supply]) if circuit.supply is not None else None
    supply = wiring.plan.supplies[circuit.supply] if circuit.supply is not None else None
    near = first.metres if supply is None or supply.at is None else 0.0
    if home is None:
        home = wiring.places[circuit.pixels[0]]
    least = max(len(circuit.points) + 1, fewest_points(circuit, amperes, wire))
    for count in range(least, min(MOST_POINTS, len(circuit.pixels)) + 1):
        points = [first if first.wire is None else replace(first, wire=wire)]
        for position in spread(amperes, count)[1:].tolist():
            metres = near + wiring.reach(home, int(circuit.pixels[position]))
            if wire.gauge is not None:
                metres = as_written(metres, wiring.assumed.slack, wiring.plan.metres)[1]
            points.append(FeedPoint(position + circuit.first_position, wire, metres, first.cables))
        better = circuit.fed_at(points)
        if sound(better, amperes, connector):
            return better
    return None


def as_written(metres: float, slack: float, unit: float) -> tuple[float, float]:
    """The length of a lead as it is written in the file, in whole tenths of its ``unit`` (metres) without the share of
    ``slack``, and what ``metres`` of lead become by that: what is proposed is tried as it will be read."""
    length = math.ceil(10 * metres / (1 + slack) / unit - 1e-6) / 10
    return length, length * unit * (1 + slack)


def fewest_points(circuit: Circuit, amperes: Floats, wire: Conductor) -> int:
    """Feeding points below which the fuses of leads cannot carry ``amperes``."""
    each = largest_load(circuit.lead_allowed(FeedPoint(circuit.first_position, wire)))
    return int(np.ceil(amperes.sum() / each - 1e-9)) if each > 0 else MOST_POINTS + 1


def spread(amperes: Floats, count: int) -> NDArray[np.int64]:
    """Positions (count or fewer,) of feeding points from end to end, with equal shares of the load between them."""
    until = np.cumsum(amperes) - amperes / 2
    targets = np.linspace(until[0], until[-1], count)
    return np.unique(np.searchsorted(until, targets - 1e-9 * until[-1]))


def largest_rating(volts: float) -> float:
    """Watts of the largest supply of these volts that is sold."""
    return next((watts for most, watts in LARGEST if volts <= most), LARGEST[-1][1])


def rating_for(watts: float, volts: float, usable: float) -> float | None:
    """The smallest supply that can be planned with for ``watts``; None where none is sold."""
    fit = (rating for rating in RATINGS if watts <= rating * usable and rating <= largest_rating(volts))
    return next((float(rating) for rating in fit), None)
