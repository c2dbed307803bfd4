"""A proposal: supplies, their places, leads and feeding points for pixels that no supply feeds yet.

Each stretch of a string is cut into as few pieces as can be fed from one place each; a piece joins a supply nearby
where that can bear it. Nothing is proposed that any check would find.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.layout.feeds import Feed, Injection, Lead, Supply
from eavesong.layout.kinds import Conductor
from eavesong.limits.ampacity import copper_area, largest_load
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.circuits import Circuit, FeedPoint, WireFinder, circuits_of
from eavesong.limits.remedy import as_written, fewest_points, largest_rating, rating_for, spread
from eavesong.limits.strain import sound

Floats = NDArray[np.float64]

GAUGES = (16, 14, 12)
"""Gauges of leads that are proposed, the thinnest that is enough and no thinner than the house's usual lead."""

MOST_PIECES = 16
"""Pieces that one stretch of a string is cut into at most."""

MORE = 8
"""Feeding points beyond the fewest that fuses allow, at most, before a piece is cut in two."""

NEIGHBOURS = 8.0
"""Metres within which two pieces may share a supply."""

FARTHER = 1.5
"""Times as much cable as with a supply of its own, at most, when a piece joins another supply."""

IN_HAND = 1.05
"""Times full white that a proposal bears: what drawings and tape measures get wrong."""

USABLE = 0.8
"""Share of a supply's rating that is planned with (common practice)."""


@dataclass(frozen=True)
class Proposal:
    """What is proposed."""

    supplies: tuple[Supply, ...]
    """Beside those of the layout."""
    missing: tuple[str, ...]
    """Stretches for which nothing was found that passes every check, each with its reason."""
    least: float = 0.0
    """Watts at full white of the output without a supply that takes least; 0 where there is none."""


@dataclass
class _Piece:
    """A stretch that one supply feeds, with the supply's place and its leads."""

    circuit: Circuit
    string: int
    at: Floats
    watts: float
    volts: float
    mates: list[_Piece] = field(default_factory=list)
    """Pieces that are fed by the same supply."""


def propose(layout: Layout, assumed: Assumptions, full: Floats) -> tuple[Layout, Proposal]:
    """The layout with proposed supplies, and the proposal. full: amperes (n,) of every pixel at full white.

    A draft without controllers has no strings, so that nothing can be proposed for it.
    """
    planner = _Planner(layout, assumed, full)
    pieces, missing = [], []
    strings = {string.name: s for s, string in enumerate(layout.power.strings)}
    for circuit in circuits_of(layout, assumed):
        if circuit.supply is None and circuit.string in strings:
            found = planner.pieces(circuit, strings[circuit.string])
            pieces += found
            if not found:
                missing.append(f"{circuit.name}: {planner.reason(circuit)}")
    supplies = tuple(planner.supplies(planner.shared(pieces)))
    plan = replace(layout.power, supplies=(*layout.power.supplies, *supplies))
    taken: dict[int, float] = {}
    for piece in pieces:
        taken[piece.string] = taken.get(piece.string, 0.0) + piece.watts
    return replace(layout, power_plan=plan), Proposal(supplies, tuple(missing), min(taken.values(), default=0.0))


class _Planner:
    """Finds pieces, shares supplies among them, and gives them names."""

    def __init__(self, layout: Layout, assumed: Assumptions, full: Floats) -> None:
        self.wiring, self.assumed, self.full = WireFinder(layout, assumed), assumed, full
        self.plan = layout.power
        idle = np.array([kind.idle for kind in self.plan.types])[self.plan.type]
        self.sized = idle + (full - idle) * assumed.supply_share
        self.origin = layout.frame.origin

    def pieces(self, circuit: Circuit, string: int) -> list[_Piece]:
        """The fewest pieces of a stretch, each fed from one place; none where nothing was found."""
        kinds = self.plan.type[circuit.pixels]
        volts = np.array([kind.volts for kind in self.plan.types])[kinds]
        edges = [0, *(np.flatnonzero(np.diff(volts)) + 1).tolist(), len(volts)]
        found: list[_Piece] = []
        for start, stop in pairwise(edges):
            some = self._split(circuit, string, start, stop, float(volts[start]))
            if not some:
                return []
            found += some
        return found

    def _split(self, circuit: Circuit, string: int, start: int, stop: int, volts: float) -> list[_Piece]:
        loads = self.full[circuit.pixels[start:stop]]
        watts = float(self.sized[circuit.pixels[start:stop]].sum()) * volts
        least = max(1, math.ceil(watts / (USABLE * largest_rating(volts)) - 1e-9))
        for count in range(least, MOST_PIECES + 1):
            share = np.minimum((np.cumsum(loads) - loads / 2) / loads.sum() * count, count - 1e-9).astype(int)
            edges = [0, *(np.flatnonzero(np.diff(share)) + 1).tolist(), stop - start]
            pieces = []
            for a, b in pairwise(edges):
                piece = self.fed(self._part(circuit, start + a, start + b, volts), string, None)
                if piece is None:
                    break
                pieces.append(piece)
            else:
                return pieces
        return []

    def _part(self, circuit: Circuit, start: int, stop: int, volts: float) -> Circuit:
        first = circuit.first_position + start
        return self.wiring.circuit(
            circuit.name, circuit.string, None, circuit.pixels[start:stop], first, (FeedPoint(first),),
            circuit.run.part(start, stop), volts,
        )  # fmt: skip

    def fed(self, circuit: Circuit, string: int, at: Floats | None) -> _Piece | None:
        """The piece with the fewest points, then the thinnest leads; fed from ``at``, else from its own middle."""
        loads = self.full[circuit.pixels]
        watts = float(self.sized[circuit.pixels].sum()) * circuit.volts
        if rating_for(watts, circuit.volts, USABLE) is None:
            return None
        usual = self.plan.lead
        thicker = (
            wire for wire in (Conductor(gauge=gauge) for gauge in GAUGES) if copper_area(wire) > copper_area(usual)
        )
        wires = (usual, *thicker)
        least = fewest_points(circuit, IN_HAND * loads, wires[-1])
        for count in range(max(1, least), min(least + MORE, len(circuit.pixels)) + 1):
            places = spread(loads, count) if count > 1 else np.zeros(1, np.int64)
            home = self._middle(circuit, places) if at is None else at
            for wire in wires:
                points = [self._point(circuit, int(place), home, wire) for place in places]
                tried = circuit.fed_at(points)
                if sound(tried, IN_HAND * loads, self.plan.connector_amperes):
                    return _Piece(tried, string, home, watts, circuit.volts)
        return None

    def _middle(self, circuit: Circuit, places: NDArray[np.int64]) -> Floats:
        """The feeding point from which the farthest other one is nearest."""
        spots = self.wiring.places[circuit.pixels[places]]
        apart = np.linalg.norm(spots[:, None] - spots[None], axis=2)
        return np.asarray(spots[int(apart.max(axis=1).argmin())])

    def _point(self, circuit: Circuit, place: int, home: Floats, wire: Conductor) -> FeedPoint:
        """A lead as long as it would be written in the file, in whole tenths of its unit."""
        straight = float(np.linalg.norm(self.wiring.places[circuit.pixels[place]] - home)) + self.assumed.spare
        _, metres = as_written(straight * (1 + self.assumed.slack), self.assumed.slack, self.plan.metres)
        return FeedPoint(circuit.first_position + place, wire, metres)

    def shared(self, pieces: Sequence[_Piece]) -> list[_Piece]:
        """Pieces that have a supply of their own, the heaviest first, with those that share it."""
        kept: list[_Piece] = []
        for piece in sorted(pieces, key=lambda piece: -piece.watts):
            near = sorted(kept, key=lambda other: float(np.linalg.norm(other.at - piece.at)))
            if not any(self._joins(piece, other) for other in near[:4]):
                kept.append(piece)
        return kept

    def _joins(self, piece: _Piece, other: _Piece) -> bool:
        watts = piece.watts + other.watts + sum(mate.watts for mate in other.mates)
        far = float(np.linalg.norm(piece.at - other.at)) > NEIGHBOURS
        if far or piece.volts != other.volts or rating_for(watts, piece.volts, USABLE) is None:
            return False
        moved = self.fed(piece.circuit, piece.string, other.at)
        if moved is None or _cable(moved) > FARTHER * _cable(piece):
            return False
        other.mates.append(moved)
        return True

    def supplies(self, pieces: Sequence[_Piece]) -> Iterator[Supply]:
        """The supplies of the pieces, named after the prop each one hangs at."""
        taken = {supply.name for supply in self.plan.supplies}
        for piece in pieces:
            together = [piece, *piece.mates]
            watts = rating_for(sum(one.watts for one in together), piece.volts, USABLE)
            assert watts is not None, "pieces join only where a supply can bear them"
            name = self._name(piece, taken)
            taken.add(name)
            x, y, z = np.round((piece.at + self.origin) / self.plan.metres, 3) * self.plan.metres
            feeds = tuple(self._feed(one) for one in sorted(together, key=_place))
            yield Supply(name, piece.volts, watts, USABLE, 0.85, feeds, at=(float(x), float(y), float(z)))

    def _name(self, piece: _Piece, taken: set[str]) -> str:
        nearest = int(np.linalg.norm(self.wiring.places[piece.circuit.pixels] - piece.at, axis=1).argmin())
        layout = self.wiring.layout
        prop = layout.props[int(layout.pixels.prop[piece.circuit.pixels[nearest]])].name
        plain = f"{prop[:60]} supply"
        return next(
            name for n in range(1, len(taken) + 2) if (name := plain if n == 1 else f"{plain} {n}") not in taken
        )

    def _feed(self, piece: _Piece) -> Feed:
        slack = 1 + self.assumed.slack
        start = piece.circuit.first_position
        points = tuple(
            Injection(point.position, Lead(point.wire, point.metres / slack) if point.wire else None)
            for point in piece.circuit.points
        )
        return Feed(piece.string, start, start + len(piece.circuit.pixels), points)

    def reason(self, circuit: Circuit) -> str:
        """Why nothing was found for a stretch."""
        if largest_load(circuit.thinnest) < self.full[circuit.pixels].max():
            return f"its own wire may carry {circuit.thinnest:.1f} A, too little for a fuse; take thicker wire"
        return f"not even {MOST_PIECES} supplies, with thick leads, are enough; split the string"


def _cable(piece: _Piece) -> float:
    return sum(point.metres for point in piece.circuit.points)


def _place(piece: _Piece) -> tuple[int, int]:
    return piece.string, piece.circuit.first_position
