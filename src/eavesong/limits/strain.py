"""Strain: what each wire, fuse and connector of a circuit carries, beside what it may carry.

All of it at full white: whatever a show is limited to, any one lead can be asked for all of its pixels.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.limits.ampacity import fuse_for, largest_load
from eavesong.limits.circuits import Circuit, FeedPoint, pixel_name

Floats = NDArray[np.float64]

MILLIVOLT = 5e-4
"""Volts by which a pixel may fall short without being told: what a rounded figure could not show."""


@dataclass(frozen=True)
class Strain:
    """A part that would carry more than it may."""

    what: str
    """``lead``, ``fuse``, ``string``, ``extension`` or ``connector``."""
    where: str
    amperes: float
    allowed: float

    def __str__(self) -> str:
        carried = f"{self.where} would carry {self.amperes:.1f} A"
        if self.what == "fuse":
            return f"{carried}, and a fuse that guards all wire behind it bears {self.allowed:.1f} A over hours"
        kind = "is rated for" if self.what == "connector" else "may carry"
        return f"{carried}, and it {kind} {self.allowed:.1f} A"


def strains(layout: Layout, circuit: Circuit, amperes: Floats, connector: float | None = None) -> Iterator[Strain]:
    """Everything in a circuit that carries too much when its pixels draw up to ``amperes`` (pixels,).

    connector: amperes each one is rated for, where that is known.
    """
    rated = np.inf if connector is None else connector
    for point, load in zip(circuit.points, circuit.ladder.lead_amperes(amperes).tolist(), strict=True):
        where = point_name(layout, circuit, point)
        own = circuit.own_allowed(point)
        if load > own:
            yield Strain("lead", where, load, own)
        elif fuse_for(load, circuit.lead_allowed(point)) is None:
            yield Strain("fuse", where, load, largest_load(circuit.lead_allowed(point)))
        if load > rated:
            yield Strain("connector", f"the connector of {where}", load, rated)
    yield from _along(layout, circuit, circuit.ladder.most_flows(amperes), rated)


def _along(layout: Layout, circuit: Circuit, flows: Floats, rated: float) -> Iterator[Strain]:
    """The worst place of each kind of wire along the string, and of its connectors."""
    run = circuit.run
    for gap, what in ((False, "string"), (True, "extension")):
        for wire in set(run.wire[run.gap == gap].tolist()):
            here = (run.gap == gap) & (run.wire == wire)
            worst = int(np.where(here, flows, -1).argmax())
            if flows[worst] > run.allowed[worst]:
                name = _link_name(layout, circuit, worst)
                carries = f"the wire of the {what}, {run.wires[wire]}, {name}"
                yield Strain(what, carries, float(flows[worst]), float(run.allowed[worst]))
    gaps = np.where(run.gap, flows, -1)
    if gaps.max(initial=-1) > rated:
        worst = int(gaps.argmax())
        yield Strain("connector", f"the connector {_link_name(layout, circuit, worst)}", float(gaps[worst]), rated)


def sound(circuit: Circuit, amperes: Floats, connector: float | None = None) -> bool:
    """Whether every pixel gets its volts and nothing carries too much at ``amperes`` (pixels,)."""
    rated = np.inf if connector is None else connector
    ladder = circuit.ladder
    if not holds(circuit, amperes):
        return False
    for point, load in zip(circuit.points, ladder.lead_amperes(amperes).tolist(), strict=True):
        if load > rated or fuse_for(load, circuit.lead_allowed(point)) is None:
            return False
    flows = ladder.most_flows(amperes)
    return bool((flows <= np.where(circuit.run.gap, np.minimum(circuit.run.allowed, rated), circuit.run.allowed)).all())


def holds(circuit: Circuit, amperes: Floats) -> bool:
    """Whether every pixel gets the volts it needs at ``amperes`` (pixels,)."""
    return bool((circuit.ladder.voltages(amperes) >= circuit.lowest_volts - MILLIVOLT).all())


def point_name(layout: Layout, circuit: Circuit, point: FeedPoint) -> str:
    """``the lead of AWG 16 stranded to 'eaves' pixel 1``."""
    prop, number = pixel_name(layout, int(circuit.pixels[point.position - circuit.first_position]))
    if point.wire is None:
        return f"the string's own wire at its feed, '{prop}' pixel {number},"
    return f"the lead of {point.wire} to '{prop}' pixel {number}"


def _link_name(layout: Layout, circuit: Circuit, link: int) -> str:
    (before, last), (after, first) = (pixel_name(layout, int(circuit.pixels[link + end])) for end in (0, 1))
    if before == after:
        return f"between '{before}' pixels {last} and {first}"
    return f"from '{before}' pixel {last} to '{after}' pixel {first}"
