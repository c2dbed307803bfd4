"""Power: what circuits, outputs, supplies and the house draw at full white, at a stated share, and in every frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.circuits import Circuit
from eavesong.limits.mains import PLAIN_EFFICIENCY, PLAIN_POWER_FACTOR, Mains, MainsLoad
from eavesong.limits.meter import Ammeter, WireOrder
from eavesong.limits.moments import Moment, Moments
from eavesong.within.rig import Rig

Floats = NDArray[np.float64]


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
    mains: Mains


class Books:
    """Keeps the totals of circuits: a column for each output, each supply, the house, and volt-amperes from the
    mains, in that order."""

    def __init__(self, layout: Layout, circuits: Sequence[Circuit], rig: Rig, assumed: Assumptions) -> None:
        self.layout, self.circuits, self.rig, self.assumed = layout, circuits, rig, assumed
        self.outputs = tuple(dict.fromkeys(circuit.string for circuit in circuits))
        supplies = layout.power.supplies
        self.house = len(self.outputs) + len(supplies)
        self.sums = np.zeros((len(circuits), self.house + 2))
        for c, circuit in enumerate(circuits):
            self.sums[c, [self.outputs.index(circuit.string), self.house]] = circuit.volts
            self.sums[c, self.house + 1] = circuit.volts / self._losses(circuit)
            if circuit.supply is not None:
                self.sums[c, len(self.outputs) + circuit.supply] = circuit.volts

    def _losses(self, circuit: Circuit) -> float:
        """Watts at the lights over volt-amperes from the mains."""
        if circuit.supply is None:
            return PLAIN_EFFICIENCY * PLAIN_POWER_FACTOR
        supply = self.layout.power.supplies[circuit.supply]
        return supply.efficiency * supply.power_factor

    def wiring(self) -> WireOrder:
        """Circuits as the meter takes them."""
        order = np.concatenate([circuit.pixels for circuit in self.circuits]).astype(np.int64)
        starts = np.cumsum([0, *(len(circuit.pixels) for circuit in self.circuits)]).astype(np.int64)
        factors = np.concatenate([circuit.ladder.factors() for circuit in self.circuits], axis=1)
        spare = np.concatenate([circuit.volts - circuit.lowest_volts for circuit in self.circuits])
        return WireOrder(order, starts, np.ascontiguousarray(factors), spare, self.sums)

    def watts(self, amperes: Floats) -> Floats:
        """Watts of each total when the pixels draw ``amperes`` (n,)."""
        return np.array([amperes[circuit.pixels].sum() for circuit in self.circuits]) @ self.sums

    def power(self, meter: Ammeter | None, song: Moments | None, frame_rate: float, start: float) -> Power:
        """Everything about power; without a meter, what is known without frames."""
        full, idle = self.rig.full, self.rig.idle.astype(np.float64)
        fixed = [self.watts(idle + (full - idle) * part) for part in (1.0, self.assumed.share, 0.0)]
        loads = [self._load(k, fixed, meter, song, frame_rate, start) for k in range(self.house + 1)]
        ends = len(self.outputs)
        unfed = sum(len(circuit.pixels) for circuit in self.circuits if circuit.supply is None)
        return Power(
            loads[-1], tuple(loads[ends:-1]), tuple(loads[:ends]), unfed, self._pixel(meter),
            self._energy(meter, frame_rate), self._mains(loads, fixed[0], meter),
        )  # fmt: skip

    def _load(
        self, k: int, fixed: Sequence[Floats], meter: Ammeter | None, song: Moments | None, rate: float, start: float
    ) -> Load:
        supplies = self.layout.power.supplies
        mine = [circuit for c, circuit in enumerate(self.circuits) if self.sums[c, k]]
        volts = {circuit.volts for circuit in mine}
        rated = usable = None
        if k < len(self.outputs):
            kind, name = "output", self.outputs[k]
        elif k < self.house:
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

    def _mains(self, loads: Sequence[Load], full: Floats, meter: Ammeter | None) -> Mains:
        def of(load: Load, losses: float) -> MainsLoad:
            """What the mains feed: the load with the supply's losses."""
            return MainsLoad(load.name, load.full / losses, None if load.peak is None else load.peak / losses)

        peak = None if meter is None else float(meter.totals.most[-1])
        each = zip(loads[len(self.outputs) : -1], self.layout.power.supplies, strict=True)
        supplies = tuple(of(load, supply.efficiency * supply.power_factor) for load, supply in each)
        return Mains(MainsLoad(self.layout.title, float(full[-1]), peak), supplies)

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
        watts = float((amperes * self.sums[:, self.house] / efficiency).sum())
        seconds = None if meter is None else meter.at / frame_rate
        hours = self.assumed.hours * self.assumed.nights
        kwh = watts * hours / 1000
        song = None if seconds is None else watts * seconds / 3600
        return Energy(watts, seconds, song, hours, kwh, self.assumed.tariff, kwh * self.assumed.tariff)
