"""The patch: which channel of a frame goes to which slot of which universe.

A frame holds the channels of all pixels in pixel order, each pixel its 3 or 4 in the order of its wire. Outputs
fill universes from slot 1 on; without ``spanning`` a pixel never crosses from one universe to the next, so that
170 RGB or 128 RGBW pixels fill one (510 or 512 of the 512 slots of ANSI E1.11).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import advise
from eavesong.layout import model
from eavesong.layout.faults import Faults
from eavesong.layout.model import LAST_UNIVERSE, SLOTS


@dataclass(frozen=True)
class PatchRun:
    """Channels that stand in a row in a frame and in a universe."""

    prop: str
    controller: str
    output: int
    first_pixel: int
    """The pixel the first channel belongs to."""
    pixel_count: int
    """Whole pixels in the run; 1 where ``channel_count`` is less than a pixel: a part of one, split between two
    universes of a spanning controller."""
    first_channel: int
    """In the frame."""
    channel_count: int
    universe: int
    """1..63999."""
    slot: int
    """1..512, of the first channel."""
    order: str
    brightness: float


@dataclass(frozen=True)
class Controller:
    """A controller as playback needs it."""

    name: str
    address: str
    """IP address, host name, or ``multicast``."""
    protocol: str
    frame_rate_limit: float | None
    """Frames per second it takes at most, where it is known."""
    spanning: bool
    universes: tuple[int, ...]
    """In use, ascending."""


@dataclass(frozen=True, eq=False)
class Patch:
    """Channels of all pixels, and the slots they go to; arrays of shape (n,) in pixel order, read-only."""

    channel_count: int
    """Channels of a frame."""
    channel_start: NDArray[np.int64]
    """First channel of each pixel."""
    channel_width: NDArray[np.int8]
    """3 or 4."""
    orders: tuple[str, ...]
    """Colour orders in use."""
    order: NDArray[np.int16]
    """Index into ``orders``."""
    brightness: NDArray[np.float32]
    """0..1."""
    gamma: NDArray[np.float32]
    """The exponent a driven value is raised to; 1: the drive is proportional to the light."""
    runs: tuple[PatchRun, ...]
    """In the order of the file; empty for a draft without controllers."""
    controllers: tuple[Controller, ...] = ()

    def __post_init__(self) -> None:
        for array in (self.channel_start, self.channel_width, self.order, self.brightness, self.gamma):
            array.setflags(write=False)

    def universes(self) -> dict[int, NDArray[np.int64]]:
        """For each universe in use, ascending, the channel of a frame that goes to each slot from 1 on.

        The arrays end with the last slot used; -1 stands where nothing is patched (null pixels, gaps).
        """
        ends: dict[int, int] = {}
        for run in self.runs:
            ends[run.universe] = max(ends.get(run.universe, 0), run.slot - 1 + run.channel_count)
        slots = {universe: np.full(ends[universe], -1, dtype=np.int64) for universe in sorted(ends)}
        for run in self.runs:
            channels = np.arange(run.first_channel, run.first_channel + run.channel_count)
            slots[run.universe][run.slot - 1 : run.slot - 1 + run.channel_count] = channels
        return slots


@dataclass(frozen=True)
class Member:
    """A prop as the patch sees it: its names and its pixel range."""

    name: str
    member_of: str
    start: int
    stop: int


@dataclass(frozen=True)
class _Wired:
    """A prop in its place in a chain."""

    member: Member
    output: model.Output
    link: model.Link
    controller: str
    first_of_link: bool

    @property
    def order(self) -> str:
        return self.link.order or self.output.order


@dataclass
class _Cursor:
    """The next free slot while an output is filled."""

    universe: int
    slot: int
    spanning: bool
    used: set[int] = field(default_factory=set)

    def take(self, pixels: int, width: int) -> Iterator[tuple[int, int, int]]:
        """(channels, universe, slot) of every row in a universe that ``pixels`` of ``width`` channels make."""
        left = pixels * width
        while left:
            free = SLOTS + 1 - self.slot
            fits = min(left, free if self.spanning else free // width * width)
            if fits:
                self.used.add(self.universe)
                yield fits, self.universe, self.slot
            left -= fits
            self.slot += fits
            if left:
                self.universe, self.slot = self.universe + 1, 1


def build_patch(house: model.House, members: Sequence[Member], faults: Faults) -> Patch:
    """The patch of ``house`` for its ``members`` in pixel order; what is wrong goes into ``faults``."""
    wired = _wire_up(house, members, faults)
    count = members[-1].stop
    order, width = np.zeros(count, dtype=np.int16), np.full(count, 3, dtype=np.int8)
    brightness, gamma = np.ones(count, dtype=np.float32), np.ones(count, dtype=np.float32)
    orders: dict[str, int] = {}
    for link in wired.values():
        pixels = slice(link.member.start, link.member.stop)
        order[pixels] = orders.setdefault(link.order, len(orders))
        width[pixels] = len(link.order)
        brightness[pixels] = _first(link.link.brightness, link.output.brightness)
        gamma[pixels] = _first(link.link.gamma, link.output.gamma)
    ends = np.cumsum(width, dtype=np.int64)
    starts = ends - width
    runs, controllers = _fill(house, wired, starts, faults)
    _check_overlaps(runs, house, faults)
    return Patch(
        int(ends[-1]), starts, width, tuple(orders) or ("RGB",), order, brightness, gamma, tuple(runs), controllers
    )


def _first(chosen: float | None, otherwise: float) -> float:
    return otherwise if chosen is None else chosen


def _wire_up(house: model.House, members: Sequence[Member], faults: Faults) -> dict[tuple[int, int, str], _Wired]:
    """Each prop in its place in a chain, keyed by controller and output positions and its name, in file order."""
    called: dict[str, list[Member]] = {}
    for member in members:
        for name in dict.fromkeys((member.member_of, member.name)):
            called.setdefault(name, []).append(member)
    wired: dict[tuple[int, int, str], _Wired] = {}
    homes: dict[str, str] = {}
    for c, controller in enumerate(house.controller):
        for o, output in enumerate(controller.output):
            for k, link in enumerate(output.chain):
                path = ("controller", c, "output", o, "chain", k)
                if link.prop not in called:
                    faults.add(path, f"no prop is called '{link.prop}'", advise(link.prop, called, "prop"))
                row = called.get(link.prop, [])
                for member in row[::-1] if link.reversed else row:
                    here = f"output {output.number} of '{controller.name}'"
                    if home := homes.get(member.name):
                        faults.add(path, f"'{member.name}' is wired twice: to {home} and to {here}", "Keep one.")
                        continue
                    homes[member.name] = here
                    first = member is (row[-1] if link.reversed else row[0])
                    wired[c, o, member.name] = _Wired(member, output, link, controller.name, first)
    if house.controller:
        _check_all_wired(members, homes, faults)
    return wired


def _check_all_wired(members: Sequence[Member], homes: dict[str, str], faults: Faults) -> None:
    missing = [member.name for member in members if member.name not in homes]
    if missing:
        listed = ", ".join(f"'{name}'" for name in missing[:6]) + (", …" if len(missing) > 6 else "")
        faults.add(
            (), f"{len(missing)} of {len(members)} props are in no output: {listed}",
            "Add them to the chain of an output, or take out all controllers to keep a draft.",
        )  # fmt: skip


def _fill(
    house: model.House, wired: dict[tuple[int, int, str], _Wired], starts: NDArray[np.int64], faults: Faults
) -> tuple[list[PatchRun], tuple[Controller, ...]]:
    """All runs, universe after universe, and the controllers with the universes they use."""
    chains: dict[tuple[int, int], list[_Wired]] = {}
    for (c, o, _), link in wired.items():
        chains.setdefault((c, o), []).append(link)
    runs: list[PatchRun] = []
    controllers: list[Controller] = []
    following = 1
    for c, box in enumerate(house.controller):
        used: set[int] = set()
        following = box.universe or following
        for o, output in enumerate(box.output):
            cursor = _Cursor(output.universe or following, output.slot, box.spanning)
            runs += _fill_output(cursor, output, chains.get((c, o), []), starts)
            used |= cursor.used
            following = max(cursor.used, default=following - 1) + 1
            if following - 1 > LAST_UNIVERSE:
                faults.add(
                    ("controller", c, "output", o),
                    f"this output reaches universe {following - 1:,}, beyond the last one, {LAST_UNIVERSE:,}",
                    "Begin at a lower universe.",
                )
        controllers.append(
            Controller(
                box.name, box.address, box.protocol, box.frame_rate_limit, box.spanning, tuple(sorted(used))
            )
        )
    return runs, tuple(controllers)


def _fill_output(
    cursor: _Cursor, output: model.Output, chain: Sequence[_Wired], starts: NDArray[np.int64]
) -> Iterator[PatchRun]:
    for _ in cursor.take(output.null_pixels, len(output.order)):
        pass
    for wired in chain:
        nulls = wired.link.null_pixels if wired.first_of_link else 0
        for _ in cursor.take(nulls, len(wired.order)):
            pass
        yield from _runs(cursor, wired, starts)


def _runs(cursor: _Cursor, wired: _Wired, starts: NDArray[np.int64]) -> Iterator[PatchRun]:
    """The runs of one prop; one pixel a run where its last pixel comes first on the wire."""
    start, stop = wired.member.start, wired.member.stop
    stretches = [(start, stop - start)]
    if wired.link.reversed:
        stretches = [(pixel, 1) for pixel in range(stop - 1, start - 1, -1)]
    width = len(wired.order)
    for first, pixels in stretches:
        done = 0
        for channels, universe, slot in cursor.take(pixels, width):
            for offset, length in _split(done, channels, width):
                pixel = first + (done + offset) // width
                yield PatchRun(
                    prop=wired.member.name, controller=wired.controller, output=wired.output.number,
                    first_pixel=pixel, pixel_count=max(1, length // width),
                    first_channel=int(starts[first]) + done + offset, channel_count=length,
                    universe=universe, slot=slot + offset, order=wired.order,
                    brightness=_first(wired.link.brightness, wired.output.brightness),
                )  # fmt: skip
            done += channels


def _split(done: int, channels: int, width: int) -> Iterator[tuple[int, int]]:
    """Cut ``channels`` after ``done`` ones into the rest of a pixel, whole pixels, and the beginning of one."""
    rest = min(channels, -done % width)
    whole = (channels - rest) // width * width
    for offset, length in ((0, rest), (rest, whole), (rest + whole, channels - rest - whole)):
        if length:
            yield offset, length


def _check_overlaps(runs: Sequence[PatchRun], house: model.House, faults: Faults) -> None:
    """No slot may be driven by two outputs."""
    places = {
        (controller.name, output.number): ("controller", c, "output", o)
        for c, controller in enumerate(house.controller)
        for o, output in enumerate(controller.output)
    }
    told: set[tuple[str, int, str, int]] = set()
    last: PatchRun | None = None
    for run in sorted(runs, key=lambda run: (run.universe, run.slot)):
        if last and run.universe == last.universe and run.slot < last.slot + last.channel_count:
            pair = (last.controller, last.output, run.controller, run.output)
            if pair not in told:
                told.add(pair)
                faults.add(
                    places[run.controller, run.output],
                    f"slot {run.slot} of universe {run.universe} is taken by output {last.output} of "
                    f"'{last.controller}' and by output {run.output} of '{run.controller}'",
                    "Give one of them another 'universe' or 'slot'.",
                )
        if not last or (run.universe, run.slot + run.channel_count) > (
            last.universe, last.slot + last.channel_count
        ):  # fmt: skip
            last = run
    _check_numbers(house, faults)


def _check_numbers(house: model.House, faults: Faults) -> None:
    """Controllers are told apart by name, outputs by number."""
    names: set[str] = set()
    for c, controller in enumerate(house.controller):
        if controller.name in names:
            faults.add(("controller", c, "name"), f"two controllers are called '{controller.name}'", "Rename one.")
        names.add(controller.name)
        numbers: set[int] = set()
        for o, output in enumerate(controller.output):
            if output.number in numbers:
                faults.add(
                    ("controller", c, "output", o, "number"),
                    f"two outputs of '{controller.name}' have the number {output.number}", "Renumber one.",
                )  # fmt: skip
            numbers.add(output.number)
