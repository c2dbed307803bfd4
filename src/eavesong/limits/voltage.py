"""Voltage along every circuit at full white and in its worst frame, and what would keep it up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.limits.circuits import Circuit
from eavesong.limits.copper import loop_ohms
from eavesong.limits.ladder import Ladder
from eavesong.limits.moments import Moment

Floats = NDArray[np.float64]

GAUGES = (20, 18, 16, 14, 12, 10, 8)
"""Gauges of leads that are sold for this (common practice)."""

MOST_POINTS = 40
"""Feeding points of one circuit, at most, that are suggested."""


@dataclass(frozen=True)
class Lowest:
    """The pixel of a circuit that has least to spare."""

    volts: float
    needed: float
    prop: str
    pixel: int
    """Of the prop, from 1."""
    amperes: float
    """Of the whole circuit."""

    @property
    def holds(self) -> bool:
        """Whether the pixel gets what it needs."""
        return self.volts >= self.needed


@dataclass(frozen=True)
class Voltage:
    """One circuit's voltages."""

    circuit: str
    supply: str
    """Its name; empty where none is named and an ideal one at the first pixel is taken."""
    volts: float
    points: int
    full: Lowest
    worst: Lowest | None
    """In the frame in which its weakest pixel loses most; None without frames."""
    moment: Moment | None
    lead_amperes: tuple[float, ...]
    """At full white, through each lead in the order of the string."""
    suggestions: tuple[str, ...]
    """What would keep every pixel at full white above what it needs; empty where it is so already."""


def lowest_of(layout: Layout, circuit: Circuit, amperes: Floats) -> Lowest:
    """The pixel with least to spare when the circuit's pixels draw ``amperes`` (pixels,)."""
    volts = circuit.ladder.voltages(amperes)
    worst = int((volts - circuit.lowest_volts).argmin())
    prop, number = pixel_name(layout, int(circuit.pixels[worst]))
    return Lowest(float(volts[worst]), float(circuit.lowest_volts[worst]), prop, number, float(amperes.sum()))


def pixel_name(layout: Layout, pixel: int) -> tuple[str, int]:
    """The prop a pixel belongs to, and its number there from 1."""
    prop = layout.props[int(layout.pixels.prop[pixel])]
    return prop.name, pixel - prop.start + 1


def voltage_of(
    layout: Layout, circuit: Circuit, full: Floats, frame: Floats | None = None, moment: Moment | None = None
) -> Voltage:
    """Voltages of a circuit. full, frame: amperes (n,) of all pixels at full white and in the worst frame."""
    at_full = full[circuit.pixels]
    lowest = lowest_of(layout, circuit, at_full)
    return Voltage(
        circuit=circuit.name,
        supply="" if circuit.supply is None else layout.power.supplies[circuit.supply].name,
        volts=circuit.ladder.volts,
        points=len(circuit.points),
        full=lowest,
        worst=None if frame is None else lowest_of(layout, circuit, frame[circuit.pixels]),
        moment=moment,
        lead_amperes=tuple(float(amperes) for amperes in circuit.ladder.lead_amperes(at_full)),
        suggestions=() if lowest.holds else tuple(suggestions(layout, circuit, at_full)),
    )


def suggestions(layout: Layout, circuit: Circuit, amperes: Floats) -> Iterator[str]:
    """Sentences that say how many feeding points, or which gauge of the leads, would be enough for ``amperes``."""
    enough = points_enough(circuit, amperes)
    if enough:
        yield f"feed it at {enough} points, evenly spread from end to end, instead of {len(circuit.points)}"
    gauge = gauge_enough(layout, circuit, amperes)
    if gauge is not None:
        yield f"leads of AWG {gauge} would be enough"
    if not enough and gauge is None:
        yield "no number of points is enough with these leads: shorten them, or split the string"


def points_enough(circuit: Circuit, amperes: Floats) -> int:
    """The fewest evenly spread feeding points, by leads like the first, that keep all pixels up; 0: none would."""
    count = len(circuit.pixels)
    lead = float(circuit.ladder.leads.max())
    for points in range(len(circuit.points) + 1, min(MOST_POINTS, count) + 1):
        places = np.unique(np.linspace(0, count - 1, points).round().astype(np.int64))
        ladder = replace(circuit.ladder, points=places, leads=np.full(len(places), lead))
        if _holds(ladder, circuit, amperes):
            return points
    return 0


def gauge_enough(layout: Layout, circuit: Circuit, amperes: Floats) -> int | None:
    """The thinnest gauge of all leads that keeps all pixels up; None: none would, or there are no leads."""
    leads = [point.lead for point in circuit.points]
    if not any(leads):
        return None
    for gauge in GAUGES:
        ohms = [
            loop_ohms(replace(lead.conductor, gauge=gauge, area=None), lead.length, layout.power.celsius)
            if lead
            else 0.0
            for lead in leads
        ]
        if _holds(replace(circuit.ladder, leads=np.array(ohms)), circuit, amperes):
            return gauge
    return None


def _holds(ladder: Ladder, circuit: Circuit, amperes: Floats) -> bool:
    return bool((ladder.voltages(amperes) >= circuit.lowest_volts).all())
