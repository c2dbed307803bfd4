"""Voltage and currents along every circuit, at full white and in its worst frame, and what would mend them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.limits.circuits import Circuit, WireFinder, pixel_name
from eavesong.limits.moments import Moment
from eavesong.limits.remedy import Remedy, remedies
from eavesong.limits.strain import MILLIVOLT, Strain, strains

Floats = NDArray[np.float64]


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
        return self.volts >= self.needed - MILLIVOLT


@dataclass(frozen=True)
class Voltage:
    """One circuit's voltages and currents."""

    circuit: str
    supply: str
    """Its name; empty where none is named and an ideal one at the first pixel is taken."""
    volts: float
    points: int
    full: Lowest
    worst: Lowest | None
    """In the frame in which a pixel of it has least to spare; None without frames."""
    moment: Moment | None
    lead_amperes: tuple[float, ...]
    """At full white, through each lead in the order of the string."""
    most_along: float
    """The most amperes that the string's own wire ever carries."""
    strains: tuple[Strain, ...]
    """What would carry too much at full white."""
    remedies: tuple[Remedy, ...]
    """What would mend it; empty where it is sound, and where nothing helps."""

    @property
    def sound(self) -> bool:
        """Whether every pixel gets its volts at full white and nothing carries too much."""
        return self.full.holds and not self.strains


def lowest_of(layout: Layout, circuit: Circuit, amperes: Floats) -> Lowest:
    """The pixel with least to spare when the circuit's pixels draw ``amperes`` (pixels,)."""
    volts = circuit.ladder.voltages(amperes)
    worst = int((volts - circuit.lowest_volts).argmin())
    prop, number = pixel_name(layout, int(circuit.pixels[worst]))
    return Lowest(float(volts[worst]), float(circuit.lowest_volts[worst]), prop, number, float(amperes.sum()))


def voltage_of(
    wiring: WireFinder, circuit: Circuit, full: Floats, frame: Floats | None = None, moment: Moment | None = None
) -> Voltage:
    """Voltages of a circuit. full, frame: amperes (n,) of all pixels at full white and in the worst frame."""
    layout, connector = wiring.layout, wiring.plan.connector_amperes
    at_full = full[circuit.pixels]
    lowest = lowest_of(layout, circuit, at_full)
    found = tuple(strains(layout, circuit, at_full, connector))
    return Voltage(
        circuit=circuit.name,
        supply=layout.power.supplies[circuit.supply].name if circuit.supply is not None else "",
        volts=circuit.volts,
        points=len(circuit.points),
        full=lowest,
        worst=None if frame is None else lowest_of(layout, circuit, frame[circuit.pixels]),
        moment=moment,
        lead_amperes=tuple(float(amperes) for amperes in circuit.ladder.lead_amperes(at_full)),
        most_along=float(circuit.ladder.most_flows(at_full).max(initial=0.0)),
        strains=found,
        remedies=() if lowest.holds and not found else remedies(wiring, circuit, at_full, connector),
    )
