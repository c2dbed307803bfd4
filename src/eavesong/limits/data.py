"""Data: whether every output, universe and cable can carry the frame rate.

Sources: datasheets of pixel chips (bit time, reset), ANSI E1.11 (slots, timing), ANSI E1.31 (packet sizes).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from eavesong.layout import Layout
from eavesong.layout.feeds import String
from eavesong.layout.fields import SLOTS
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.circuits import Circuit, WireFinder, gaps_of, pixel_name, way_text

E111_REFRESH = 1e6 / (92 + 12 + (SLOTS + 1) * 44)
"""Frames a second of a full universe on a DMX512-A line: break 92 us, mark 12 us, 513 slots of 44 us; 44.1."""

PACKET = 126
"""Octets of an E1.31 data packet before its slots (ANSI E1.31, table 4-1)."""

AROUND = 8 + 14 + 20 + 8 + 4 + 12
"""Octets an Ethernet frame and UDP/IPv4 put around a packet: preamble, header, IP, UDP, checksum, gap."""

ETHERNET = 100e6
"""Bits a second of the slowest network in use (100BASE-TX)."""


@dataclass(frozen=True)
class OutputData:
    """One output's data line."""

    controller: str
    output: int
    pixels: int
    null_pixels: int
    milliseconds: float
    """One frame and its reset take."""
    most_frames: float
    """A second."""
    most_pixels: int
    """Of its slowest kind at the asked frame rate."""
    passes: bool


@dataclass(frozen=True)
class ControllerData:
    """One controller's share of the network."""

    name: str
    universes: int
    slots_used: int
    """Those of dark pixels counted."""
    slots_free: int
    """In the universes that are in use."""
    frame_rate_limit: float | None
    megabits: float
    """A second, with full packets."""
    outputs_used: int
    outputs_free: int | None
    """None: the layout does not say how many it has."""
    last_output: int
    """The highest number of one in use, 0 where none is: the box has at least so many."""


@dataclass(frozen=True)
class Hop:
    """Cable that data goes along without a pixel that freshens it up."""

    string: str
    before: str
    """The prop it comes from, or the controller."""
    after: str
    metres: float
    """With slack and spare, from pixel to pixel, dark ones counted."""
    pieces: int
    """Such stretches one after the other."""
    cable: str
    """What it is: ``data`` from the controller, else the extension's wire."""
    last: int = 0
    """The number of the pixel it comes from, in its prop from 1; 0: it comes from the controller."""
    first: int = 1
    """Of the pixel it goes to."""

    @property
    def way(self) -> str:
        """``'eaves' to 'ridge'``, ``'net' pixel 20 to pixel 21``."""
        return way_text(self.before, self.last, self.after, self.first)


@dataclass(frozen=True)
class Data:
    """The whole network."""

    frame_rate: float
    outputs: tuple[OutputData, ...]
    controllers: tuple[ControllerData, ...]
    packets: int
    """A second."""
    megabits: float
    ethernet_share: float
    above_e111: bool
    """Whether the frame rate is above what E1.11 allows a full universe: E1.31 asks for it to be set on purpose."""
    hops: tuple[Hop, ...]
    """From controllers that say where they hang, and along cables between pixels; the longest first."""


def frame_microseconds(bits: float, bit_time: float, reset: float) -> float:
    """Microseconds of a frame of so many bits, and the silence after it."""
    return bits * bit_time + reset


def most_pixels(frame_rate: float, bit_time: float = 1.25, reset: float = 280.0, bits: int = 24) -> int:
    """Pixels that one output can refresh so many times a second."""
    return max(0, int((1e6 / frame_rate - reset) / (bits * bit_time) + 1e-9))


def packet_bits(slots: int = SLOTS) -> int:
    """Bits on an Ethernet wire of one E1.31 packet with so many slots."""
    return 8 * (PACKET + slots + AROUND)


def data_of(layout: Layout, circuits: Sequence[Circuit], frame_rate: float, assumed: Assumptions) -> Data:
    """What the layout's outputs, universes and network have to carry at ``frame_rate``, and over what lengths."""
    outputs = tuple(_output(layout, string, frame_rate) for string in layout.power.strings)
    controllers = tuple(_controllers(layout, frame_rate))
    universes = len(layout.patch.universes())
    bits = universes * packet_bits() * frame_rate
    return Data(
        frame_rate, outputs, controllers, round(universes * frame_rate), bits / 1e6, bits / ETHERNET,
        frame_rate > E111_REFRESH and universes > 0,
        tuple(sorted(hops_of(layout, circuits, assumed), key=lambda hop: -hop.metres)),
    )  # fmt: skip


def hops_of(layout: Layout, circuits: Sequence[Circuit], assumed: Assumptions) -> Iterator[Hop]:
    """Every stretch of data cable, string by string."""
    wiring = WireFinder(layout, assumed)
    for string in layout.power.strings:
        place = layout.power.places.get(string.controller)
        if place is not None:
            first, nulls = int(string.pixels[0]), dict(string.nulls).get(0, 0)
            metres = wiring.reach(np.asarray(place) - layout.frame.origin, first)
            after, number = pixel_name(layout, first)
            yield Hop(string.name, string.controller, after, metres / (nulls + 1), nulls + 1, "data", 0, number)
    for gap in gaps_of(layout, circuits, assumed):
        yield Hop(
            gap.string, gap.before, gap.after, gap.metres / (gap.nulls + 1), gap.nulls + 1, str(gap.wire), gap.last,
            gap.first,
        )  # fmt: skip


def _output(layout: Layout, string: String, frame_rate: float) -> OutputData:
    power, widths = layout.power, layout.patch.channel_width
    kinds = power.type[string.pixels]
    bit_times = np.array([kind.bit_time for kind in power.types])[kinds]
    bits = 8 * widths[string.pixels].astype(np.float64)
    reset = max(power.types[kind].reset for kind in set(kinds.tolist()))
    slowest = int((bits * bit_times).argmax())
    null_time = string.null_pixels * float(bits[0] * bit_times[0])
    time = frame_microseconds(float(bits @ bit_times) + null_time, 1.0, reset)
    return OutputData(
        string.controller, string.output, len(string.pixels), string.null_pixels, time / 1000, 1e6 / time,
        most_pixels(frame_rate, float(bit_times[slowest]), reset, int(bits[slowest])), time * frame_rate <= 1e6,
    )  # fmt: skip


def _controllers(layout: Layout, frame_rate: float) -> list[ControllerData]:
    free = layout.power.free_outputs or {}
    rows = []
    for box in layout.patch.controllers:
        runs = [run for run in layout.patch.runs if run.controller == box.name]
        strings = (string for string in layout.power.strings if string.controller == box.name)
        dark = sum(string.null_slots(layout.patch.channel_width) for string in strings)
        used = sum(run.channel_count for run in runs) + dark
        universes = len(box.universes)
        rows.append(
            ControllerData(
                box.name,
                universes,
                used,
                universes * SLOTS - used,
                box.frame_rate_limit,
                universes * packet_bits() * frame_rate / 1e6,
                len({run.output for run in runs}),
                free.get(box.name),
                max((run.output for run in runs), default=0),
            )
        )
    return rows
