"""Remedies: how to feed a circuit so that every pixel gets its volts and nothing carries more than it may.

Each one has been tried on the circuit itself with every check before it is named.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from eavesong.layout.kinds import Conductor
from eavesong.layout.size import units_in
from eavesong.limits.ampacity import copper_area, largest_load
from eavesong.limits.circuits import Circuit, FeedPoint, WireFinder, pixel_name
from eavesong.limits.strain import sound
from eavesong.words import METRES

Floats = NDArray[np.float64]
Points = tuple[FeedPoint, ...]

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
    """Of leads that are added or replaced; without points, of all that are thinner. None: the house's usual one, as
    all are."""
    before: int
    """Feeding points it has now."""
    units: str = "m"
    """In which the house writes lengths: what is told can be copied into its file."""
    slack: float = 0.0
    """Share of the metres of leads that is added to lengths as they are written."""
    wires: tuple[Conductor | None, ...] = ()
    """Of the lead to each of ``points``; None: the supply sits right there."""
    anew: tuple[tuple[str, int], ...] = ()
    """Prop and pixel of points that it has now and does not keep, because no others beside them would be enough."""

    def __str__(self) -> str:
        size = "" if self.wire is None else str(self.wire).removesuffix(" stranded")
        if not self.points:
            return f"{size} in place of every thinner lead would be enough"
        through = f" through leads of {size}" if size else ""
        leads = zip(self.points, self._leads(), strict=True)
        where = _listed((prop, f"{pixel} ({lead})") for (prop, pixel, _), lead in leads)
        told = f"feed it at {len(self.points)} points instead of {self.before}{through}, lengths as written: {where}"
        return f"{told}; set anew, as no points beside them are enough: {named(self.anew)}" if self.anew else told

    def _leads(self) -> Iterator[str]:
        """The lead to each point: ``7.1 m``, and its wire where that stays another than those that are added."""
        for (_, _, metres), wire in zip(self.points, self.wires, strict=True):
            other = f" of {wire}".removesuffix(" stranded") if self.wire and wire and wire != self.wire else ""
            yield _lead(metres, self.units, self.slack) + other


def named(points: Iterable[tuple[str, int]]) -> str:
    """``'eaves' pixels 1, 50; 'ridge' pixel 3``."""
    return _listed((prop, str(pixel)) for prop, pixel in points)


def _listed(places: Iterable[tuple[str, str]]) -> str:
    """``'eaves' pixels 1 (0.0 m), 50 (7.1 m)``, prop by prop."""
    rows = []
    for prop, group in groupby(places, key=lambda place: place[0]):
        each = [place for _, place in group]
        rows.append(f"'{prop}' pixel{'s' if len(each) > 1 else ''} {', '.join(each)}")
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
    leads, or both; none where neither is enough, or where no supply is named. The points that it has stay, and only
    where nothing helps them all but the first are set anew."""
    if circuit.supply is None:
        return ()
    for kept in dict.fromkeys((circuit.points, circuit.points[:1])):
        asked = (wiring, circuit, amperes, connector, kept)
        if found := tuple(_simple(*asked)) or tuple(_both(*asked)):
            return found
    return ()


def _simple(
    wiring: WireFinder, circuit: Circuit, amperes: Floats, connector: float | None, kept: Points
) -> Iterator[Remedy]:
    wires = [point.wire for point in circuit.points if point.wire is not None]
    usual = max(wires, key=copper_area, default=wiring.plan.lead)
    better = more_points(wiring, circuit, amperes, usual, connector, kept)
    if better is not None:
        alike = {*wires, wiring.plan.lead} == {usual}
        yield _remedy(wiring, circuit, better, None if alike else usual, kept)
    for gauge in GAUGES:
        *_, thickest = _thicker(circuit.points, Conductor(gauge=gauge))
        if wires and sound(circuit.fed_at(thickest), amperes, connector):
            yield Remedy((), Conductor(gauge=gauge), len(circuit.points))
            return


def _both(
    wiring: WireFinder, circuit: Circuit, amperes: Floats, connector: float | None, kept: Points
) -> Iterator[Remedy]:
    for gauge in GAUGES:
        better = more_points(wiring, circuit, amperes, Conductor(gauge=gauge), connector, kept)
        if better is not None:
            yield _remedy(wiring, circuit, better, Conductor(gauge=gauge), kept)
            return


def _remedy(wiring: WireFinder, now: Circuit, better: Circuit, wire: Conductor | None, kept: Points) -> Remedy:
    def place(point: FeedPoint) -> tuple[str, int]:
        """The prop and the pixel of a point."""
        return pixel_name(wiring.layout, int(now.pixels[point.position - now.first_position]))

    return Remedy(
        tuple((*place(point), point.metres) for point in better.points), wire, len(now.points),
        units_in(wiring.layout.text), wiring.assumed.slack, tuple(point.wire for point in better.points),
        tuple(place(point) for point in now.points if point not in kept),
    )  # fmt: skip


def _thicker(points: Points, wire: Conductor) -> Iterator[Points]:
    """The same leads as they are, then the thinnest replaced by ``wire``, and so on to all that are thinner."""
    yield points
    sizes = {copper_area(point.wire) for point in points if point.wire}
    for size in sorted(size for size in sizes if size < copper_area(wire)):
        yield tuple(
            replace(point, wire=wire) if point.wire and copper_area(point.wire) <= size else point for point in points
        )


def more_points(
    wiring: WireFinder, circuit: Circuit, amperes: Floats, wire: Conductor, connector: float | None, kept: Points
) -> Circuit | None:
    """The circuit with the fewest feeding points, more than it has, at which it is sound; None: none up to 40.

    Those that are ``kept``, the first or all that it has, stay where they are through the leads that they have, which
    are as thick as ``wire`` only where it takes that.
    """
    first = circuit.points[0]
    home = wiring.home(wiring.plan.supplies[circuit.supply]) if circuit.supply is not None else None
    supply = wiring.plan.supplies[circuit.supply] if circuit.supply is not None else None
    near = first.metres if supply is None or supply.at is None else 0.0
    if home is None:
        home = wiring.places[circuit.pixels[0]]
    thickest = max((wire, *(point.wire for point in kept if point.wire)), key=copper_area)
    least = max(len(circuit.points) + 1, fewest_points(circuit, amperes, thickest))
    for count in range(least, min(MOST_POINTS, len(circuit.pixels)) + 1):
        added = []
        for position in beside([point.position - circuit.first_position for point in kept], amperes, count):
            metres = near + wiring.reach(home, int(circuit.pixels[position]))
            metres = as_written(metres, wiring.assumed.slack, wiring.plan.metres)[1]
            added.append(FeedPoint(position + circuit.first_position, wire, metres, first.cables))
        for own in _thicker(kept, wire):
            better = circuit.fed_at(sorted((*own, *added), key=lambda point: point.position))
            if sound(better, amperes, connector):
                return better
    return None


def beside(kept: Sequence[int], amperes: Floats, count: int) -> list[int]:
    """Positions of feeding points that make those ``kept``, the first of them 0, up to ``count``, or fewer.

    Each goes where a part between two points has most to carry; the end that only one feeds counts double.
    """
    begins, ends, last = list(kept), [*kept[1:], len(amperes)], len(kept) - 1
    loads = [float(amperes[begin + 1 : end].sum()) for begin, end in zip(begins, ends, strict=True)]
    more = [0] * len(kept)

    def part(at: int) -> float:
        """Load of each part of a stretch; less than none where no pixel of it is left."""
        if more[at] >= ends[at] - begins[at] - 1:
            return -1.0
        if at < last:
            return loads[at] / (more[at] + 1)
        return loads[at] / more[at] if more[at] else 2 * loads[at]  # its end is fed, too, once it has any

    for _ in range(count - len(kept)):
        more[max(range(len(kept)), key=part)] += 1
    found = []
    for at, (begin, end) in enumerate(zip(begins, ends, strict=True)):
        inside = spread(amperes[begin : end + 1], more[at] + (2 if at < last else 1))
        found += (begin + inside[1 : -1 if at < last else None]).tolist()
    return found


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
