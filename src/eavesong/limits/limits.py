"""Everything put together: can this house carry this show, and what is there to buy.

layout → circuits → (frames → meter) → power, voltage, data, flashes, proposal, parts → findings
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import FramesError, Problem
from eavesong.layout.size import units_in
from eavesong.layout.wiring import WiredProp, wiring_of
from eavesong.limits import findings
from eavesong.limits.assumptions import CAUTIONS, Assumptions
from eavesong.limits.circuits import Circuit, Cut, WireFinder, circuits_of, cuts_of
from eavesong.limits.data import Data, data_of
from eavesong.limits.findings import Finding
from eavesong.limits.flashes import Flashes, FlashFinder
from eavesong.limits.granted import instead, of_brightness, of_kinds, of_spacing, of_unlit
from eavesong.limits.meter import Ammeter, Watch, measure
from eavesong.limits.moments import Moments
from eavesong.limits.parts import Needs, Part, parts_of
from eavesong.limits.power import Books, Power
from eavesong.limits.propose import Proposal, propose
from eavesong.limits.voltage import Voltage, voltage_of
from eavesong.scene.order import Terms
from eavesong.scene.reopen import Reopened
from eavesong.within.eyes import eyes_of
from eavesong.within.limiter import Limit, groups_of
from eavesong.within.rig import Rig, rig_of
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.frames import FramesFile
    from eavesong.layout import Layout

GLANCES = 100
"""Frames at which supplies are looked at, where nothing else is asked about them."""
BLOCK = 128
"""Frames that are measured together, about: the second before them is looked at again with each block."""


USUAL = "the whole song on the whole house, no limit, not softened"
"""The terms of a render that asked for nothing else."""


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
    cuts: tuple[Cut, ...]
    """Where the positive of a string is cut, because what feeds it changes."""
    flashes: Flashes | None
    proposal: Proposal
    """Supplies for pixels that have none; ``written.with_supplies`` makes layout text of them."""
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...]
    asked: str = ""
    """On what terms the frames were rendered, in words: ``limit supply; softened``; empty without frames."""
    wiring: tuple[WiredProp, ...] = ()
    """Every output's props in order."""
    house: str = ""
    """The layout's file."""
    units: str = "m"
    """Those of the layout's file."""

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
    song: Moments
    flashes: Flashes


def limits(layout: Layout, frames: FramesFile | None = None, assumed: Assumptions | None = None) -> Limits:
    """The report on ``layout`` and, where given, on frames that were rendered for it.

    Frames are read a block at a time; memory does not grow with the song. Raises FramesError where the frames do not
    fit the layout or are damaged.
    """
    assumed = assumed or Assumptions()
    terms = Terms() if frames is None else Reopened(frames).terms
    rig, circuits = rig_of(layout), circuits_of(layout, assumed)
    books = Books(layout, circuits, rig, assumed)
    rate = frames.frame_rate if frames is not None else assumed.frame_rate
    measured = None if frames is None else _measure(layout, rig, books, frames, assumed)
    start = frames.start if frames is not None else 0.0
    ammeter, song = (measured.ammeter, measured.song) if measured else (None, None)
    power = books.power(ammeter, song, rate, start)
    voltages = tuple(_voltages(layout, rig, circuits, measured, frames, assumed))
    data = data_of(layout, circuits, rate, assumed)
    flashes = measured.flashes if measured else None
    fed, proposal = propose(layout, assumed, rig.full)
    cuts = cuts_of(layout, circuits)
    fed_circuits = circuits_of(fed, assumed) if proposal.supplies else circuits
    mains = power.mains
    if proposal.supplies:
        mains = Books(fed, fed_circuits, rig, assumed).power(None, None, rate, start).mains
    parts = parts_of(Needs(fed, fed_circuits, rig.full, data, mains, proposal.supplies, assumed))
    told = (
        *of_kinds(layout), *of_spacing(layout), *findings.of_frames(layout, frames, terms.limit),
        *of_unlit(layout, rig.full),
        *of_brightness(layout, rig.full, frames is not None),
        *findings.of_supplies(power, assumed, limited="supply" in terms.limit),
        *findings.of_unfed(power, proposal, voltages, not layout.power.strings, instead(layout, proposal, assumed)),
        *findings.of_voltages(voltages, layout.power.celsius),
        *findings.of_leads(layout), *findings.of_cuts(cuts), *findings.of_mains(power.mains),
        *findings.of_data(data, assumed, units_in(layout.text)),
        *findings.of_flashes(flashes, assumed, layout, terms.soften),
    )  # fmt: skip
    return Limits(
        layout=layout.title, frames=frames.title or Path(frames.path).name if frames is not None else "",
        cautions=CAUTIONS, assumed=assumed, pixels=layout.pixel_count,
        frame_count=frames.frame_count if frames is not None else 0, frame_rate=rate, power=power, voltages=voltages,
        data=data, cuts=cuts, flashes=flashes, proposal=proposal, parts=parts, findings=told,
        asked="" if frames is None else terms.in_words() or USUAL, wiring=wiring_of(layout),
        house=layout.path, units=units_in(layout.text),
    )  # fmt: skip


def flashes_of(layout: Layout, frames: FramesFile) -> Flashes:
    """The flashes alone in frames that were rendered for ``layout``, as ``limits`` finds them. Raises as it does."""
    return _flashes(layout, rig_of(layout), frames, Assumptions(), Moments(Reopened(frames), layout))


def flash_findings(layout: Layout, frames: FramesFile) -> tuple[Finding, ...]:
    """What is to be said of flashes alone in frames that were rendered for ``layout``: they are read up to the first
    second that holds more than three. Raises as ``limits``."""
    assumed, rig = Assumptions(), rig_of(layout)
    flashes = _flashes(layout, rig, frames, assumed, Moments(Reopened(frames), layout), until_any=True)
    found = tuple(findings.of_flashes(flashes, assumed, layout, Reopened(frames).terms.soften))
    if not flashes.episodes:
        return found
    begin = clock_text(flashes.episodes[0].start.seconds)
    return (replace(found[0], found=f"more than three flashes in a second, first in the one from {begin} on"),)


def supply_findings(layout: Layout, frames: FramesFile) -> tuple[Finding, ...]:
    """What is to be said of supplies alone in frames that were rendered for ``layout``, of which GLANCES are looked at:
    a supply that bears full white is not. Raises as ``limits``."""
    plan, rig = layout.power, rig_of(layout)
    if not plan.supplies:
        return ()
    groups = groups_of(layout, rig, Limit("supply"))
    usable, full = groups.watts[1:], np.bincount(groups.of, rig.full * rig.volts, len(groups.watts))[1:]
    if (full <= usable).all():
        return ()
    watts = rig.channel_amperes()
    each = np.bincount(groups.of, rig.idle * rig.volts, len(groups.watts))[1:]
    most, numbers = np.zeros(len(usable)), np.zeros(len(usable), int)
    for number in np.linspace(0, frames.frame_count - 1, min(GLANCES, frames.frame_count)).astype(int).tolist():
        drawn = frames.frames[number : number + 1][0] * watts
        amperes = np.where(rig.places >= 0, drawn[rig.places], 0.0).sum(axis=1)
        asked = each + np.bincount(groups.of, amperes * rig.volts, len(groups.watts))[1:]
        numbers[asked > most] = number
        most = np.maximum(most, asked)
    return tuple(
        findings.of_glance(supply, asked, clock_text(frames.seconds(number)))
        for supply, asked, number, planned in zip(plan.supplies, most.tolist(), numbers.tolist(), usable, strict=True)
        if asked > planned * (1 + 1e-6)
    )


def blocks_of(frames: FramesFile) -> Iterator[NDArray[np.uint8]]:
    """All frames in blocks of whole chunks, so that each chunk is read once."""
    size = frames.chunk_frames * max(1, BLOCK // frames.chunk_frames)
    for first in range(0, frames.frame_count, size):
        yield frames.frames[first : first + size]


def _measure(layout: Layout, rig: Rig, books: Books, frames: FramesFile, assumed: Assumptions) -> _Measured:
    song = Moments(Reopened(frames), layout)
    ammeter = Ammeter(rig, books.wiring(), frames.frame_count)
    return _Measured(ammeter, song, _flashes(layout, rig, frames, assumed, song, ammeter))


def _flashes(
    layout: Layout, rig: Rig, frames: FramesFile, assumed: Assumptions, song: Moments, *others: Ammeter,
    until_any: bool = False,
) -> Flashes:  # fmt: skip
    """The flashes of all frames, which the ``others`` follow too; or of those up to the first that are too many."""
    if frames.channel_count != rig.channel_count or len(frames.places) != layout.pixel_count:
        found = f"its frames have {frames.channel_count:,} channels, and the layout has {rig.channel_count:,}"
        raise FramesError(Problem(str(frames.path), "", found, "Render them on this layout, or name the other one."))
    watch = Watch(eyes_of(layout, rig, frames.frame_rate, assumed.distance))
    finder = FlashFinder(layout, assumed, frames.frame_rate, song, frames.start)
    blocks = blocks_of(frames)
    measure(takewhile(lambda _: not (until_any and finder.any), blocks), (*others, watch), finder)
    return finder.result(watch, Reopened(frames).allows_flashes)


def _voltages(
    layout: Layout, rig: Rig, circuits: tuple[Circuit, ...], measured: _Measured | None, frames: FramesFile | None,
    assumed: Assumptions,
) -> Iterator[Voltage]:  # fmt: skip
    wiring, full = WireFinder(layout, assumed), rig.full
    for c, circuit in enumerate(circuits):
        if measured is None or frames is None:
            yield voltage_of(wiring, circuit, full)
            continue
        frame = int(measured.ammeter.short.frame[c])
        lit = np.zeros(layout.pixel_count, bool)
        lit[circuit.pixels] = True
        moment = measured.song.moment(frames.seconds(frame), None, lit)
        yield voltage_of(wiring, circuit, full, amperes_of(rig, frames.frames[frame]), moment)


def amperes_of(rig: Rig, frame: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Amperes (n,) of every pixel in one frame (channels,)."""
    drive = np.where(rig.places >= 0, frame[rig.places], 0).astype(np.float64)
    return np.asarray((rig.amperes * drive).sum(axis=1) + rig.idle)
