"""Power: what circuits, outputs, supplies and the house draw at full white, at a stated share, and in every frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.circuits import Circuit
from eavesong.limits.meter import Ammeter, Wiring
from eavesong.limits.moments import Moment, Song
from eavesong.within.rig import Rig

Floats = NDArray[np.float64]

PLAIN_EFFICIENCY = 0.85
"""Of a supply that the layout does not name (common practice)."""


@dataclass(frozen=True)
class Load:
    """What an output, a supply or the house draws, in watts at the supplies' side of the wire."""

    kind: str
    """``output``, ``supply`` or ``house``."""
    name: str
    pixels: int
    volts: float | None
    """None for a house with several."""
    full: float
    """At full white, brightness left out: what a mistake, or another program, can ask for."""
    share: float
    """At the stated share of full white."""
    idle: float
    """In the dark."""
    rated: float | None
    """Watts a supply is rated for."""
    usable: float | None
    """Watts of it that are planned with."""
    peak: float | None = None
    """In the worst frame; None without frames."""
    mean: float | None = None
    worst: Moment | None = None
    curve: tuple[float, ...] = ()
    """Watts over the song, the most within each of at most 600 equal stretches."""


@dataclass(frozen=True)
class Energy:
    """What a song and a season take from the mains."""

    mean_watts: float
    """From the mains, the supplies' losses included."""
    song_seconds: float | None
    song_watt_hours: float | None
    season_hours: float
    season_kwh: float
    tariff: float
    season_cost: float


@dataclass(frozen=True)
class PixelLoad:
    """The most that any single pixel draws."""

    full_amperes: float
    peak_amperes: float | None
    mean_amperes: float | None


@dataclass(frozen=True)
class Power:
    """Loads and energy."""

    house: Load
    supplies: tuple[Load, ...]
    outputs: tuple[Load, ...]
    unfed_pixels: int
    """Pixels that the layout gives no supply."""
    pixel: PixelLoad
    energy: Energy


class Books:
    """Keeps the totals of circuits: a column for each output, each supply, and the house, in that order."""

    def __init__(self, layout: Layout, circuits: Sequence[Circuit], rig: Rig, assumed: Assumptions) -> None:
        self.layout, self.circuits, self.rig, self.assumed = layout, circuits, rig, assumed
        self.outputs = tuple(dict.fromkeys(circuit.string for circuit in circuits))
        supplies = layout.power.supplies
        self.sums = np.zeros((len(circuits), len(self.outputs) + len(supplies) + 1))
        for c, circuit in enumerate(circuits):
            self.sums[c, [self.outputs.index(circuit.string), -1]] = circuit.ladder.volts
            if circuit.supply is not None:
                self.sums[c, len(self.outputs) + circuit.supply] = circuit.ladder.volts

    def wiring(self) -> Wiring:
        """Circuits as the meter takes them; the critical pixel is the one that loses most at full white."""
        group = np.zeros(len(self.rig.curves), np.int32)
        weight = np.zeros(len(self.rig.curves), np.float32)
        full = self.rig.full
        for c, circuit in enumerate(self.circuits):
            group[circuit.pixels] = c
            margin = circuit.ladder.voltages(full[circuit.pixels]) - circuit.lowest_volts
            weight[circuit.pixels] = circuit.ladder.weights(int(margin.argmin()))
        return Wiring(group, weight, self.sums)

    def watts(self, amperes: Floats) -> Floats:
        """Watts of each total when the pixels draw ``amperes`` (n,)."""
        return np.array([amperes[circuit.pixels].sum() for circuit in self.circuits]) @ self.sums

    def power(self, meter: Ammeter | None, song: Song | None, frame_rate: float, start: float) -> Power:
        """Everything about power; without a meter, what is known without frames."""
        full, idle = self.rig.full, self.rig.idle.astype(np.float64)
        fixed = [self.watts(idle + (full - idle) * part) for part in (1.0, self.assumed.share, 0.0)]
        loads = [self._load(k, fixed, meter, song, frame_rate, start) for k in range(self.sums.shape[1])]
        ends = len(self.outputs)
        unfed = sum(len(circuit.pixels) for circuit in self.circuits if circuit.supply is None)
        return Power(
            loads[-1], tuple(loads[ends:-1]), tuple(loads[:ends]), unfed, self._pixel(meter),
            self._energy(meter, frame_rate),
        )  # fmt: skip

    def _load(
        self, k: int, fixed: Sequence[Floats], meter: Ammeter | None, song: Song | None, rate: float, start: float
    ) -> Load:
        supplies = self.layout.power.supplies
        mine = [circuit for c, circuit in enumerate(self.circuits) if self.sums[c, k]]
        volts = {circuit.ladder.volts for circuit in mine}
        rated = usable = None
        if k < len(self.outputs):
            kind, name = "output", self.outputs[k]
        elif k < len(self.outputs) + len(supplies):
            supply = supplies[k - len(self.outputs)]
            kind, name, rated, usable = "supply", supply.name, supply.watts, supply.watts * supply.usable
        else:
            kind, name = "house", self.layout.title
        full, share, idle = (float(values[k]) for values in fixed)
        pixels = sum(len(circuit.pixels) for circuit in mine)
        one = volts.pop() if len(volts) == 1 else None
        if meter is None:
            return Load(kind, name, pixels, one, full, share, idle, rated, usable)
        frame, peak = int(meter.totals.frame[k]), float(meter.totals.most[k])
        mean = float(meter.totals.sum[k]) / meter.at
        lit = np.zeros(len(self.rig.curves), bool)
        lit[np.concatenate([circuit.pixels for circuit in mine])] = True
        worst = song.moment(start + frame / rate, None, lit) if song is not None else None
        curve = tuple(round(float(value), 2) for value in meter.curve[:, k])
        return Load(kind, name, pixels, one, full, share, idle, rated, usable, peak, mean, worst, curve)

    def _pixel(self, meter: Ammeter | None) -> PixelLoad:
        full = float(self.rig.full.max())
        if meter is None:
            return PixelLoad(full, None, None)
        return PixelLoad(full, float(meter.pixel_peaks.max()), float(meter.pixel_sums.max()) / meter.at)

    def _energy(self, meter: Ammeter | None, frame_rate: float) -> Energy:
        """From the mains: each circuit's share divided by its supply's efficiency."""
        full, idle = self.rig.full, self.rig.idle.astype(np.float64)
        if meter is None:
            pixels = idle + (full - idle) * self.assumed.share
            amperes = np.array([pixels[circuit.pixels].sum() for circuit in self.circuits])
        else:
            amperes = meter.amperes.sum / meter.at
        supplies = self.layout.power.supplies
        efficiency = np.array([
            PLAIN_EFFICIENCY if circuit.supply is None else supplies[circuit.supply].efficiency
            for circuit in self.circuits
        ])  # fmt: skip
        watts = float((amperes * self.sums[:, -1] / efficiency).sum())
        seconds = None if meter is None else meter.at / frame_rate
        hours = self.assumed.hours * self.assumed.nights
        kwh = watts * hours / 1000
        song = None if seconds is None else watts * seconds / 3600
        return Energy(watts, seconds, song, hours, kwh, self.assumed.tariff, kwh * self.assumed.tariff)
