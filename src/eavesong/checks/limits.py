"""Everything put together: can this house carry this show, and what is there to buy.

layout → circuits → (frames → meter) → power, voltage, data, flashes, parts → findings
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.checks.assumptions import CAUTIONS, Assumptions
from eavesong.checks.circuits import Circuit, circuits_of
from eavesong.checks.data import Data, data_of
from eavesong.checks.flashes import LONG, Flashes, FlashFinder
from eavesong.checks.meter import Ammeter, Watch, measure
from eavesong.checks.moments import Song
from eavesong.checks.parts import Part, parts_of
from eavesong.checks.power import Books, Load, Power
from eavesong.checks.voltage import Voltage, voltage_of
from eavesong.errors import FramesError, Problem
from eavesong.kernels.flash import LIMIT
from eavesong.layout.view import DISTANCE
from eavesong.render.eyes import eyes_of
from eavesong.render.rig import Rig, rig_of

if TYPE_CHECKING:
    from eavesong.frames import FramesFile
    from eavesong.layout import Layout

BLOCK = 32
"""Frames that are measured together, at least."""


@dataclass(frozen=True)
class Finding:
    """Something to look at."""

    about: str
    """``supply``, ``voltage``, ``data``, ``flashes`` or ``frames``."""
    found: str
    instead: str = ""
    warning: bool = False
    """A warning does not fail the check."""

    def __str__(self) -> str:
        return f"{self.found}. {self.instead}".strip()


@dataclass(frozen=True)
class Limits:
    """The whole report."""

    layout: str
    frames: str
    """The frames file's title; empty without one."""
    cautions: tuple[str, ...]
    assumed: Assumptions
    pixels: int
    frame_count: int
    frame_rate: float
    power: Power
    voltages: tuple[Voltage, ...]
    data: Data
    flashes: Flashes | None
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...]

    @property
    def passes(self) -> bool:
        """Whether there is nothing but warnings."""
        return all(finding.warning for finding in self.findings)

    def as_dict(self) -> dict[str, Any]:
        """The report as plain lists and dictionaries that JSON can hold; amperes, volts, watts, metres, seconds."""
        return asdict(self) | {"passes": self.passes}


@dataclass(frozen=True, eq=False)
class _Measured:
    """What a pass over the frames leaves."""

    ammeter: Ammeter
    song: Song
    flashes: Flashes


def limits(layout: Layout, frames: FramesFile | None = None, assumed: Assumptions | None = None) -> Limits:
    """The report on ``layout`` and, where given, on frames that were rendered for it.

    Frames are read a block at a time; memory does not grow with the song. Raises FramesError where the frames do not
    fit the layout or are damaged.
    """
    assumed = assumed or Assumptions()
    rig, circuits = rig_of(layout), circuits_of(layout, assumed)
    books = Books(layout, circuits, rig, assumed)
    rate = frames.frame_rate if frames is not None else assumed.frame_rate
    measured = None if frames is None else _measure(layout, rig, books, frames, assumed)
    start = frames.start if frames is not None else 0.0
    ammeter, song = (measured.ammeter, measured.song) if measured else (None, None)
    power = books.power(ammeter, song, rate, start)
    voltages = tuple(_voltages(layout, rig, circuits, measured, frames))
    data = data_of(layout, rate)
    flashes = measured.flashes if measured else None
    findings = (*_of_frames(layout, frames), *_of_supplies(power), *_of_voltages(voltages), *_of_data(data),
                *_of_flashes(flashes, assumed))  # fmt: skip
    return Limits(
        layout=layout.title, frames=frames.title or Path(frames.path).name if frames is not None else "",
        cautions=CAUTIONS, assumed=assumed, pixels=layout.pixel_count,
        frame_count=frames.frame_count if frames is not None else 0, frame_rate=rate, power=power, voltages=voltages,
        data=data, flashes=flashes, parts=parts_of(layout, circuits, power, voltages, data, assumed),
        findings=findings,
    )  # fmt: skip


def blocks_of(frames: FramesFile) -> Iterator[NDArray[np.uint8]]:
    """All frames in blocks of whole chunks, so that each chunk is read once."""
    size = frames.chunk_frames * max(1, BLOCK // frames.chunk_frames)
    for first in range(0, frames.frame_count, size):
        yield frames.frames[first : first + size]


def _measure(layout: Layout, rig: Rig, books: Books, frames: FramesFile, assumed: Assumptions) -> _Measured:
    from eavesong.show.model import flashes_allowed

    if frames.channel_count != rig.channel_count or len(frames.places) != layout.pixel_count:
        found = f"its frames have {frames.channel_count:,} channels, and the layout has {rig.channel_count:,}"
        raise FramesError(Problem(str(frames.path), "", found, "Render them on this layout, or name the other one."))
    song = Song(frames.texts, layout, frames.song_seconds)
    ammeter = Ammeter(rig, books.wiring(), frames.frame_count)
    watch = Watch(eyes_of(layout, rig, frames.frame_rate, assumed.distance))
    finder = FlashFinder(layout, assumed, frames.frame_rate, song, frames.start)
    measure(blocks_of(frames), (ammeter, watch), finder)
    allowed = flashes_allowed(frames.texts.get("show", ""))
    return _Measured(ammeter, song, finder.result(watch, allowed))


def _voltages(
    layout: Layout, rig: Rig, circuits: tuple[Circuit, ...], measured: _Measured | None, frames: FramesFile | None
) -> Iterator[Voltage]:
    for c, circuit in enumerate(circuits):
        if measured is None or frames is None:
            yield voltage_of(layout, circuit, rig.full)
            continue
        frame = int(measured.ammeter.drops.frame[c])
        lit = np.zeros(layout.pixel_count, bool)
        lit[circuit.pixels] = True
        moment = measured.song.moment(frames.seconds(frame), None, lit)
        yield voltage_of(layout, circuit, rig.full, amperes_of(rig, frames.frames[frame]), moment)


def amperes_of(rig: Rig, frame: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Amperes (n,) of every pixel in one frame (channels,)."""
    drive = np.where(rig.places >= 0, frame[rig.places], 0).astype(np.float64)
    return np.asarray((rig.amperes * drive).sum(axis=1) + rig.idle)


def _of_frames(layout: Layout, frames: FramesFile | None) -> Iterator[Finding]:
    made_for = None if frames is None else frames.hashes.get("layout files")
    if made_for and layout.content_hash and made_for != layout.content_hash:
        found = "the frames were rendered on another version of this layout"
        yield Finding("frames", found, "Render them again to be sure of the figures.", warning=True)


def _of_supplies(power: Power) -> Iterator[Finding]:
    for load in power.supplies:
        asked, when = (load.full, "at full white") if load.peak is None else (load.peak, f"at {load.worst}")
        assert load.usable is not None
        assert load.rated is not None
        if asked > load.usable:
            planned = f"{load.usable:.0f} W of its {load.rated:.0f} W are planned with"
            found = f"supply '{load.name}' is asked for {asked:.0f} W {when}; {planned}"
            yield Finding("supply", found, "Share its feeds out, take a larger one, or render with --limit supply.")
        elif load.full > load.rated:
            found = f"supply '{load.name}' is rated for {load.rated:.0f} W, and full white asks {load.full:.0f} W"
            yield Finding(
                "supply", found, "Render with --limit supply, so that nothing can ask for more.", warning=True
            )


def _of_voltages(voltages: tuple[Voltage, ...]) -> Iterator[Finding]:
    for voltage in voltages:
        lowest = voltage.worst or voltage.full
        when = f"at {voltage.moment}" if voltage.worst else "at full white"
        where = f"'{lowest.prop}' pixel {lowest.pixel} of {voltage.circuit}"
        advice = "; or ".join(voltage.suggestions)
        advice = f"{advice[:1].upper()}{advice[1:]}." if advice else ""
        if not lowest.holds:
            yield Finding("voltage", f"{where} gets {_volts(lowest.volts)} of {lowest.needed:.1f} V {when}", advice)
        elif not voltage.full.holds:
            found = f"{voltage.circuit} would fall to {_volts(voltage.full.volts)} at full white"
            yield Finding("voltage", found, advice, warning=True)


def _volts(volts: float) -> str:
    return f"{volts:.1f} V" if volts > 0 else "nothing"


def _of_data(data: Data) -> Iterator[Finding]:
    for output in data.outputs:
        if not output.passes:
            found = (
                f"output {output.output} of '{output.controller}' takes {output.milliseconds:.1f} ms for its "
                f"{output.pixels:,} pixels, {output.most_frames:.1f} frames a second at most"
            )
            yield Finding("data", found, f"Keep to {output.most_pixels:,} pixels at {data.frame_rate:g} a second.")
    for box in data.controllers:
        if box.frame_rate_limit and data.frame_rate > box.frame_rate_limit:
            found = f"'{box.name}' takes {box.frame_rate_limit:g} frames a second, and {data.frame_rate:g} are sent"
            yield Finding("data", found, "Render with a lower --fps.")
    if data.above_e111:
        found = f"{data.frame_rate:g} frames a second are more than the 44 that ANSI E1.11 allows a full universe"
        yield Finding("data", found, "Make sure that every controller is set to take them.", warning=True)


def _of_flashes(flashes: Flashes | None, assumed: Assumptions) -> Iterator[Finding]:
    if flashes is None:
        return
    count = len(flashes.episodes) + flashes.more_episodes
    if count:
        times = "once" if count == 1 else f"{count} times"
        found = f"more than three flashes in a second, {times}, up to {flashes.most_transitions / 2:g}"
        if flashes.allowed:
            advice = "The show allows it: warn everyone who may come by, at the entrance and in writing."
            yield Finding("flashes", found, advice, warning=True)
        else:
            from_there = "" if assumed.distance == DISTANCE else f" (for eyes {DISTANCE:g} m away)"
            advice = (
                f"Render with --soften{from_there}, or say 'allow_flashes = true' in the show and warn everyone who "
                "may come by."
            )
            yield Finding("flashes", found, advice)
    elif flashes.most_transitions >= LIMIT - 1:
        found = f"up to {flashes.most_transitions / 2:g} flashes in a second, just within the limit of three"
        yield Finding("flashes", found, warning=True)
    if assumed.area and not flashes.broadcast_passes:
        found = f"{flashes.broadcast_share:.0%} of the display flashes more than three times in a second"
        yield Finding("flashes", found, "ITU-R BT.1702 lets no more than a quarter of it pass.", warning=True)
    if flashes.longest > LONG:
        found = f"flashing near the limit goes on for {flashes.longest:.1f} s"
        yield Finding("flashes", found, "More than 5 s may be a risk even within the limit.", warning=True)


def worst_loads(power: Power) -> tuple[Load, ...]:
    """The house, then supplies and outputs, those that draw most first."""
    ordered = sorted((*power.supplies, *power.outputs), key=lambda load: -(load.peak or load.full))
    return (power.house, *ordered)
